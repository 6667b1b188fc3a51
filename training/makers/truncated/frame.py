"""A picture turned into a direction: what runs along one direction (a lay, the stroke) is drawn in a frame whose rows lie
along it, then turned back onto the screen."""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Frame:
    """The box, turned by an angle (degrees from the rows, clockwise on the screen), that just holds a picture."""

    angle_deg: float
    shape: tuple[int, int]

    @property
    def _turn(self) -> tuple[float, float]:
        return float(np.cos(np.radians(self.angle_deg))), float(np.sin(np.radians(self.angle_deg)))

    @property
    def size(self) -> tuple[int, int]:
        """Rows (across the direction) and columns (along it) of the box."""
        (rows, cols), (c, s) = self.shape, self._turn
        return int(rows * abs(c) + cols * abs(s)) + 6, int(rows * abs(s) + cols * abs(c)) + 6

    def to_screen(self, map_: np.ndarray) -> np.ndarray:
        """A float32 map of the box as it lies on the screen."""
        (rows, cols), (c, s) = self.shape, self._turn
        across, along = self.size
        x, y = (cols - 1) / 2, (rows - 1) / 2
        matrix = np.array([[c, s, (along - 1) / 2 - c * x - s * y], [-s, c, (across - 1) / 2 + s * x - c * y]])
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        return cv2.warpAffine(
            map_.astype(np.float32), matrix, (cols, rows), flags=flags, borderMode=cv2.BORDER_REPLICATE
        )


def noise(rng: np.random.Generator, size: tuple[int, int], scale: tuple[float, float]) -> np.ndarray:
    """Random relief of zero mean and unit spread, correlated over about scale (rows, columns) pixels."""
    small = tuple(max(int(np.ceil(length / max(step, 1.0))) + 3, 4) for length, step in zip(size, scale, strict=True))
    coarse = rng.standard_normal(small, dtype=np.float32)
    lengths = [
        max(int(round(count * max(step, 1.0))), length) for count, step, length in zip(small, scale, size, strict=True)
    ]
    fine = cv2.resize(coarse, (lengths[1], lengths[0]), interpolation=cv2.INTER_CUBIC)
    top, left = (int(rng.integers(0, extra - length + 1)) for extra, length in zip(lengths, size, strict=True))
    fine = fine[top : top + size[0], left : left + size[1]]
    return (fine - fine.mean()) / (fine.std() + 1e-6)


def line_noise(rng: np.random.Generator, length: int, scale: float) -> np.ndarray:
    """Random course of zero mean and about unit spread along a line, correlated over about scale pixels."""
    knots = rng.standard_normal(max(int(np.ceil(length / max(scale, 1.0))) + 2, 4))
    at = np.linspace(0.0, len(knots) - 1.001, length)
    left = at.astype(int)
    return knots[left] + (knots[left + 1] - knots[left]) * (at - left)
