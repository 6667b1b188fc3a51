"""Bars of which only the ends are drawn: two upright ticks, each with a short stub towards the label between them."""

import numpy as np

from semwear.data_bar.bar_ends import DOUBTFUL_U_PX, Bar, Box, length_u_px, tick_centre
from semwear.data_bar.pieces import Pieces

LOWEST_PX, HIGHEST_PX = 5, 60
"""Rows of a tick."""
WIDEST_TICK_PX = 4
SHORTEST_STUB_PX = 2
LONGEST_STUB = 3.0
"""Columns of a stub, as a share of the rows of its tick: the halves of a line are longer."""
OFF_MIDDLE = 0.15
"""How far a stub may lie off the middle of its tick, as a share of its rows: strokes of letters lie farther off."""


def end_marks(plane: np.ndarray, pieces: Pieces, *, shortest_px: int) -> list[Bar]:
    """Return a bar for every left mark and the nearest right one of its size in the same rows.

    plane: (rows, cols) uint8 with bright ink. A letter between both would be ink in the gap, which pairing looks at.
    """
    left, right = [], []
    for index, (col, row, width, height, _) in enumerate(pieces.stats.astype(int)):
        if not index or not LOWEST_PX <= height <= HIGHEST_PX or not 1 < width <= LONGEST_STUB * height + WIDEST_TICK_PX:
            continue
        piece, box = pieces.labels[row : row + height, col : col + width] == index, (row, row + height, col, col + width)
        if (stub := _stub(piece)) is not None:
            left.append((box, (row + stub[0], row + stub[1], col + stub[2], col + width)))
        elif (stub := _stub(piece[:, ::-1])) is not None:
            right.append((box, (row + stub[0], row + stub[1], col, col + width - stub[2])))
    found = []
    for one in left:
        beyond = [other for other in right if other[0][2] > one[0][3] and _alike(one, other)]
        if beyond:
            bar = _between(plane, one, min(beyond, key=lambda other: other[0][2]))
            found += [bar] if bar.length_px >= shortest_px else []
    return found


def _stub(piece: np.ndarray) -> tuple[int, int, int] | None:
    """Return the rows of the stub of a mark whose tick stands at its left, and the column from which it runs; or None.

    >>> mark = np.zeros((7, 6), bool)
    >>> mark[:, 0] = mark[3] = True
    >>> _stub(mark), _stub(mark[:, ::-1]), _stub(mark[3:])
    ((3, 4, 1), None, None)
    """
    height, width = piece.shape
    thick = int(np.argmin(np.append(piece.all(axis=0), False)))
    rows = np.flatnonzero(piece[:, thick:].any(axis=1))
    if not 1 <= thick <= WIDEST_TICK_PX or width - thick < SHORTEST_STUB_PX or not len(rows):
        return None
    first, stop = int(rows[0]), int(rows[-1]) + 1
    filled = piece[first:stop, thick:].all() and stop - first <= thick + 1
    middle = abs((first + stop) / 2 - height / 2) <= max(0.5, OFF_MIDDLE * height)
    return (first, stop, thick) if filled and middle and 2 * (stop - first) < height else None


def _alike(one: tuple[Box, Box], other: tuple[Box, Box]) -> bool:
    """Tell whether two marks (box, stub) stand in the same rows and have like sizes."""
    same_rows = all(abs(a - b) <= 1 for a, b in zip(one[0][:2] + one[1][:2], other[0][:2] + other[1][:2], strict=True))
    return same_rows and abs((one[0][3] - one[0][2]) - (other[0][3] - other[0][2])) <= 1


def _between(plane: np.ndarray, one: tuple[Box, Box], other: tuple[Box, Box]) -> Bar:
    """Measure from the middle of one mark's tick to that of the other's."""
    ticks = [(*one[0][:3], one[1][2]), (*other[0][:2], other[1][3], other[0][3])]
    ends = []
    for tick, (_, stub) in zip(ticks, (one, other), strict=True):
        upper = stub[0] - tick[0] >= tick[1] - stub[1]
        ends.append(tick_centre(plane, (tick[0], stub[0], *tick[2:]) if upper else (stub[1], *tick[1:])))
    unsure = max(u for _, u in ends) >= DOUBTFUL_U_PX
    return Bar(
        kind="split", start_px=ends[0][0], stop_px=ends[1][0], row_px=(one[1][0] + one[1][1] - 1) / 2,
        u_px=length_u_px(ends[0][1], ends[1][1]), box=(min(one[0][0], other[0][0]), max(one[0][1], other[0][1]), one[0][2], other[0][3]),
        thickness_px=one[1][1] - one[1][0], parts=(*ticks, one[1], other[1]), gap=(one[0][3], other[0][2]),
        outer_ticks=(True, True), doubt="its ends aren't sure" if unsure else "",
    )  # fmt: skip
