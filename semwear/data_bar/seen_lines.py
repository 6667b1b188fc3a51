"""Lines of text around the bars of a layer of ink, where the detector sees them, as tight boxes of their letters."""

import cv2
import numpy as np

from semwear.data_bar.bar_ends import Bar
from semwear.data_bar.ink import Ink
from semwear.data_bar.lines import Line
from semwear.data_bar.text_finder import TextFinder

WIDEST_BLANK = 2.0
"""Widest blank between boxes of one line, in heights of their cores, which are narrower than the letters."""
MOST_SURE_BARS, MOST_DOUBTED_BARS = 3, 2
LEAST_DOUBTED_PX = 40
"""Bars around which the detector looks for text; shorter doubted ones are parts of the picture."""


def seen_lines(ink: Ink, bars: list[Bar], finder: TextFinder) -> list[Line]:
    """Lines of text that the detector sees around the likeliest bars of a layer, as tight boxes of their letters."""
    ranked = sorted(bars, key=lambda bar: (bool(bar.doubt), bar.kind == "line", -bar.length_px))
    sure = [bar for bar in ranked if not bar.doubt][:MOST_SURE_BARS]
    chosen = sure + [bar for bar in ranked if bar.doubt and bar.length_px >= LEAST_DOUBTED_PX][:MOST_DOUBTED_BARS]
    rows, cols = ink.mask.shape
    boxes = set()
    for bar in chosen:
        place = (bar.row_0 + ink.row_0, bar.row_1 + ink.row_0, bar.col_0 + ink.col_0, bar.col_1 + ink.col_0)
        for found in finder.near(place):
            row_0, row_1, col_0, col_1 = found
            box = (row_0 - ink.row_0, row_1 - ink.row_0, col_0 - ink.col_0, col_1 - ink.col_0)
            if box[0] >= 0 and box[1] <= rows and box[2] >= 0 and box[3] <= cols:
                boxes.add(box)
    return [_tightened(ink, box) for box in _joined(sorted(boxes, key=lambda box: (box[2], box[0])))]


def _joined(boxes: list[tuple[int, int, int, int]]) -> list[tuple[int, int, int, int]]:
    """Join boxes of one row that a wide blank parts, such as number and unit in a typewriter face; sorted by column."""
    joined: list[tuple[int, int, int, int]] = []
    for box in boxes:
        for index, other in enumerate(joined):
            rows = min(box[1], other[1]) - max(box[0], other[0])
            tall = max(box[1] - box[0], other[1] - other[0])
            if rows >= 0.5 * tall and 0 <= box[2] - other[3] <= WIDEST_BLANK * tall:
                joined[index] = (min(box[0], other[0]), max(box[1], other[1]), other[2], box[3])
                break
        else:
            joined.append(box)
    return joined


def _tightened(ink: Ink, core: tuple[int, int, int, int]) -> Line:
    """Return the box of the letters around the core of a line that the detector saw."""
    row_0, row_1, col_0, col_1 = core
    tall = row_1 - row_0
    more, beside = int(np.ceil(0.45 * tall)) + 1, int(np.ceil(0.6 * tall)) + 1
    top, left = max(row_0 - more, 0), max(col_0 - beside, 0)
    inked = ink.plane[top : row_1 + more, left : col_1 + beside] >= ink.low + 0.5 * (ink.high - ink.low)
    count, _, stats, _ = cv2.connectedComponentsWithStats(inked.astype(np.uint8), connectivity=8)
    first, high = stats[1:count, cv2.CC_STAT_TOP] + top, stats[1:count, cv2.CC_STAT_HEIGHT]
    letters = (high >= 0.6 * tall) & (high <= 1.9 * tall) & (first > top) & (first + high < row_1 + more)
    if letters.sum() >= 2:
        row_0, row_1 = int(first[letters].min()), int((first + high)[letters].max())
        tall = float(np.percentile(high[letters], 75))
        side = stats[1:count, cv2.CC_STAT_LEFT][letters] + left
        if side.min() > left + 2 * beside:
            left = int(side.min()) - 2  # The core began at another mark, which is left out.
        stop = int((side + stats[1:count, cv2.CC_STAT_WIDTH][letters]).max())
        if stop < col_1 - beside:
            col_1 = stop + 2 - beside  # It ended at another mark.
    else:
        row_0, row_1, tall = row_0 - more // 2, row_1 + more // 2, float(tall)
    return Line(
        row_0=max(row_0, 0),
        row_1=row_1,
        col_0=left,
        col_1=min(col_1 + beside, ink.plane.shape[1]),
        letter_px=tall,
        regularity=2,
    )
