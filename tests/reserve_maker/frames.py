"""Three frames of one field: the picture, the stroke frame (columns run along the stroke) and a lay frame (along a lay).

Directions are degrees anticlockwise as seen, 0 along a row to the right. Turning a frame by an angle about the centre of
both arrays links them. In a lay frame the samples along the lay are coarser than the pixels, since a groove changes slowly
along its length.
"""

from dataclasses import dataclass

import cv2
import numpy as np

ALONG_STEP_PX = 4
"""Pixels from one sample to the next along a lay."""


def _turned(angle_deg: float, inner: tuple[int, int], outer: tuple[int, int], step: float = 1.0) -> np.ndarray:
    """Return the 2 × 3 matrix from (col, row) of the inner array to those of the outer, whose columns run at angle_deg."""
    angle = np.deg2rad(angle_deg)
    turn = np.array([[np.cos(angle) / step, -np.sin(angle) / step], [np.sin(angle), np.cos(angle)]])
    centre = np.array([(inner[1] - 1) / 2, (inner[0] - 1) / 2])
    target = np.array([(outer[1] - 1) / 2, (outer[0] - 1) / 2])
    return np.column_stack([turn, target - turn @ centre])


@dataclass(frozen=True, kw_only=True)
class StrokeFrame:
    """Array that holds the whole picture with its columns along the stroke, and a margin to carry metal in from.

    picture: (rows, cols) of the micrograph; stroke_deg: its stroke; margin_px: what lies beyond it on every side.
    """

    picture: tuple[int, int]
    stroke_deg: float
    margin_px: int

    @property
    def shape(self) -> tuple[int, int]:
        angle = np.deg2rad(self.stroke_deg)
        rows, cols = self.picture
        sine, cosine = abs(np.sin(angle)), abs(np.cos(angle))
        edge = 2 * self.margin_px
        return int(np.ceil(rows * cosine + cols * sine)) + edge, int(np.ceil(rows * sine + cols * cosine)) + edge

    def to_picture(self, values: np.ndarray, *, nearest: bool = False) -> np.ndarray:
        """Return values of the stroke frame on the picture's grid."""
        matrix = _turned(self.stroke_deg, self.picture, self.shape)
        flags = (cv2.INTER_NEAREST if nearest else cv2.INTER_LINEAR) | cv2.WARP_INVERSE_MAP
        return cv2.warpAffine(values, matrix, self.picture[::-1], flags=flags, borderMode=cv2.BORDER_REFLECT)

    @property
    def lay_shape(self) -> tuple[int, int]:
        """Shape of a lay frame: samples across the lay, one a pixel, and along it, one every ALONG_STEP_PX."""
        length = int(np.ceil(np.hypot(*self.shape))) + 8
        return length, length // ALONG_STEP_PX + 4

    def from_lay(self, values: np.ndarray, lay_deg: float) -> np.ndarray:
        """Return values of a lay frame on the stroke frame; lay_deg is the lay's direction in the picture."""
        matrix = _turned(lay_deg - self.stroke_deg, self.shape, self.lay_shape, ALONG_STEP_PX)
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        return cv2.warpAffine(values, matrix, self.shape[::-1], flags=flags, borderMode=cv2.BORDER_REFLECT)


def parallax(height_um: np.ndarray, pixel_size_um: float, tilt_deg: float) -> tuple[np.ndarray, np.ndarray] | None:
    """Return maps for cv2.remap that shift each point upwards by height × tan(tilt), None without tilt.

    The specimen leans towards a detector above the picture, so that the beam comes from below in the picture.
    The scan is taken to be tilt-compensated (stretched by 1/cos), so that the mean plane keeps its scale.
    """
    if tilt_deg == 0:
        return None
    rows, cols = height_um.shape
    row, col = np.mgrid[0:rows, 0:cols].astype(np.float32)
    shift = np.float32(np.tan(np.deg2rad(tilt_deg)) / pixel_size_um)
    source = row
    for _ in range(2):  # fixed point: what is seen at a row lies where row − shift × height equals it
        level = cv2.remap(height_um, col, source, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
        source = row + shift * level
    return col, source
