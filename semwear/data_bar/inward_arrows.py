"""Bars drawn by arrows that point inwards at two upright ticks, →|  |←: the length is that between the ticks' middles."""

from dataclasses import dataclass

import numpy as np

from semwear.data_bar.bar_ends import Bar, Box, clear_tick_centre
from semwear.data_bar.contours import WIDEST_TICK_PX, tick_at_left
from semwear.data_bar.pieces import Pieces
from semwear.data_bar.two_ticks import HIGHEST_PX, LOWEST_PX, bar_between, nearest_pairs

WIDEST_BLANK = 0.4
"""Blank between an arrow's tip and its tick at most, as a share of the rows of the tick."""
LEAST_MIRRORED = 0.85
"""Share of an arrow's ink at least that its line mirrors."""
LONGEST_ARROW = 4.0
"""Columns of an arrow at most, as a share of the rows of its tick."""
HEAD_SHARE = 1.8
"""Rows of an arrow's head at least, as a share of those of its line."""


@dataclass(frozen=True, kw_only=True)
class _End:
    """A tick and the arrow that points at it from outside."""

    tick: Box
    arrow: Box


def inward_arrows(plane: np.ndarray, pieces: Pieces, *, shortest_px: int) -> list[Bar]:
    """Return a bar for every tick at which an arrow points from the left and the nearest one of its size beyond it, from the right.

    plane: (rows, cols) uint8 with bright ink.
    """
    left, right = _ends(pieces, from_left=True), _ends(pieces, from_left=False)
    pairs = nearest_pairs(left, right, inner=lambda end: end.tick, alike=_alike)
    bars = [_between(plane, one, other) for one, other in pairs]
    return [bar for bar in bars if bar.length_px >= shortest_px]


def _ends(pieces: Pieces, *, from_left: bool) -> list[_End]:
    """Return the ends at which an arrow points from one side: arrow and tick are two pieces, or one."""
    boxes = [(row, row + high, col, col + wide) for col, row, wide, high, _ in pieces.stats.astype(int).tolist()]
    found, ticks, arrows = [], [], []
    for index, (row_0, row_1, col_0, col_1) in enumerate(boxes):
        high, wide = row_1 - row_0, col_1 - col_0
        if not index or high > HIGHEST_PX or wide > LONGEST_ARROW * HIGHEST_PX:
            continue
        piece = pieces.labels[row_0:row_1, col_0:col_1] == index
        if high >= LOWEST_PX and wide <= WIDEST_TICK_PX and piece.mean() > 0.9 and high >= 2 * wide:
            ticks.append(boxes[index])
        towards = piece if from_left else piece[:, ::-1]  # As if the arrow came from the left.
        if wide >= high / 2 and points_right(towards):
            arrows.append(boxes[index])
        thick = tick_at_left(towards[:, ::-1]) if high >= LOWEST_PX and wide > high / 2 else 0
        if not thick:
            continue
        arrow = towards[:, : wide - thick]
        rows = np.flatnonzero(arrow.any(axis=1))
        if len(rows) and abs(rows[0] + rows[-1] + 1 - high) <= 2 and points_right(arrow[rows[0] : rows[-1] + 1]):
            edge = col_1 - thick if from_left else col_0 + thick
            tick = (row_0, row_1, edge, col_1) if from_left else (row_0, row_1, col_0, edge)
            shaft = (row_0 + int(rows[0]), row_0 + int(rows[-1]) + 1)
            found.append(_End(tick=tick, arrow=(*shaft, col_0, edge) if from_left else (*shaft, edge, col_1)))
    for tick in ticks:
        high = tick[1] - tick[0]
        for arrow in arrows:
            blank = tick[2] - arrow[3] if from_left else arrow[2] - tick[3]
            middle = abs(sum(arrow[:2]) - sum(tick[:2])) <= 2
            lower = arrow[1] - arrow[0] <= high and arrow[3] - arrow[2] <= LONGEST_ARROW * high
            if 0 < blank <= max(2.0, WIDEST_BLANK * high) and middle and lower:
                found.append(_End(tick=tick, arrow=arrow))
    return found


def points_right(piece: np.ndarray) -> bool:
    """Tell whether a piece (rows, cols) bool is an arrow: a line, and at its right end a head that narrows to the right.

    >>> piece = np.zeros((5, 14), bool)
    >>> piece[2] = piece[:, 9] = piece[1:4, 10:12] = True
    >>> points_right(piece), points_right(piece[:, ::-1]), points_right(piece[2:])
    (True, False, False)
    """
    high, wide = piece.shape
    if high < 3 or wide < high or not piece.any(axis=0).all():
        return False
    mirrored = (piece & piece[::-1]).sum() / piece.sum()
    rows = piece.sum(axis=0)
    tail = rows[: max(wide // 4, 2)]
    line = int(tail.max())
    head = np.flatnonzero(rows >= max(HEAD_SHARE * line, line + 2))
    if mirrored < LEAST_MIRRORED or line - tail.min() > 1 or not len(head) or head[0] < wide / 4:
        return False
    narrowing = np.diff(rows[int(rows.argmax()) :].astype(int))
    return bool(rows.argmax() > wide / 3 and (narrowing <= 0).all() and rows[-1] <= 0.6 * rows.max())


def _alike(one: _End, other: _End) -> bool:
    """Tell whether two ends stand in the same rows and have like sizes."""
    rows = zip(one.tick[:2] + one.arrow[:2], other.tick[:2] + other.arrow[:2], strict=True)
    wide = [end.arrow[3] - end.arrow[2] for end in (one, other)]
    return all(abs(a - b) <= 1 for a, b in rows) and abs(wide[0] - wide[1]) <= 1


def _between(plane: np.ndarray, left: _End, right: _End) -> Bar:
    """Measure from the middle of one end's tick to that of the other's."""
    return bar_between(
        (left.tick, right.tick),
        tuple(clear_tick_centre(plane, end.tick, end.arrow) for end in (left, right)),
        kind="ticked",
        line=left.arrow[:2],
        others=(left.arrow, right.arrow),
    )
