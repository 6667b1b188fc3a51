"""Directions on the picture and the pixels beside a line.

A direction is in degrees, 0 along a row to the right, growing anticlockwise on the screen. In (row, col) the unit vector
along a direction is (-sin, cos) and the one across it (cos, sin). Positions are counted from the picture's centre.
"""

from typing import NamedTuple

import cv2
import numpy as np


class Strip(NamedTuple):
    """Pixels beside a line: index in the flattened picture, place along and across the line, row and column, all px."""

    flat: np.ndarray
    along: np.ndarray
    across: np.ndarray
    row: np.ndarray
    col: np.ndarray


def across_axis(deg: float) -> tuple[float, float]:
    """Return the (row, col) unit vector across a direction."""
    return float(np.cos(np.radians(deg))), float(np.sin(np.radians(deg)))


def diagonal(shape: tuple[int, int]) -> int:
    """Return the length in px that every line through the picture stays within, an even number."""
    return 2 * int(np.ceil(np.hypot(*shape) / 2 + 4))


def strip(
    shape: tuple[int, int], deg: float, offset: float, half: float, start: float = -np.inf, end: float = np.inf
) -> Strip:
    """Return the pixels within ``half`` px of the line at ``offset`` px across from the centre, from start to end."""
    rows, cols = shape
    mid_row, mid_col = (rows - 1) / 2, (cols - 1) / 2
    cos, sin = across_axis(deg)
    flat_lying = abs(cos) >= abs(sin)
    count, lead = (cols, cos) if flat_lying else (rows, sin)
    step = np.arange(count)
    middle = (
        mid_row + (offset - (step - mid_col) * sin) / cos
        if flat_lying
        else mid_col + (offset - (step - mid_row) * cos) / sin
    )
    reach = int(np.ceil(half / abs(lead))) + 1
    other = np.rint(middle).astype(np.int32)[None, :] + np.arange(-reach, reach + 1, dtype=np.int32)[:, None]
    mine = np.broadcast_to(step.astype(np.int32), other.shape)
    inside = (other >= 0) & (other < (rows if flat_lying else cols))
    row, col = (other[inside], mine[inside]) if flat_lying else (mine[inside], other[inside])
    down, right = (row - mid_row).astype(np.float32), (col - mid_col).astype(np.float32)
    along = cos * right - sin * down
    across = cos * down + sin * right - np.float32(offset)
    keep = (np.abs(across) <= half) & (along >= start) & (along <= end)
    row, col = row[keep], col[keep]
    return Strip(row * cols + col, along[keep], across[keep], row, col)


def turned(texture: np.ndarray, shape: tuple[int, int], deg: float) -> np.ndarray:
    """Return a texture, whose rows run along the direction 0, laid over the picture with its rows along ``deg``."""
    cos, sin = across_axis(deg)
    mid_row, mid_col = (shape[0] - 1) / 2, (shape[1] - 1) / 2
    high, wide = (texture.shape[0] - 1) / 2, (texture.shape[1] - 1) / 2
    matrix = np.array(
        [
            [cos, -sin, wide - cos * mid_col + sin * mid_row],
            [sin, cos, high - sin * mid_col - cos * mid_row],
        ]
    )
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(texture, matrix, (shape[1], shape[0]), flags=flags, borderMode=cv2.BORDER_REFLECT)
