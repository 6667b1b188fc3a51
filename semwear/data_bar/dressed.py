"""Lines that are dressed up: end ticks with serifs, and a label in a box that parts the line.

Both are one connected piece of ink that is no plain line with ticks until what dresses it is taken off.
"""

import numpy as np

from semwear.data_bar.pieces import stretches_of

LARGEST_SERIF = 0.3
"""Rows of a serif at most, as a share of the height of its tick."""
WIDEST_ZONE = 0.3
"""Columns at either end of a bar in which its tick and serifs stand at most, as a share of the bar."""


def without_serifs(piece: np.ndarray) -> tuple[np.ndarray, int] | None:
    """Return a line with end ticks without the serifs of those, and the column at which it begins; None if it has none.

    piece: (rows, cols) bool, cut to its box. The serifs reach beyond their ticks, which alone mark the ends.

    >>> piece = np.zeros((11, 60), bool)
    >>> piece[5], piece[:, 3], piece[:, 56], piece[[0, -1], :7], piece[[0, -1], -7:] = True, True, True, True, True
    >>> piece[5, :3] = piece[5, 57:] = False
    >>> bare, first = without_serifs(piece)
    >>> bare.shape, first, bool(bare[0].sum() == 2)
    ((11, 54), 3, True)
    """
    height, width = piece.shape
    zone = min(height + 2, int(WIDEST_ZONE * width))
    serif = max(1, int(LARGEST_SERIF * height))
    if height < 5 or zone < 3:
        return None
    whole = piece.mean(axis=0) >= 1 - 0.5 / height
    ticks = [stretches_of(whole[:zone]), stretches_of(whole[width - zone :]) + width - zone]
    if any(len(stretches) != 1 for stretches in ticks):
        return None
    (left, _), (_, right) = ticks[0][0], ticks[1][0]
    spoilt = np.zeros(piece.shape, bool)
    spoilt[:serif], spoilt[height - serif :] = True, True
    spoilt[:, whole] = False
    spoilt[:, zone : width - zone] = False
    beside = np.concatenate([piece[serif : height - serif, :left], piece[serif : height - serif, right:]], axis=1)
    if left + width - right < 2 or beside.any() or not (piece & spoilt).any():
        return None
    return (piece & ~spoilt)[:, left:right], int(left)


def halves_beside_box(piece: np.ndarray) -> list[tuple[int, int]]:
    """Return the columns [first, stop) of both halves of a line that the box of its label parts, or none.

    piece: (rows, cols) bool, cut to its bounding box, in which the line meets the walls of the label's box.

    >>> piece = np.zeros((13, 90), bool)
    >>> piece[6, :35] = piece[6, 55:] = piece[[0, -1], 35:55] = piece[:, [35, 54]] = True
    >>> halves_beside_box(piece)
    [(0, 35), (55, 90)]
    """
    height, width = piece.shape
    if height < 7:
        return []
    for row in np.argsort(-piece.sum(axis=1), kind="stable")[:6]:
        runs = stretches_of(piece[row])
        if len(runs) != 2 or runs[0, 0] > 1 or runs[1, 1] < width - 1:
            continue
        first, stop = int(runs[0, 1]), int(runs[1, 0])
        wall = [int(np.argmin(side)) if not side.all() else len(side) for side in _walls(piece, int(row), first, stop)]
        edge_0, edge_1 = first - wall[0], stop + wall[1]
        box = piece[:, edge_0:edge_1]
        full = np.flatnonzero(box.mean(axis=1) >= 1 - 1.5 / max(box.shape[1], 1))
        if min(wall) and edge_0 > 4 and edge_1 < width - 4 and len(full) and full[0] < row < full[-1]:
            return [(0, edge_0), (edge_1, width)]
    return []


def _walls(piece: np.ndarray, row: int, first: int, stop: int) -> tuple[np.ndarray, np.ndarray]:
    """Return for the columns from a blank [first, stop) of a row outwards whether ink goes on above and below that row."""
    upright = piece[max(row - 3, 0) : row + 4].mean(axis=0) >= 0.99
    return upright[:first][::-1], upright[stop:]
