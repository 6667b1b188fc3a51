"""Coordinates of a field across and along the stroke."""

from dataclasses import dataclass

import numpy as np

LAID_OUT_FOR_UM = 0.3
"""Pixel size from which down a field shows a part of a larger ground, or its one groove would fill it."""


@dataclass(kw_only=True)
class Grid:
    """Pixel side in µm; p across and q along the stroke, both (rows, cols), µm from the middle."""

    pixel: float
    shape: tuple[int, int]
    p: np.ndarray
    q: np.ndarray

    @property
    def half(self) -> float:
        """Half the field's diagonal and 5 µm more, µm."""
        return 0.5 * self.pixel * float(np.hypot(*self.shape)) + 5.0

    @property
    def reach(self) -> float:
        """Half the span over which grooves are laid out, µm."""
        return self.half * max(1.0, LAID_OUT_FOR_UM / self.pixel)

    @property
    def area(self) -> float:
        """µm²."""
        return self.shape[0] * self.shape[1] * self.pixel**2


def grid_of(pixel: float, shape: tuple[int, int], stroke: float) -> Grid:
    """The grid of a field of (rows, cols) whose stroke leans by `stroke` radians from the columns' axis."""
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    x = (x - (shape[1] - 1) / 2) * pixel
    y = (y - (shape[0] - 1) / 2) * pixel
    c, s = np.float32(np.cos(stroke)), np.float32(np.sin(stroke))
    return Grid(pixel=pixel, shape=shape, p=c * x - s * y, q=s * x + c * y)
