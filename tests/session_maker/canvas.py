"""A square canvas turned against the picture, on which grooves, strokes and streaks are drawn along rows."""

import cv2
import numpy as np

SPARE_PX = 6
"""Beyond the picture's diagonal, so that interpolation never reaches the canvas's border: own choice."""


class Canvas:
    """A canvas whose rows lie along ``direction_deg`` of a picture of ``shape``; side_px: its side; both share the centre."""

    def __init__(self, shape: tuple[int, int], direction_deg: float) -> None:
        self.rows, self.cols = shape
        self.side_px = int(np.ceil(np.hypot(*shape))) + SPARE_PX
        angle = np.deg2rad(direction_deg)
        c, s = np.cos(angle), np.sin(angle)
        x, y, m = (self.cols - 1) / 2, (self.rows - 1) / 2, (self.side_px - 1) / 2
        self._from_picture = np.array([[c, -s, m - c * x + s * y], [s, c, m - s * x - c * y]])
        self._from_canvas = np.array([[c, s, x - c * m - s * m], [-s, c, y + s * m - c * m]])

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the canvas."""
        return self.side_px, self.side_px

    def to_picture(self, a: np.ndarray, interpolation: int = cv2.INTER_LINEAR) -> np.ndarray:
        """Return ``a`` of the canvas on the picture's grid, (rows, cols)."""
        flags = interpolation | cv2.WARP_INVERSE_MAP
        size = (self.cols, self.rows)
        return cv2.warpAffine(a, self._from_picture, size, flags=flags, borderMode=cv2.BORDER_REFLECT)

    def to_canvas(self, a: np.ndarray, interpolation: int = cv2.INTER_LINEAR) -> np.ndarray:
        """Return ``a`` of the picture on the canvas, (side_px, side_px); the picture's border is repeated outwards."""
        flags = interpolation | cv2.WARP_INVERSE_MAP
        return cv2.warpAffine(a, self._from_canvas, self.shape, flags=flags, borderMode=cv2.BORDER_REPLICATE)
