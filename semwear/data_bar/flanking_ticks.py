"""Bars of which only two upright ticks are drawn, as high as letters, with the label in the middle between: |   20 µm   |."""

import numpy as np

from semwear.data_bar.bar_ends import Bar, Box, tick_centre
from semwear.data_bar.contours import WIDEST_TICK_PX
from semwear.data_bar.pieces import Pieces
from semwear.data_bar.two_ticks import HIGHEST_PX, LOWEST_PX, bar_between

LEAST_SLENDER = 4.0
"""Rows of a tick at least, as a multiple of its columns."""
LEAST_FULL = 0.6
"""Share of its box that a tick fills at least: resampling leaves a column at its side half inked, and fills not every row of it."""
LEAST_BLANK, LEAST_BLANK_UNRULED = 1.5, 0.5
"""Blank beside a tick, towards the label and away from it, at least, in rows of a tick: rules between facts stand closer to them.
The latter where facts in the row stand apart without rules."""
OFF_MIDDLE = 0.05
"""How far the label may lie off the middle between the ticks, as a share of their distance."""
LONGEST_GAP = 1.5
"""Blank within the label at most, in rows of a tick or of the label, whichever is higher: between facts there is more."""
HIGHEST = 2.0
"""Rows of a tick at most, as a multiple of the label's: the rules of a table are higher."""
MIDWAY = 0.2
"""How far a tick may stand off the middle between the label and the text beyond it, as a share of the blank: rules stand there."""
APART, APART_BESIDE_WORDS = 1.0, 1.4
"""Blank between two facts at least, in rows of a tick or of the label, and as a multiple of the widest blank in the label."""
ALONE = 0.5
"""Blank on both sides of a stroke that is a rule and no letter at least, in rows of a tick."""


def flanking_ticks(plane: np.ndarray, pieces: Pieces, *, shortest_px: int) -> list[Bar]:
    """Return a bar for two ticks that stand alone in their rows but for one label in the very middle between them.

    plane: (rows, cols) uint8 with bright ink. Rules between facts are no such ticks: they stand closer, or there are more of them.
    """
    boxes = [(row, row + high, col, col + wide) for col, row, wide, high, _ in pieces.stats.astype(int).tolist()][1:]
    areas = pieces.stats[1:, 4]
    upright = [box for box, area in zip(boxes, areas, strict=True) if _is_upright(box, float(area))]
    alone = [box for box in upright if _blank_beside(box, boxes) >= ALONE * (box[1] - box[0])]
    found = []
    for left in alone:
        like = sorted((box for box in alone if _alike(left, box)), key=lambda box: box[2])
        if len(like) != 2 or like[0] is not left:
            continue
        right = like[1]
        if any(left[3] < box[2] < right[2] and _in_one_row(left, box) for box in upright):
            continue  # Two ticks of a row.
        if right[2] - left[3] >= shortest_px and _holds_one_label(left, right, boxes):
            found.append(_between(plane, left, right))
    return found


def _is_upright(box: Box, area: float) -> bool:
    high, wide = box[1] - box[0], box[3] - box[2]
    slender = wide <= WIDEST_TICK_PX and high >= LEAST_SLENDER * wide and LOWEST_PX <= high <= HIGHEST_PX
    return slender and area > LEAST_FULL * high * wide


def _alike(one: Box, other: Box) -> bool:
    """Tell whether two ticks stand in the same rows and are equally wide."""
    same_rows = abs(one[0] - other[0]) <= 1 and abs(one[1] - other[1]) <= 1
    return same_rows and abs((one[3] - one[2]) - (other[3] - other[2])) <= 1


def _in_one_row(tick: Box, other: Box) -> bool:
    """Tell whether another upright mark is as high as a tick at least and begins or ends in its rows, as those of a row do."""
    high = other[1] - other[0] >= tick[1] - tick[0] - 1
    return high and (abs(other[0] - tick[0]) <= 1 or abs(other[1] - tick[1]) <= 1)


def _in_rows(box: Box, boxes: list[Box]) -> list[Box]:
    """Return the other pieces that share rows with a tick, or nearly so."""
    near = (box[1] - box[0]) // 2
    return [other for other in boxes if other is not box and other[0] < box[1] + near and other[1] > box[0] - near]


def _blank_beside(box: Box, boxes: list[Box]) -> int:
    """Return the columns of blank between a tick and the nearest other piece in its rows."""
    return min((max(other[2] - box[3], box[2] - other[3], 0) for other in _in_rows(box, boxes)), default=HIGHEST_PX)


def _holds_one_label(left: Box, right: Box, boxes: list[Box]) -> bool:
    """Tell whether one piece of text stands in the middle between two ticks, and nothing right beyond them."""
    high = left[1] - left[0]
    others = [box for box in _in_rows(left, boxes) if box is not right]
    between = [box for box in boxes if box[2] < right[3] and box[3] > left[2] and box is not left and box is not right]
    # A label may stand below or above its ticks.
    seen = [box for box in between if box[0] < left[1] + high and box[1] > left[0] - high]
    if not seen:
        return False
    # Of a label below the ticks only the higher letters may reach their rows.
    top, foot = min(box[0] for box in seen), max(box[1] for box in seen)
    inside = sorted((box for box in between if box[0] < foot and box[1] > top), key=lambda box: box[2])
    top, foot = min(box[0] for box in inside), max(box[1] for box in inside)
    text_high, hung = foot - top, left[1] <= (top + foot) / 2
    reach, widest = inside[0][3], 0
    for box in inside[1:]:
        widest, reach = max(widest, box[2] - reach), max(reach, box[3])
    # What ends above the middle of the label parts no facts of one row.
    unruled = hung or _stand_apart_unruled(
        left, right, others, least=max(APART * max(high, text_high), APART_BESIDE_WORDS * widest)
    )
    blank = min(_blank_beside(left, boxes), _blank_beside(right, boxes))
    if high > HIGHEST * text_high or blank < (LEAST_BLANK_UNRULED if unruled else LEAST_BLANK) * high:
        return False
    before, after = inside[0][2] - left[3], right[2] - reach
    if not unruled and _may_be_rules(left, right, others, label_blank=(before + after) / 2):
        return False
    return widest <= LONGEST_GAP * max(high, text_high) and abs(before - after) / 2 <= OFF_MIDDLE * (right[2] - left[3])


def _stand_apart_unruled(left: Box, right: Box, others: list[Box], *, least: float) -> bool:
    """Tell whether two facts stand side by side beyond a tick with nothing but blank, ``least`` columns of it, between them:
    then rules don't part the facts."""
    for side in ([box for box in others if box[3] < left[2]], [box for box in others if box[2] > right[3]]):
        reach = None
        for box in sorted(side, key=lambda box: box[2]):
            if reach is not None and box[2] - reach > least:
                return True
            reach = box[3] if reach is None else max(reach, box[3])
    return False


def _may_be_rules(left: Box, right: Box, others: list[Box], *, label_blank: float) -> bool:
    """Tell whether the ticks may part facts: text stands on both sides beyond them, or a tick midway between two texts."""
    before = [left[2] - box[3] for box in others if box[3] < left[2]]
    after = [box[2] - right[3] for box in others if box[2] > right[3]]
    if before and after:
        return True
    nearest = min(before + after, default=None)
    return nearest is not None and abs(nearest - label_blank) <= MIDWAY * nearest


def _between(plane: np.ndarray, left: Box, right: Box) -> Bar:
    """Measure from the middle of one tick to that of the other."""
    centres = tuple(tick_centre(plane, tick) for tick in (left, right))
    return bar_between((left, right), centres, kind="split", line=left[:2], gap=(left[3], right[2]))
