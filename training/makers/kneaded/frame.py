"""The frame in which the slider runs: rows along the stroke (u), columns across it (v).

The field on the screen is a turned window of that frame. A stage tilted by T about the screen's horizontal shortens what
is seen along the vertical by cos T, so a picture row spans 1/cos T of a pixel size on the specimen."""

from dataclasses import dataclass

import cv2
import numpy as np

MARGIN_PX = 6


@dataclass(frozen=True, kw_only=True)
class Frame:
    """Stroke direction on the screen in degrees (0 along a row), stage tilt in degrees, screen shape (rows, columns)."""

    stroke_deg: float
    tilt_deg: float
    screen: tuple[int, int]

    def matrix(self) -> np.ndarray:
        """2 × 3: from screen (x, y) to frame (v, u), px."""
        cos, sin = np.cos(np.radians(self.stroke_deg)), np.sin(np.radians(self.stroke_deg))
        stretch = 1 / np.cos(np.radians(self.tilt_deg))
        turn = np.array([[-sin, cos * stretch], [cos, sin * stretch]])
        middle = np.array([(self.screen[1] - 1) / 2, (self.screen[0] - 1) / 2])
        centre = np.array([(self.shape[1] - 1) / 2, (self.shape[0] - 1) / 2])
        return np.column_stack([turn, centre - turn @ middle])

    @property
    def shape(self) -> tuple[int, int]:
        """Rows along the stroke, columns across: just large enough to hold the turned field."""
        cos, sin = abs(np.cos(np.radians(self.stroke_deg))), abs(np.sin(np.radians(self.stroke_deg)))
        rows, columns = self.screen[0] / np.cos(np.radians(self.tilt_deg)), self.screen[1]
        return int(columns * cos + rows * sin) + 2 * MARGIN_PX, int(columns * sin + rows * cos) + 2 * MARGIN_PX

    def seen(self, values: np.ndarray, *, smooth: bool = True) -> np.ndarray:
        """A map of the frame as it lies on the screen."""
        how = cv2.INTER_LINEAR if smooth else cv2.INTER_NEAREST
        size = (self.screen[1], self.screen[0])
        flags = how | cv2.WARP_INVERSE_MAP
        return cv2.warpAffine(values, self.matrix(), size, flags=flags, borderMode=cv2.BORDER_REFLECT)
