"""What belongs to a panel at its sides: columns that compression made uneven, rows beyond a bar, frame lines."""

import numpy as np

from semwear.data_bar.panel import CUT_OUT_SHARE, FRAME_PX, Panel, has_tone, is_rectangle, steps

BESIDE_BAR_PX, CLOSED_SHARE = 6, 0.95
"""Columns of ground beside a bar in a box that is hardly wider, and share of ground in the rows beyond the bar."""
UNEVEN_PX = 4
"""Columns at a side of a box that JPEG makes uneven at most."""
GOES_ON_PX, GOES_ON_SHARE = 2, 0.25
"""Columns beside a panel and share of its own tone in them, from which it goes on there."""


def widened(grey: np.ndarray, cell: Panel) -> Panel:
    """Return the strip over the whole width that a cell at a side of the picture belongs to, or the cell.

    What JPEG leaves around letters cuts a strip where they are about as high as it is.
    """
    cols = grey.shape[1]
    whole = Panel(row_0=cell.row_0, row_1=cell.row_1, col_0=0, col_1=cols, grey=cell.grey)
    at_side = (cell.col_0 == 0) != (cell.col_1 == cols)
    return whole if at_side and is_rectangle(grey, whole) and min(steps(grey, whole)) > CUT_OUT_SHARE else cell


def _to_its_sides(grey: np.ndarray, panel: Panel) -> Panel:
    """Return the panel with the columns at its sides that JPEG made too uneven to be flat, though they have its tone."""
    cols, col_0, col_1 = grey.shape[1], panel.col_0, panel.col_1

    def is_own(col: int) -> bool:
        return bool(has_tone(grey[panel.row_0 : panel.row_1, col], panel.grey).mean() > 0.75)

    while col_0 > max(panel.col_0 - UNEVEN_PX, 0) and is_own(col_0 - 1):
        col_0 -= 1
    while col_1 < min(panel.col_1 + UNEVEN_PX, cols) and is_own(col_1):
        col_1 += 1
    return Panel(row_0=panel.row_0, row_1=panel.row_1, col_0=col_0, col_1=col_1, grey=panel.grey)


def past_bar(grey: np.ndarray, panel: Panel) -> Panel:
    """Return the panel with the rows that a bar nearly as wide as it has parted from it, closed by its own tone beyond."""
    cols = grey.shape[1]
    if panel.col_1 - panel.col_0 >= 0.9 * cols:
        return panel
    given, panel = panel, _to_its_sides(grey, panel)
    outside = np.r_[max(panel.col_0 - GOES_ON_PX, 0) : panel.col_0, panel.col_1 : min(panel.col_1 + GOES_ON_PX, cols)]
    if has_tone(grey[panel.row_0 : panel.row_1, outside], panel.grey).mean() > GOES_ON_SHARE:
        return given  # A piece of a strip that letters cut off, and no box.
    near = has_tone(grey[:, panel.col_0 : panel.col_1], panel.grey)
    beside = near[:, :BESIDE_BAR_PX].any(axis=1) & near[:, -BESIDE_BAR_PX:].any(axis=1)
    closed = near.mean(axis=1) > CLOSED_SHARE
    most = panel.row_1 - panel.row_0

    row_0 = panel.row_0 - _reach(panel.row_0, -1, beside, closed, most)
    row_1 = panel.row_1 + _reach(panel.row_1 - 1, 1, beside, closed, most)
    return Panel(row_0=row_0, row_1=row_1, col_0=panel.col_0, col_1=panel.col_1, grey=panel.grey)


def past_letters(grey: np.ndarray, panel: Panel) -> Panel:
    """Return the box with the columns at its sides that a label as high as most of it has parted from it, closed by its own tone beyond."""
    if panel.col_1 - panel.col_0 >= 0.9 * grey.shape[1]:
        return panel
    near = has_tone(grey[panel.row_0 : panel.row_1], panel.grey)
    share = near.mean(axis=0)
    goes_on = near[:GOES_ON_PX].any(axis=0) & near[-GOES_ON_PX:].any(axis=0) & (share > GOES_ON_SHARE)
    closed, most = share > CLOSED_SHARE, panel.col_1 - panel.col_0
    col_0 = panel.col_0 - _reach(panel.col_0, -1, goes_on, closed, most)
    col_1 = panel.col_1 + _reach(panel.col_1 - 1, 1, goes_on, closed, most)
    return Panel(row_0=panel.row_0, row_1=panel.row_1, col_0=col_0, col_1=col_1, grey=panel.grey)


def _reach(at: int, step: int, goes_on: np.ndarray, closed: np.ndarray, most: int) -> int:
    """Return how far from a row or column a panel reaches that goes on beyond it, up to where it is closed last."""
    found, place = 0, at + step
    while 0 <= place < len(goes_on) and goes_on[place] and abs(place - at) <= most:
        found = abs(place - at) if closed[place] else found
        place += step
    return found


def framed(grey: np.ndarray, panel: Panel) -> Panel:
    """Add frame lines around the panel: rows and columns of one tone of their own, up to FRAME_PX of them."""
    rows, cols = grey.shape
    row_0, row_1, col_0, col_1 = panel.row_0, panel.row_1, panel.col_0, panel.col_1

    def plain(line: np.ndarray) -> bool:
        return bool(has_tone(line, float(np.median(line))).mean() > 0.9 and np.ptp(np.percentile(line, (10, 90))) <= 8)

    def reach(lines, limit: int) -> int:
        found = 0
        for step in range(min(FRAME_PX, limit)):
            if not plain(lines(step)):
                return found
            found = step + 1
        return found if limit <= FRAME_PX else 0

    row_0 -= reach(lambda step: grey[row_0 - 1 - step, col_0:col_1], row_0)
    row_1 += reach(lambda step: grey[row_1 + step, col_0:col_1], rows - row_1)
    col_0 -= reach(lambda step: grey[row_0:row_1, col_0 - 1 - step], col_0)
    col_1 += reach(lambda step: grey[row_0:row_1, col_1 + step], cols - col_1)
    if col_1 - col_0 >= 0.95 * cols:
        col_0, col_1 = 0, cols
    return Panel(row_0=row_0, row_1=row_1, col_0=col_0, col_1=col_1, grey=panel.grey)
