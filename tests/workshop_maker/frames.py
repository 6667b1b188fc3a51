"""Sheets of surface and how they lie under the picture.

A sheet is an array of square cells of one pixel size whose columns run along a direction of interest: along a lay while
it is honed, along the stroke while it is worn. Directions grow anticlockwise as seen, 0 along a row. A sheet is laid
under another grid by one rotation about the centres; a tilted specimen is foreshortened along the picture's columns by
cos(tilt) (trade figures: 1.5 % at 10 degrees, 3.4 % at 15).
"""

import math

import cv2
import numpy as np

cv2.setNumThreads(1)


def sheet_shape(shape: tuple[int, int], angle_deg: float, squeeze: float = 1.0, margin: int = 12) -> tuple[int, int]:
    """Return rows and columns of a sheet, turned by angle_deg, that covers a grid whose rows are squeezed by cos(tilt)."""
    rows, cols = shape[0] / squeeze, shape[1]
    c, s = abs(math.cos(math.radians(angle_deg))), abs(math.sin(math.radians(angle_deg)))
    return int(rows * c + cols * s) + 2 * margin, int(cols * c + rows * s) + 2 * margin


def lay_under(
    sheet: np.ndarray, shape: tuple[int, int], angle_deg: float, squeeze: float = 1.0, *, labels: bool = False
) -> np.ndarray:
    """Return the sheet as seen on a grid of this shape, the sheet's columns running at angle_deg there."""
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    middle_row, middle_col = (shape[0] - 1) / 2, (shape[1] - 1) / 2
    sheet_row, sheet_col = (sheet.shape[0] - 1) / 2, (sheet.shape[1] - 1) / 2
    matrix = np.array(
        [
            [c, -s / squeeze, sheet_col - c * middle_col + s / squeeze * middle_row],
            [s, c / squeeze, sheet_row - s * middle_col - c / squeeze * middle_row],
        ]
    )
    method = cv2.INTER_NEAREST if labels else cv2.INTER_LINEAR
    flags = method | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(sheet, matrix, (shape[1], shape[0]), flags=flags, borderMode=cv2.BORDER_REPLICATE)


def rows_seen(shape: tuple[int, int], sheet_rows: int, angle_deg: float, squeeze: float = 1.0) -> np.ndarray:
    """Return how much of a picture lies on each row of the sheet under it."""
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    right = np.linspace(-0.5, 0.5, 160)[None] * shape[1]
    up = np.linspace(0.5, -0.5, 120)[:, None] * shape[0] / squeeze
    row = (sheet_rows - 1) / 2 + right * s - up * c
    counts = np.bincount(np.clip(row, 0, sheet_rows - 1).astype(int).ravel(), minlength=sheet_rows).astype(np.float32)
    return cv2.GaussianBlur(counts[None], (0, 0), 12)[0]


def seen_direction(angle_deg: float, squeeze: float) -> float:
    """Return how a direction of the surface reads in the picture, degrees in [0, 180)."""
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return math.degrees(math.atan2(s * squeeze, c)) % 180.0
