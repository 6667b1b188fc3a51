"""Lines of text as boxes: connected pieces of ink of like height, side by side, gathered into lines before reading."""

from dataclasses import dataclass

import numpy as np

from semwear.data_bar.pieces import pieces_of

SMALLEST_LETTER_PX = 5
"""Lowest piece of ink that can start a line; lower ones (points, dashes) only ride along in a line's box."""
SMALLEST_LOW_LETTER_PX = 3
"""Lowest letter without ascender (m, u) that is taken into the line it follows, where letters are small."""
TALLEST_LETTER_PX = 72
WIDEST_GAP = 1.25
"""Gap between letters of one line, in letter heights: a blank of a typewriter face still joins, a column gap does not."""
MOST_PIECES = 4000
"""Above this many pieces of ink the picture is speckle; only those most like print are kept."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """A box that may hold one line of text: rows [row_0, row_1), columns [col_0, col_1) of its layer, letter height.

    regularity: number of pieces whose height and foot agree with those of another piece, a sign of print.
    """

    row_0: int
    row_1: int
    col_0: int
    col_1: int
    letter_px: float
    regularity: int


def find_lines(mask: np.ndarray) -> list[Line]:
    """Gather the ink of a (rows, cols) bool mask into lines of text, in reading order; empty if there are none."""
    boxes = pieces_of(mask).stats[1:]
    left, top, width, height, area = boxes.T if len(boxes) else np.zeros((5, 0), int)
    letter = (
        (height >= SMALLEST_LETTER_PX)
        & (height <= TALLEST_LETTER_PX)
        & (width <= 8 * height)
        & (area >= 4)
        & (area >= 0.08 * width * height)
    )
    low = (height >= SMALLEST_LOW_LETTER_PX) & (height < SMALLEST_LETTER_PX) & (width <= 3 * height) & (area >= 4)
    low_boxes = boxes[low] if len(boxes) else boxes
    left, top, width, height = left[letter], top[letter], width[letter], height[letter]
    if len(left) > MOST_PIECES:
        keep = np.argsort(-_twins(left, top, height), kind="stable")[:MOST_PIECES]
        left, top, width, height = left[keep], top[keep], width[keep], height[keep]
    if not len(left):
        return []
    order = np.argsort(left, kind="stable")
    left, top, width, height = left[order], top[order], width[order], height[order]
    group = _groups(left, top, width, height)
    twins = _twins(left, top, height)
    lines = []
    for label in np.unique(group):
        members = group == label
        tall = float(np.percentile(height[members], 75))
        if members.sum() < 2 and width[members][0] < 1.5 * tall:
            continue
        rows = int(top[members].min()), int((top + height)[members].max())
        cols = int(left[members].min()), int((left + width)[members].max())
        if tall <= 2 * SMALLEST_LETTER_PX:
            cols = _with_low_letters(cols, rows, tall, low_boxes)
        lines.append(
            Line(
                row_0=rows[0],
                row_1=rows[1],
                col_0=cols[0],
                col_1=cols[1],
                letter_px=tall,
                regularity=max(int((twins[members] > 0).sum()), int(members.sum() == 1)),
            )
        )
    return sorted(lines, key=lambda line: (line.row_0, line.col_0))


def _with_low_letters(cols: tuple[int, int], rows: tuple[int, int], tall: float, boxes: np.ndarray) -> tuple[int, int]:
    """Return the columns of a line of small letters, with the low letters at its ends that were too low to be looked at."""
    left, top, width, height = boxes.T[:4]
    beside = (top >= rows[0]) & (top + height <= rows[1] + 1) & (height >= 0.45 * tall)
    reach = WIDEST_GAP * 0.8 * tall
    for index in np.argsort(left[beside], kind="stable"):
        first, wide = int(left[beside][index]), int(width[beside][index])
        if cols[1] - 1 <= first <= cols[1] + reach:
            cols = cols[0], first + wide
    return cols


def _groups(left, top, width, height) -> np.ndarray:
    """Return a group number per piece; pieces are sorted by their left side. Union-find over a sliding window."""
    parent = np.arange(len(left))

    def root(index: int) -> int:
        while parent[index] != index:
            parent[index] = parent[parent[index]]
            index = parent[index]
        return index

    right, foot = left + width, top + height
    reach = WIDEST_GAP * height
    for index in range(len(left)):
        last = np.searchsorted(left, right[index] + WIDEST_GAP * TALLEST_LETTER_PX, side="right")
        others = np.arange(index + 1, last)
        if not len(others):
            continue
        gap = left[others] - right[index]
        overlap = np.minimum(foot[others], foot[index]) - np.maximum(top[others], top[index])
        low = np.minimum(height[others], height[index])
        tall = np.maximum(height[others], height[index])
        joined = gap <= np.minimum(np.maximum(reach[others], reach[index]), WIDEST_GAP * 1.6 * low)
        joined &= (overlap >= 0.55 * low) & (tall <= 3.0 * low)
        for other in others[joined]:
            parent[root(int(other))] = root(index)
    return np.array([root(index) for index in range(len(left))])


def _twins(left, top, height) -> np.ndarray:
    """Count for each piece the pieces of the same height and foot (±1 px) within twelve heights to either side."""
    twins = np.zeros(len(left), int)
    foot = top + height
    order = np.lexsort((left, foot))
    for step in range(1, 7):
        one, other = order[:-step], order[step:]
        alike = (
            (np.abs(foot[one] - foot[other]) <= 1)
            & (np.abs(height[one] - height[other]) <= 1)
            & (np.abs(left[one] - left[other]) <= 12 * height[one])
        )
        np.add.at(twins, one[alike], 1)
        np.add.at(twins, other[alike], 1)
    return twins
