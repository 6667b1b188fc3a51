"""The frame of a field and the random maps that everything else is drawn with. Lengths in um, angles in radians."""

from dataclasses import dataclass

import cv2
import numpy as np

CELLS = 192
"""Side of a noise tile in cells; longer than most fields at the finest grain, so that no repeat shows."""


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


@dataclass(frozen=True)
class Frame:
    """Where each pixel lies: right, down (um from the middle); pixel_um, the side of a pixel; stroke, the sliding direction."""

    right: np.ndarray
    down: np.ndarray
    pixel_um: float
    stroke: float

    @property
    def shape(self) -> tuple[int, int]:
        return self.right.shape

    @property
    def span_um(self) -> float:
        return float(np.hypot(*self.shape)) * self.pixel_um

    def turned(self, direction: float) -> tuple[np.ndarray, np.ndarray]:
        """Distance along and across a direction, um."""
        c, s = np.float32(np.cos(direction)), np.float32(np.sin(direction))
        return self.right * c + self.down * s, self.down * c - self.right * s

    def noise(self, rng: np.random.Generator, direction: float, along_um: float, across_um: float) -> np.ndarray:
        """Smooth unit noise with its own grain along and across a direction; no finer than the pixels can carry."""
        along, across = self.turned(direction)
        tile = rng.standard_normal((CELLS, CELLS), dtype=np.float32) * np.float32(1.4)
        a, b = max(along_um, self.pixel_um), max(across_um, self.pixel_um)
        move = rng.uniform(0, CELLS, 2).astype(np.float32)
        return cv2.remap(tile, along / np.float32(a) + move[0], across / np.float32(b) + move[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)


def frame(rng: np.random.Generator, pixel_um: float, shape: tuple[int, int]) -> Frame:
    rows, columns = shape
    down, right = np.mgrid[:rows, :columns].astype(np.float32)
    near_axis = rng.choice([0.0, np.pi / 2]) + np.radians(rng.normal(0, 4))
    stroke = near_axis if rng.random() < 0.75 else rng.uniform(0, np.pi)
    return Frame((right - columns / 2) * np.float32(pixel_um), (down - rows / 2) * np.float32(pixel_um), pixel_um, float(stroke))


def wander(rng: np.random.Generator, at: np.ndarray, length_um: float, span_um: float) -> np.ndarray:
    """Unit random curve over positions (um) within +-span_um, with the given grain."""
    count = int(np.clip(2 * span_um / length_um, 3, 1500)) + 2
    # Knots at equal steps would string the rims with beads.
    knots = np.linspace(-span_um, span_um, count) + rng.uniform(-0.45, 0.45, count) * 2 * span_um / (count - 1)
    return np.interp(at, knots, rng.standard_normal(count)).astype(np.float32)
