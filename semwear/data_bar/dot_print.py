"""Print of which every stroke is a row of dots with blanks between, as character generators draw it on a screen."""

from dataclasses import replace

import cv2
import numpy as np

from semwear.data_bar.ink import Ink
from semwear.data_bar.pieces import pieces_of

LARGEST_DOT_PX, FEWEST_DOTS = 8, 30
"""Rows and columns of a dot at most, and number of dots from which print is made of them."""
LEAST_SHARE = 0.6
"""Share of dots among all pieces of ink at least, and of dots of one size among them."""


def joined_dots(ink: Ink) -> Ink | None:
    """Return a layer with the blanks between the dots of its letters filled, or None if its letters aren't made of dots.

    Blanks between letters, which a column of dots is left out for, are wider and stay.
    """
    blank = _blank_px(ink.mask)
    if blank is None:
        return None
    kernel = np.ones((blank + 1, blank + 1), np.uint8)
    plane = cv2.morphologyEx(ink.plane, cv2.MORPH_CLOSE, kernel)
    mask = cv2.morphologyEx(ink.mask.astype(np.uint8), cv2.MORPH_CLOSE, kernel) > 0
    return replace(ink, plane=plane, mask=mask)


def _blank_px(mask: np.ndarray) -> int | None:
    """Return the columns between neighbouring dots of one letter, or None where ink isn't made of dots.

    >>> mask = np.zeros((30, 120), bool)
    >>> for row in range(2, 29, 3):
    ...     mask[row : row + 2, 4:20:3] = mask[row : row + 2, 5:21:3] = True
    >>> _blank_px(mask), _blank_px(~mask), _blank_px(mask[:9])
    (1, None, None)
    """
    col, row, wide, high = pieces_of(mask).stats[1:, :4].astype(int).T
    small = (np.minimum(wide, high) >= 1) & (np.maximum(wide, high) <= LARGEST_DOT_PX)
    if small.sum() < max(FEWEST_DOTS, LEAST_SHARE * len(small)):
        return None
    size = float(np.median(np.maximum(wide, high)[small]))
    dots = small & (np.abs(wide - size) <= 1) & (np.abs(high - size) <= 1)
    if size < 2 or dots.sum() < max(FEWEST_DOTS, LEAST_SHARE * small.sum()):
        return None
    order = np.lexsort((col[dots], row[dots]))
    row, col, stop = row[dots][order], col[dots][order], (col + wide)[dots][order]
    blanks = (col[1:] - stop[:-1])[np.abs(np.diff(row)) <= 1]
    blanks = blanks[(blanks >= 1) & (blanks <= size + 1)]
    return int(np.median(blanks)) if len(blanks) >= FEWEST_DOTS / 3 else None
