"""Lines that are dressed up: end ticks with serifs or arrow heads, and a label in a box that parts the line.

All are one connected piece of ink that is no plain line with ticks until what dresses it is taken off.
"""

import numpy as np

from semwear.data_bar.contours import tick_at_left
from semwear.data_bar.pieces import stretches_of

LARGEST_SERIF = 0.3
"""Rows of a serif at most, as a share of the height of its tick."""
WIDEST_ZONE = 0.3
"""Columns at either end of a bar in which its tick and serifs stand at most, as a share of the bar."""
LEAST_MIRRORED = 0.8
"""Share of an arrow head's ink at least that its line mirrors: heads point along their line."""


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


def without_heads(piece: np.ndarray) -> np.ndarray | None:
    """Return a line, or the half of one that its label parts, without the arrow heads that point at its end ticks; or None.

    piece: (rows, cols) bool, cut to its box. A head opens away from its tick, and the line mirrors it.

    >>> piece = np.zeros((9, 40), bool)
    >>> piece[4] = piece[:, 0] = True
    >>> piece[[3, 5], 2] = piece[[2, 6], 4] = piece[[2, 3, 5, 6], 3] = True
    >>> bare = without_heads(piece)
    >>> int(bare.sum()), without_heads(bare) is None
    (48, True)
    """
    height, width = piece.shape
    lines = stretches_of(piece.mean(axis=1) >= 1 - 1.5 / width)
    if height < 5 or width < height or len(lines) != 1 or abs(lines[0].sum() - height) > 2:
        return None
    first, stop = (int(edge) for edge in lines[0])
    bare = piece.copy()
    for side in (bare, bare[:, ::-1]):  # Views: what is taken off either end is taken off the piece.
        tick = tick_at_left(side)
        head = side[:, tick : min(tick + height, width // 2 if width > 2 * height else width)].copy()
        head[first:stop] = False
        wide = np.flatnonzero(head.any(axis=0))
        if not tick or not len(wide):
            continue
        upper, lower = head[:first][::-1], head[stop:]
        alike = max(_shared(upper, lower), _shared(upper[1:], lower), _shared(upper, lower[1:]))  # Or a row off.
        spread = [float(np.ptp(np.flatnonzero(head[:, col]))) for col in (wide[0], wide[-1])]
        if alike >= LEAST_MIRRORED * head.sum() / 2 and spread[0] < spread[1]:
            side[:, tick : tick + head.shape[1]] &= ~head
    return bare if (bare != piece).any() else None


def _shared(one: np.ndarray, other: np.ndarray) -> int:
    """Return how much ink two pieces share, laid over each other from their first row on."""
    rows = min(len(one), len(other))
    return int((one[:rows] & other[:rows]).sum())


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
