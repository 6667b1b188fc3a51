"""Random relief and the turned frame in which lines of one direction run along the rows."""

import math

import cv2
import numpy as np

cv2.setNumThreads(1)


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(math.exp(rng.uniform(math.log(low), math.log(high))))


def smooth_line(rng: np.random.Generator, length: int, period_px: float) -> np.ndarray:
    """Random line of about unit standard deviation that changes over period_px pixels."""
    period_px = max(period_px, 1.0)
    knots = rng.standard_normal(math.ceil(length / period_px) + 5)
    at = rng.uniform(0, 1) + 1 + np.arange(length) / period_px
    # Eased between the knots: straight pieces would show as corners in the outline of a groove.
    knot = at.astype(int)
    part = at - knot
    return (knots[knot] + (knots[knot + 1] - knots[knot]) * part**2 * (3 - 2 * part)).astype(np.float32)


def noise(rng: np.random.Generator, shape: tuple[int, int], rows_px: float, cols_px: float) -> np.ndarray:
    """Random map of unit standard deviation, grains of rows_px by cols_px pixels (grown from a coarse grid: cheap)."""
    steps = (max(rows_px, 1.0), max(cols_px, 1.0))
    coarse = [math.ceil(n / step) + 4 for n, step in zip(shape, steps, strict=True)]
    grid = rng.standard_normal(coarse, dtype=np.float32)
    # A random offset and a light blur keep the coarse grid from showing.
    grid = cv2.GaussianBlur(grid, (3, 3), 0.6)
    offset = rng.uniform(1.0, 2.0, 2)
    matrix = np.float32([[1 / steps[1], 0, offset[1]], [0, 1 / steps[0], offset[0]]])
    grown = cv2.warpAffine(
        grid, matrix, (shape[1], shape[0]), flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REFLECT
    )
    return (grown - grown.mean()) / max(float(grown.std()), 1e-6)


class Frame:
    """Square frame turned by angle_deg (clockwise on the picture from its rows) that covers a field of that shape."""

    def __init__(self, shape: tuple[int, int], angle_deg: float):
        self.shape = shape
        self.size = math.ceil(math.hypot(*shape)) + 4
        cosine, sine = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
        x, y, middle = (shape[1] - 1) / 2, (shape[0] - 1) / 2, (self.size - 1) / 2
        self.matrix = np.float64(
            [[cosine, sine, middle - x * cosine - y * sine], [-sine, cosine, middle + x * sine - y * cosine]]
        )

    def to_field(self, drawn: np.ndarray, sharp: bool = False) -> np.ndarray:
        """The map drawn in this frame, on the field's own pixels."""
        flags = (cv2.INTER_LINEAR if sharp else cv2.INTER_CUBIC) | cv2.WARP_INVERSE_MAP
        return cv2.warpAffine(
            drawn, self.matrix, (self.shape[1], self.shape[0]), flags=flags, borderMode=cv2.BORDER_REPLICATE
        )
