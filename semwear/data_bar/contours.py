"""What the contour of a piece of ink says: equal steps, end ticks, arrow heads."""

import numpy as np

from semwear.data_bar.pieces import stretches_of

FEWEST_STEPS = 3
"""Steps of a bar whose blocks stand on one another's corners, or on a line along it."""
NARROWEST_STEP_PX = 5
"""Columns of such a step at least: narrower ones are ticks."""

WIDEST_DISC = 0.35
"""Columns of a disc at the end of a line at most, as a share of the bar with both discs."""


def has_even_steps(piece: np.ndarray, *, fewest: int = FEWEST_STEPS) -> bool:
    """Tell whether two heights of solid ink take turns along a piece in equal steps, from end to end.

    fewest: steps at least; two are enough between end ticks.

    >>> piece = np.zeros((6, 60), bool)
    >>> piece[3:], piece[:3, :20], piece[:3, 40:] = True, True, True
    >>> has_even_steps(piece), has_even_steps(piece[:, :50])
    (True, False)
    """
    height, width = piece.shape
    inked = piece.any(axis=0)
    upper, lower = piece.argmax(axis=0), height - piece[::-1].argmax(axis=0)
    if not inked.all() or piece.sum() < 0.95 * (lower - upper).sum():
        return False
    middle = (upper + lower) / 2
    span = float(np.ptp(middle))
    if span < 1:
        return False
    state = middle > (middle.min() + middle.max()) / 2
    if min(np.abs(middle[state] - middle.max()).max(), np.abs(middle[~state] - middle.min()).max()) > 1:
        return False
    turns = np.concatenate(([0], np.flatnonzero(np.diff(state.astype(np.int8))) + 1, [width]))
    steps = np.diff(turns)
    return bool(len(steps) >= fewest and np.ptp(steps) <= 2 and steps.min() >= NARROWEST_STEP_PX)


def is_hollow(piece: np.ndarray) -> bool:
    """Tell whether a piece is walls all round and, but for thin walls across, nothing inside."""
    height, width = piece.shape
    if height < 4 or width < 16 or min(piece[0].mean(), piece[-1].mean()) < 0.9:
        return False
    return bool((piece[:, 4:-4].mean(axis=0) > 0.8).mean() < 0.1)


def is_in_blocks(piece: np.ndarray) -> bool:
    """Tell whether a piece is blocks of ink by turns with as much blank, in a frame: neither an outline nor solid.

    >>> walls = np.ones((10, 90), bool)
    >>> walls[1:-1, 1:-1] = False
    >>> blocks = walls.copy()
    >>> blocks[:5, :30] = blocks[5:, 30:60] = blocks[:5, 60:] = True
    >>> is_in_blocks(walls), is_in_blocks(blocks)
    (False, True)
    """
    shares = piece.mean(axis=1)
    inner = shares[shares < 0.9]
    return bool(len(inner) >= 3 and 0.3 <= np.median(inner) <= 0.7)


FREE_SHARE = 0.2
"""Columns at either end of a bar with a label inside that are solid at least, as a share of its length."""


def is_free_at_ends(piece: np.ndarray) -> bool:
    """Tell whether a piece is solid at both ends and has holes in its middle only, as those of a label: an outline has them all along.

    >>> piece = np.ones((12, 90), bool)
    >>> piece[3:9, 30:60:3] = False
    >>> is_free_at_ends(piece)
    True
    >>> piece[3:9, 1:89] = False
    >>> is_free_at_ends(piece)
    False
    """
    holes = np.flatnonzero(~piece[1:-1].all(axis=0))
    # The outermost columns may be covered in part.
    holes = holes[(holes > 1) & (holes < piece.shape[1] - 2)]
    least = FREE_SHARE * piece.shape[1]
    return bool(len(holes) and holes[0] >= least and holes[-1] < piece.shape[1] - least)


WIDEST_TICK_PX = 4


def tick_at_left(piece: np.ndarray) -> int:
    """Number of columns of a tick as high as a piece (rows, cols) bool at its left end; 0 without one, or if it is too broad.

    >>> piece = np.zeros((7, 20), bool)
    >>> piece[3] = piece[:, :2] = True
    >>> tick_at_left(piece), tick_at_left(piece[:, ::-1])
    (2, 0)
    """
    columns = int(np.argmin(np.append(piece.all(axis=0), False)))
    return columns if columns <= WIDEST_TICK_PX else 0


def tick_columns(beyond: np.ndarray) -> int:
    """Number of columns, from the first one on, that an end tick takes; 0 without a tick."""
    width = len(beyond)
    rise = int(beyond[: min(2, width)].max())
    if rise < 2:
        return 0
    columns = 0
    while columns < width and beyond[columns] >= 0.6 * rise:
        columns += 1
    if columns == 0:
        # The outermost column may be half ink only.
        columns = 1
        while columns < width and beyond[columns] >= 0.6 * rise:
            columns += 1
    return columns if columns <= max(6, 0.12 * width) else _disc_columns(beyond)


def _disc_columns(beyond: np.ndarray) -> int:
    """Number of columns, from the first one on, of a mark that rises and falls alike, as a disc does; 0 without one.

    It marks a place by its middle, unlike an arrow head.

    >>> disc = [2, 4, 6, 6, 6, 6, 4, 2]
    >>> _disc_columns(np.array(disc + 20 * [0])), _disc_columns(np.array([0, 2, 4, 6] + 20 * [0]))
    (8, 0)
    """
    blank = np.flatnonzero(beyond == 0)
    mark = beyond[: blank[0] if len(blank) else 0].astype(int)
    if not 3 <= len(mark) <= WIDEST_DISC * len(beyond) or mark[0] > 0.7 * mark.max():
        return 0
    return len(mark) if np.abs(mark - mark[::-1]).max() <= 2 else 0


def head_columns(beyond: np.ndarray) -> int:
    """Number of columns, from the first one on, that an arrow head with its tip at the end takes; 0 without one.

    >>> head_columns(np.array([0, 2, 4, 6] + 16 * [0])), head_columns(np.array([6, 6] + 18 * [0]))
    (4, 0)
    """
    near = beyond[: max(len(beyond) // 3, 4)].astype(int)
    peak = int(near.argmax())
    if peak < 2 or near[peak] < 3 or near[0] > 0.5 * near[peak] or peak + 1 >= len(near):
        return 0
    rises = np.diff(near[: peak + 1])
    last = peak + 1
    while last < len(near) and near[last] >= near[peak] - 1:
        last += 1
    falls_off = last + 1 < len(near) and near[last : last + 3].min() <= 1
    even = rises.min() >= 0 and rises.max() <= max(2, 0.6 * near[peak]) and np.count_nonzero(rises) >= 2
    return last if even and falls_off and last - peak <= 2 else 0


def rises_narrowly(inner: np.ndarray) -> bool:
    """Tell whether the ink between the ends rises in narrow ticks only."""
    edges = stretches_of(inner > 0)
    widths = edges[:, 1] - edges[:, 0]
    return not len(widths) or widths.max() <= max(6, 2 * np.median(widths))
