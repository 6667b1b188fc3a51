"""Bars of which only the ends are drawn: two upright ticks, each with a short stub towards the label between them."""

from dataclasses import dataclass

import numpy as np

from semwear.data_bar.bar_ends import Bar, Box, clear_tick_centre
from semwear.data_bar.contours import WIDEST_TICK_PX, tick_at_left
from semwear.data_bar.pieces import Pieces
from semwear.data_bar.two_ticks import HIGHEST_PX, LOWEST_PX, bar_between, nearest_pairs

SHORTEST_STUB_PX = 2
LONGEST_STUB = 3.0
"""Columns of a stub, as a share of the rows of its tick: the halves of a line are longer."""
OFF_MIDDLE = 0.15
"""How far a stub may lie off the middle of its tick, as a share of its rows: strokes of letters lie farther off."""


@dataclass(frozen=True, kw_only=True)
class _Mark:
    """One end of a bar: its tick and the stub that leaves it."""

    tick: Box
    stub: Box

    @property
    def width_px(self) -> int:
        return self.tick[3] - self.tick[2] + self.stub[3] - self.stub[2]


def end_marks(plane: np.ndarray, pieces: Pieces, *, shortest_px: int) -> list[Bar]:
    """Return a bar for every left mark and the nearest right one of its size in the same rows.

    plane: (rows, cols) uint8 with bright ink. A letter between both would be ink in the gap, which pairing looks at.
    """
    left, right = [], []
    for index, (col, row, width, height, _) in enumerate(pieces.stats.astype(int)):
        if not index or not LOWEST_PX <= height <= HIGHEST_PX or not 1 < width <= LONGEST_STUB * height + WIDEST_TICK_PX:
            continue
        piece, rows, stop = pieces.labels[row : row + height, col : col + width] == index, (row, row + height), col + width
        if (stub := _stub(piece)) is not None:
            first, last, thick = row + stub[0], row + stub[1], stub[2]
            left.append(_Mark(tick=(*rows, col, col + thick), stub=(first, last, col + thick, stop)))
        elif (stub := _stub(piece[:, ::-1])) is not None:
            first, last, thick = row + stub[0], row + stub[1], stub[2]
            right.append(_Mark(tick=(*rows, stop - thick, stop), stub=(first, last, col, stop - thick)))
    pairs = nearest_pairs(left, right, inner=lambda mark: mark.stub, alike=_alike)
    bars = [_between(plane, one, other) for one, other in pairs]
    return [bar for bar in bars if bar.length_px >= shortest_px]


def _stub(piece: np.ndarray) -> tuple[int, int, int] | None:
    """Return the rows of the stub of a mark whose tick stands at its left, and the column from which it runs; or None.

    >>> mark = np.zeros((7, 6), bool)
    >>> mark[:, 0] = mark[3] = True
    >>> _stub(mark), _stub(mark[:, ::-1]), _stub(mark[3:])
    ((3, 4, 1), None, None)
    """
    height, width = piece.shape
    thick = tick_at_left(piece)
    rows = np.flatnonzero(piece[:, thick:].any(axis=1))
    if not thick or width - thick < SHORTEST_STUB_PX or not len(rows):
        return None
    first, stop = int(rows[0]), int(rows[-1]) + 1
    filled = piece[first:stop, thick:].all() and stop - first <= thick + 1
    middle = abs((first + stop) / 2 - height / 2) <= max(0.5, OFF_MIDDLE * height)
    return (first, stop, thick) if filled and middle and 2 * (stop - first) < height else None


def _alike(one: _Mark, other: _Mark) -> bool:
    """Tell whether two marks stand in the same rows and have like sizes."""
    rows = zip(one.tick[:2] + one.stub[:2], other.tick[:2] + other.stub[:2], strict=True)
    return all(abs(a - b) <= 1 for a, b in rows) and abs(one.width_px - other.width_px) <= 1


def _between(plane: np.ndarray, left: _Mark, right: _Mark) -> Bar:
    """Measure from the middle of one mark's tick to that of the other's."""
    return bar_between(
        (left.tick, right.tick),
        tuple(clear_tick_centre(plane, mark.tick, mark.stub) for mark in (left, right)),
        kind="split",
        line=left.stub[:2],
        others=(left.stub, right.stub),
        gap=(left.stub[3], right.stub[2]),
    )
