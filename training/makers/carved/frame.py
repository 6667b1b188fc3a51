"""Flat working sheets turned to a direction, so that a stroke of any direction is carved along rows."""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Frame:
    """A square sheet whose rows run along `angle` (radians from the picture's x axis, towards +y), centred on the picture."""

    angle: float
    shape: tuple[int, int]

    @property
    def side(self) -> int:
        """Side of the sheet (px): the picture's diagonal, so that every corner is covered."""
        return int(np.ceil(np.hypot(*self.shape))) + 8

    def to_picture(self, sheet: np.ndarray) -> np.ndarray:
        """Turn a sheet into the picture (same px size)."""
        rows, cols = self.shape
        c, s, h = np.cos(self.angle), np.sin(self.angle), self.side / 2
        x0, y0 = cols / 2, rows / 2
        turn = np.array([[c, s, h - x0 * c - y0 * s], [-s, c, h + x0 * s - y0 * c]])
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        return cv2.warpAffine(sheet, turn, (cols, rows), flags=flags, borderMode=cv2.BORDER_REFLECT)

    def sheet(self) -> np.ndarray:
        """An empty sheet (side x side px)."""
        return np.zeros((self.side, self.side), np.float32)


def lay_frames(stroke: Frame, included: float) -> tuple[Frame, Frame]:
    """The sheets of both lays, `included` radians apart and bisected by the direction across the stroke."""
    across = stroke.angle + np.pi / 2
    return Frame(across + included / 2, stroke.shape), Frame(across - included / 2, stroke.shape)


def cloud(rng: np.random.Generator, shape: tuple[int, int], down: float, across: float) -> np.ndarray:
    """Smooth noise of about unit spread; cells of `down` x `across` px."""
    small = (max(2, int(shape[0] / down) + 2), max(2, int(shape[1] / across) + 2))
    small = (min(small[0], shape[0]), min(small[1], shape[1]))
    seeds = rng.standard_normal(small, dtype=np.float32)
    return cv2.resize(seeds, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def thread(rng: np.random.Generator, length: int, cell: float) -> np.ndarray:
    """Smooth noise along a line of `length` px; cells of `cell` px."""
    knots = max(2, int(length / max(cell, 1)) + 2)
    seeds = rng.standard_normal((1, knots), dtype=np.float32)
    return cv2.resize(seeds, (length, 1), interpolation=cv2.INTER_CUBIC)[0]


def between(rng: np.random.Generator, low: float, high: float) -> float:
    """A number between low and high, even in its logarithm; in the unit of its bounds."""
    return float(np.exp(rng.uniform(np.log(low), np.log(max(high, low * 1.001)))))
