"""Bars that stand on a longer thin line, and ticks joined by a line that runs on beyond them.

The line is only the ground on which bar or ticks stand (common practice, no source): it is taken away, and what is left
is looked at as a layer of its own.
"""

import cv2
import numpy as np

from semwear.data_bar.bar_ends import Box
from semwear.data_bar.pieces import Pieces

THICKEST_PX = 4
"""A thicker line is a bar itself."""
LEAST_SHARE = 2.5
"""Height of a piece over that of its base line, from which the line is thin beside what stands on it."""
LEAST_BEYOND_PX = 3
"""Columns that a base line runs on beyond what stands on it, at one end at least."""


def without_base_lines(
    plane: np.ndarray, pieces: Pieces, *, shortest_px: int
) -> list[tuple[np.ndarray, np.ndarray, Box]]:
    """Return (plane, mask, box) of every piece that stands on a longer line, cut to its box and without that line.

    plane (rows, cols) uint8 with bright ink; the box says where the cut stands in them.
    """
    found = []
    _, _, width, height, area = pieces.stats.T
    flat = (width >= 1.2 * shortest_px) & (height >= 4) & (height <= 0.5 * width) & (area >= width + height)
    flat[0] = False
    for index in np.flatnonzero(flat):
        left, top, width, height = (int(value) for value in pieces.stats[index][:4])
        piece = pieces.labels[top : top + height, left : left + width] == index
        line = _base_line(piece)
        if line is None:
            continue
        rest = piece.copy()
        rest[line[0] : line[1]] = False
        inked = np.flatnonzero(rest.any(axis=0))
        if not len(inked) or max(inked[0], width - 1 - inked[-1]) < LEAST_BEYOND_PX:
            continue
        box = (top, top + height, left, left + width)
        cut = np.where(piece, plane[top : top + height, left : left + width], 0).astype(np.uint8)
        cut[max(line[0], 0) : line[1]] = 0
        found.append((_with_soft_rim(plane, cut, rest, box, line), rest, box))
    return found


def _base_line(piece: np.ndarray) -> tuple[int, int] | None:
    """Return the rows [first, last) of a thin full line at the foot or at the head of a piece, or None."""
    height = len(piece)
    full = piece.mean(axis=1) >= 0.97
    for flipped in (False, True):
        rows = full[::-1] if flipped else full
        thick = int(np.argmin(rows)) if not rows.all() else height
        if 1 <= thick <= THICKEST_PX and height >= LEAST_SHARE * thick:
            return (height - thick, height) if flipped else (0, thick)
    return None


def _with_soft_rim(plane: np.ndarray, cut: np.ndarray, rest: np.ndarray, box: Box, line: tuple[int, int]) -> np.ndarray:
    """Give back the half-covered pixels beside the ink that is left, which its ends are measured by."""
    row_0, row_1, col_0, col_1 = box
    beside = cv2.dilate(rest.astype(np.uint8), np.ones((1, 9), np.uint8)) > 0
    beside[line[0] : line[1]] = False
    return np.where(beside, plane[row_0:row_1, col_0:col_1], cut).astype(np.uint8)
