"""A grid laid along one direction of the surface, and the random functions drawn on such grids."""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Frame:
    """A square grid whose columns run along `angle` (radians from the picture's rows, downwards positive) and whose rows
    count across it. One cell is one pixel of the picture; the grid covers the picture at any angle."""

    shape: tuple[int, int]
    pixel_um: float
    angle: float

    @property
    def side(self) -> int:
        """Cells on a side."""
        return int(np.ceil(np.hypot(*self.shape))) + 8

    def blank(self) -> np.ndarray:
        return np.zeros((self.side, self.side), np.float32)

    def to_picture(self, grid: np.ndarray) -> np.ndarray:
        """The grid's values at the picture's pixels."""
        c, s = np.cos(self.angle), np.sin(self.angle)
        x0, y0, mid = (self.shape[1] - 1) / 2, (self.shape[0] - 1) / 2, (self.side - 1) / 2
        to_grid = np.array([[c, s, mid - c * x0 - s * y0], [-s, c, mid + s * x0 - c * y0]])
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        return cv2.warpAffine(grid, to_grid, self.shape[::-1], flags=flags, borderMode=cv2.BORDER_REPLICATE)


def spread(rng: np.random.Generator, low: float, high: float) -> float:
    """A log-uniform number; `low` where the range is empty."""
    return float(np.exp(rng.uniform(np.log(low), np.log(max(low, high)))))


def smooth(rng: np.random.Generator, shape: tuple[int, int], rows: float, cols: float) -> np.ndarray:
    """Random function of about unit deviation, correlated over `rows` by `cols` pixels."""
    cells = np.maximum([rows, cols], 1.0)
    small = [int(np.ceil(n / cell)) + 3 for n, cell in zip(shape, cells, strict=True)]
    coarse = rng.standard_normal(small, dtype=np.float32)
    zoom = np.array([[1 / cells[1], 0, rng.uniform(0.5, 1.5)], [0, 1 / cells[0], rng.uniform(0.5, 1.5)]])
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    return 1.35 * cv2.warpAffine(coarse, zoom, shape[::-1], flags=flags, borderMode=cv2.BORDER_REFLECT)


def line(rng: np.random.Generator, count: int, cell: float) -> np.ndarray:
    """Random function of about unit deviation along `count` pixels, correlated over `cell` pixels."""
    cell = max(cell, 1.0)
    knots = rng.standard_normal(int(np.ceil(count / cell)) + 3)
    at = np.arange(count) / cell + rng.uniform(0, 1)
    left = at.astype(int)
    t = at - left
    t = t * t * (3 - 2 * t)  # no kinks at the knots: edges drawn from this would look cut with scissors
    return (1.2 * (knots[left] * (1 - t) + knots[left + 1] * t)).astype(np.float32)


def whole(mask: np.ndarray, least: int) -> np.ndarray:
    """The mask without islands and chinks of fewer than `least` pixels, which no eye would outline."""
    for _ in range(2):
        count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
        small = stats[:, cv2.CC_STAT_AREA] < least
        small[0] = False
        mask = ~(mask & ~small[labels])
    return mask


def step(values: np.ndarray, low: float, high: float) -> np.ndarray:
    """0 below `low`, 1 above `high`, smooth between."""
    t = np.clip((values - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)
