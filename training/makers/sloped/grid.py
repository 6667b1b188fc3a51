"""Pixel centres of a field in µm."""

import numpy as np

LAID_OUT_FOR_UM = 0.3
"""Pixel size from which down a field shows a part of a larger ground, or its one groove would fill it."""


class Grid:
    """Pixel centres about the middle of the field, y downwards: x (cols,) and y (rows,) in µm, area in µm².

    radius: from the middle to the farthest pixel centre, µm; reach: half the span over which grooves are laid out, µm.
    """

    def __init__(self, shape: tuple[int, int], pixel: float):
        self.shape, self.pixel = shape, pixel
        self.x = ((np.arange(shape[1]) - (shape[1] - 1) / 2) * pixel).astype(np.float32)
        self.y = ((np.arange(shape[0]) - (shape[0] - 1) / 2) * pixel).astype(np.float32)
        self.radius = float(np.hypot(self.x[-1], self.y[-1]))
        self.reach = self.radius * max(1.0, LAID_OUT_FOR_UM / pixel)
        self.area = shape[0] * shape[1] * pixel**2

    def along(self, deg: float) -> np.ndarray:
        """Distance along the direction `deg` (degrees from the rows' axis) at every pixel: (rows, cols), µm."""
        c, s = np.float32(np.cos(np.radians(deg))), np.float32(np.sin(np.radians(deg)))
        return self.x[None, :] * c + self.y[:, None] * s
