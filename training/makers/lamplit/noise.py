"""Random textures and the turned canvas that everything with a direction is drawn on. Lengths in pixels."""

from dataclasses import dataclass

import cv2
import numpy as np


def log_between(rng: np.random.Generator, low: float, high: float) -> float:
    """A number drawn evenly on a logarithmic scale."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def wander(rng: np.random.Generator, count: int, cell: float) -> np.ndarray:
    """A line of `count` values of about unit spread that changes over `cell` pixels."""
    knots = max(int(np.ceil(count / max(cell, 1.0))) + 2, 2)
    places = np.arange(count, dtype=np.float32) / max(cell, 1.0) + rng.uniform(0, 1)
    return np.interp(places, np.arange(knots), rng.standard_normal(knots)).astype(np.float32)


def cloud(rng: np.random.Generator, shape: tuple[int, int], cell: float, along: float | None = None) -> np.ndarray:
    """Texture of about unit spread with grains of `cell` rows by `along` (or `cell`) columns."""
    along = cell if along is None else along
    rows = max(int(np.ceil(shape[0] / max(cell, 1.0))) + 1, 2)
    cols = max(int(np.ceil(shape[1] / max(along, 1.0))) + 1, 2)
    grains = rng.standard_normal((rows, cols), dtype=np.float32)
    return cv2.resize(grains, (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR) * np.float32(1.25)


@dataclass(frozen=True)
class Turned:
    """A square canvas whose columns run along `angle_deg` (from the picture's row towards its lower edge)."""

    shape: tuple[int, int]
    angle_deg: float

    @property
    def side(self) -> int:
        """Side in pixels: the picture's diagonal, so that no corner stays bare."""
        return int(np.ceil(np.hypot(*self.shape))) + 6

    def to_picture(self, canvas: np.ndarray, *, labels: bool = False) -> np.ndarray:
        """Lay the canvas on the picture; labels keep their values."""
        cos, sin = np.cos(np.radians(self.angle_deg)), np.sin(np.radians(self.angle_deg))
        mid_y, mid_x, half = self.shape[0] / 2, self.shape[1] / 2, self.side / 2
        turn = np.array([[cos, sin, half - mid_x * cos - mid_y * sin], [-sin, cos, half + mid_x * sin - mid_y * cos]])
        how = cv2.WARP_INVERSE_MAP | (cv2.INTER_NEAREST if labels else cv2.INTER_LINEAR)
        return cv2.warpAffine(canvas, turn, (self.shape[1], self.shape[0]), flags=how, borderMode=cv2.BORDER_REPLICATE)
