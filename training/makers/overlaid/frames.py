"""Rotated frames and smooth noise: everything long and straight is drawn along the rows of a turned canvas.

A hone groove is straight over a field and so is the ring's path; in a canvas turned to their direction both are plain
bands of rows, which one affine turn lays back onto the micrograph. Angles: from the picture's x axis towards its y axis.
"""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Frame:
    """A square canvas whose rows run along `angle` (radians), centred on a field of `shape`."""

    angle: float
    shape: tuple[int, int]

    @property
    def size(self) -> int:
        return int(np.hypot(*self.shape)) + 8

    def to_field(self, canvas: np.ndarray) -> np.ndarray:
        rows, cols = self.shape
        cosine, sine, middle = np.cos(self.angle), np.sin(self.angle), (self.size - 1) / 2
        x, y = (cols - 1) / 2, (rows - 1) / 2
        matrix = np.array(
            [
                [cosine, sine, middle - cosine * x - sine * y],
                [-sine, cosine, middle + sine * x - cosine * y],
            ]
        )
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        return cv2.warpAffine(canvas, matrix, (cols, rows), flags=flags, borderMode=cv2.BORDER_REPLICATE)


def smooth(rng: np.random.Generator, shape: tuple[int, int], across: float, along: float) -> np.ndarray:
    """Gaussian noise of unit spread whose grain is `across` rows high and `along` columns long, in pixels."""
    dense = [2.0 if grain >= 1.5 else 1.0 for grain in (across, along)]
    rows = max(2, int(shape[0] * dense[0] / max(across, 1)) + 2)
    cols = max(2, int(shape[1] * dense[1] / max(along, 1)) + 2)
    coarse = rng.standard_normal((rows, cols), dtype=np.float32)
    if max(dense) > 1:  # else the knots' grid would show
        coarse = cv2.GaussianBlur(coarse, (0, 0), sigmaX=0.4 * dense[1] ** 1.2, sigmaY=0.4 * dense[0] ** 1.2)
    fine = cv2.resize(coarse, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    return fine / max(float(fine.std()), 1e-6)


def wander(rng: np.random.Generator, count: int, grain: float) -> np.ndarray:
    """The same along one line: `count` values, grain in pixels."""
    knots = rng.standard_normal((1, int(count / max(grain, 1)) + 3)).astype(np.float32)
    return cv2.resize(knots, (count, 1), interpolation=cv2.INTER_CUBIC)[0]


def ramp(values: np.ndarray, low: float, high: float) -> np.ndarray:
    """0 below low, 1 above high, a straight slope between."""
    return np.clip((values - low) / (high - low), 0, 1)


def spread(rng: np.random.Generator, low: float, high: float) -> float:
    """Log-uniform between two positive limits."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))
