"""Panels of the data bar: strips and boxes of one flat tone, found without reading a word.

Instruments print a panel in one tone. Noise makes a micrograph vary from pixel to pixel, so that a connected area
whose 3 × 3 neighbourhoods hardly vary and whose outline is an upright rectangle is a panel (this project's own
criterion). Cells parted by thin frame lines are joined into one panel.
"""

from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np

from semwear.data_bar.pieces import pieces_of, stretches_of

FLAT_RANGE = 6
"""Largest range of grey (of 255) in a 3 × 3 neighbourhood that still counts as flat; JPEG leaves a few levels."""
SAME_TONE = 14
"""Grey levels (of 255) by which a panel's ground may wander."""
ONE_TONE_SHARE = 0.7
"""Share of a panel's flat pixels within one grey level of its tone, unless steps cut it out on every side."""
SIDE_SHARE = 0.7
"""Least share of a panel's tone along each of its sides."""
FILLED_ROW = 0.2
"""Share of a strip's row that shows its ground between letters and beside a bar."""
CUT_OUT_SHARE, STEPPED_SHARE = 0.75, 0.3
"""Share of each side that must be a step; where the panel has one tone throughout, share of each side, twice on average."""
SMALL_STEP = 8
"""Grey levels of the step that the sides of a panel of one tone still need: a flat part of a picture fades."""
CUT_OUT_STEP = 20
"""Grey levels (of 255) of the step along a side that cuts a panel out of the picture."""
ROW_TONE, ROWS_FILLED, MOST_TONES = 3, 0.5, 4
"""Grey levels around the commonest tone of a plain row, least share of a strip's tone in its rows, and tones that are tried."""
LARGEST_HEIGHT_SHARE = 0.4
"""A wide flat rectangle higher than this share of the picture is a picture without contrast, not a panel."""
LONG_CELL_SHARE = 0.3
"""Share of the picture's width from which a cell shows the rows and the tone of a strip."""
BESIDE_BAR_PX, CLOSED_SHARE = 6, 0.95
"""Columns of ground beside a bar in a box that is hardly wider, and share of ground in the rows beyond the bar."""
UNEVEN_PX = 4
"""Columns at a side of a box that JPEG makes uneven at most."""
GOES_ON_PX, GOES_ON_SHARE = 2, 0.25
"""Columns beside a panel and share of its own tone in them, from which it goes on there."""
SAME_HALVES = 1.0
"""Grey levels by which the tones of two halves of one box differ at most."""
ALIKE_SHARE = 0.6
"""Height of a cell over that of one beside it: a dark spot of the picture beside a panel is no part of it."""
FRAME_PX = 8
"""Frame lines up to this thick are joined to their panel."""


@dataclass(frozen=True, kw_only=True)
class Panel:
    """An upright flat rectangle: rows [row_0, row_1) and columns [col_0, col_1) in px, and its grey (0..255)."""

    row_0: int
    row_1: int
    col_0: int
    col_1: int
    grey: float

    @property
    def slices(self) -> tuple[slice, slice]:
        return slice(self.row_0, self.row_1), slice(self.col_0, self.col_1)


def find_panels(grey: np.ndarray) -> tuple[Panel, ...]:
    """Find strips and boxes in a (rows, cols) uint8 picture, top to bottom; an empty tuple if there are none.

    >>> picture = np.random.default_rng(0).integers(60, 200, (300, 400)).astype(np.uint8)
    >>> picture[270:] = 255
    >>> [(panel.row_0, panel.row_1, panel.col_0, panel.col_1) for panel in find_panels(picture)]
    [(270, 300, 0, 400)]
    """
    rows, cols = grey.shape
    if rows < 24 or cols < 48:
        return ()
    kernel = np.ones((3, 3), np.uint8)
    spread = cv2.dilate(grey, kernel) - cv2.erode(grey, kernel)
    flat = (spread <= FLAT_RANGE).astype(np.uint8)
    pieces = pieces_of(flat, connectivity=4)
    labels, stats = pieces.labels, pieces.stats
    cells, unsure, parts = [], [], []
    _, _, width, height, area = stats.T
    large = (width >= 24) & (height >= 8) & ((area >= 0.2 * width * height) | (width >= 0.9 * cols)) & (area >= 300)
    large[0] = False
    for index in np.flatnonzero(large):
        left, top, width, height = (int(value) for value in stats[index][:4])
        inside = labels[top : top + height, left : left + width] == index
        cell = None
        if inside.mean() >= 0.2 and not (height > LARGEST_HEIGHT_SHARE * rows and width >= 0.9 * cols):
            cell, values = _cell(grey, inside, top, left)
        if cell is None and (width >= 0.9 * cols or height >= 0.9 * rows):
            # A smooth part of the picture hangs on to a strip.
            cell, values = _strip_cell(grey, inside, top, left, upright=width < 0.9 * cols)
        if cell is None:
            continue
        tone = cell.grey
        cell = _grown(grey, cell)
        one_tone = (np.abs(values.astype(np.int16) - int(tone)) <= 1).mean() >= ONE_TONE_SHARE
        wide = cell.col_1 - cell.col_0 >= 0.9 * cols
        if not _is_rectangle(grey, cell):
            continue
        around = _steps(grey, cell, least=SMALL_STEP, distances=(1, 2, 3))
        stepped = wide or (min(around) > STEPPED_SHARE and float(np.mean(around)) > 2 * STEPPED_SHARE)
        if (one_tone and stepped) or min(_steps(grey, cell)) > CUT_OUT_SHARE:
            cells.append(cell)
        else:
            parts.append(cell)
            unsure += [cell] if one_tone else []
    cells += _halves_joined(grey, cells + parts)
    cells = [_widened(grey, cell) for cell in cells]

    def shows_its_rest(cell: Panel, other: Panel) -> bool:
        return (cell.col_1 - cell.col_0 >= LONG_CELL_SHARE * cols or _adjoin(cell, other)) and _is_cut_off(other, cell)

    cells += [cell for cell in unsure if any(shows_its_rest(other, cell) for other in cells)]
    cells += [strip for strip in _strips_by_rows(grey) if not any(_holds(cell, strip) for cell in cells)]
    panels = _joined(grey, cells)
    panels = [_framed(grey, _past_bar(grey, panel)) for panel in panels]
    kept = [
        panel
        for panel in panels
        if panel.row_1 - panel.row_0 >= 12
        and (panel.row_1 - panel.row_0 <= LARGEST_HEIGHT_SHARE * rows or panel.col_1 - panel.col_0 <= 0.45 * cols)
        and panel.col_1 - panel.col_0 >= 0.06 * cols
    ]
    kept = [panel for panel in kept if not any(_holds(other, panel) for other in kept)]
    return tuple(sorted(kept, key=lambda panel: (panel.row_0, panel.col_0)))


def _halves_joined(grey: np.ndarray, parts: list[Panel]) -> list[Panel]:
    """Return the boxes that two halves of one tone make up: where the other goes on, a half isn't cut out of the picture."""
    found = []
    for one, other in combinations(parts, 2):
        both = _around(one, other)
        if abs(one.grey - other.grey) <= SAME_HALVES and _adjoin(one, other) and _is_rectangle(grey, both):
            found += [both] if min(_steps(grey, both)) > CUT_OUT_SHARE else []
    return found


def _around(one: Panel, other: Panel) -> Panel:
    """Return the smallest box around two, of the first one's tone."""
    return Panel(
        row_0=min(one.row_0, other.row_0),
        row_1=max(one.row_1, other.row_1),
        col_0=min(one.col_0, other.col_0),
        col_1=max(one.col_1, other.col_1),
        grey=one.grey,
    )


def _strips_by_rows(grey: np.ndarray) -> list[Panel]:
    """Return the strips over the whole width whose rows are mostly of one tone.

    In a low strip what compression leaves around the letters parts the flat ground into pieces, of which none is the strip.
    """
    rows, cols = grey.shape
    tones = np.array([np.bincount(row, minlength=256).argmax() for row in grey])
    plain = (np.abs(grey.astype(np.int16) - tones[:, None]) <= ROW_TONE).mean(axis=1) >= SIDE_SHARE
    strips: list[Panel] = []
    for tone in _commonest_tones(tones[plain]):
        shares = _near(grey, tone).mean(axis=1)
        for first, last in stretches_of(shares >= FILLED_ROW):
            rims = first + np.flatnonzero(shares[first:last] >= SIDE_SHARE)
            if not rims.size:
                continue
            row_0, row_1 = int(rims[0]), int(rims[-1]) + 1
            strip = Panel(row_0=row_0, row_1=row_1, col_0=0, col_1=cols, grey=float(tone))
            low = 12 <= row_1 - row_0 <= LARGEST_HEIGHT_SHARE * rows
            known = any(row_0 < other.row_1 and other.row_0 < row_1 for other in strips)  # by a tone next to this one
            if not low or known or shares[row_0:row_1].mean() < ROWS_FILLED:
                continue
            if min(_steps(grey, strip)) > CUT_OUT_SHARE:
                strips.append(strip)
    return strips


def _commonest_tones(tones: np.ndarray) -> list[int]:
    """Return the greys that most rows have, two rows at least; compression moves a strip's grey a little from row to row.

    >>> _commonest_tones(np.array([200, 22, 20, 24, 90, 91, 22]))
    [22, 90]
    """
    found: list[int] = []
    while len(tones) and len(found) < MOST_TONES:
        values, counts = np.unique(tones, return_counts=True)
        alike = [int(counts[np.abs(values - value) <= ROW_TONE].sum()) for value in values]
        # Of those that stand for as many rows, the one that most rows have themselves.
        best = max(range(len(values)), key=lambda place: (alike[place], counts[place]))
        if alike[best] < 2:
            break
        found.append(int(values[best]))
        tones = tones[np.abs(tones - values[best]) > ROW_TONE]
    return found


def _cell(grey: np.ndarray, inside: np.ndarray, top: int, left: int) -> tuple[Panel | None, np.ndarray]:
    """Return the rectangle that a flat area (bool, cut to its box at top and left) fills, or None, and its greys."""
    height, width = inside.shape
    values = grey[top : top + height, left : left + width][inside]
    if not values.size:
        return None, values
    box = Panel(row_0=top, row_1=top + height, col_0=left, col_1=left + width, grey=float(np.median(values)))
    return _trimmed(grey, box), values


def _strip_cell(
    grey: np.ndarray, inside: np.ndarray, top: int, left: int, *, upright: bool
) -> tuple[Panel | None, np.ndarray]:
    """Return the strip within a flat area that a smooth part of the picture hangs on to, or None, and its greys."""
    part = grey[top : top + inside.shape[0], left : left + inside.shape[1]]
    first, last = _strip_rows(part.T, inside.T) if upright else _strip_rows(part, inside)
    kept = inside[:, first:last] if upright else inside[first:last]
    if last - first < (24 if upright else 8) or kept.mean() < 0.15:
        return None, part[inside]
    return _cell(grey, kept, top + (0 if upright else first), left + (first if upright else 0))


def _strip_rows(grey: np.ndarray, inside: np.ndarray) -> tuple[int, int]:
    """Return the rows [first, last) of a strip within a flat area that a smooth part of the picture may hang on to."""
    tone = int(np.bincount(grey[inside]).argmax())
    filled = (np.abs(grey.astype(np.int16) - tone) <= 2).mean(axis=1) >= FILLED_ROW
    edges = stretches_of(filled)
    if not len(edges):
        return 0, 0
    first, last = edges[np.argmax(edges[:, 1] - edges[:, 0])]
    return max(int(first) - 1, 0), min(int(last) + 1, len(filled))


def _holds(outer: Panel, inner: Panel) -> bool:
    return (
        outer is not inner
        and outer.row_0 <= inner.row_0
        and inner.row_1 <= outer.row_1
        and outer.col_0 <= inner.col_0
        and inner.col_1 <= outer.col_1
    )


def _near(grey: np.ndarray, tone: float) -> np.ndarray:
    return np.abs(grey.astype(np.int16) - int(round(tone))) <= SAME_TONE


def _trimmed(grey: np.ndarray, panel: Panel) -> Panel | None:
    """Take off rims by which flat parts of the picture hang on to the panel; None if no rectangle is left."""
    row_0, row_1, col_0, col_1 = panel.row_0, panel.row_1, panel.col_0, panel.col_1
    near = _near(grey[panel.slices], panel.grey)
    while row_1 - row_0 > 8 and col_1 - col_0 > 24:
        part = near[row_0 - panel.row_0 : row_1 - panel.row_0, col_0 - panel.col_0 : col_1 - panel.col_0]
        shares = [part[0].mean(), part[-1].mean(), part[:, 0].mean(), part[:, -1].mean()]
        worst = int(np.argmin(shares))
        if shares[worst] >= SIDE_SHARE:
            return Panel(row_0=row_0, row_1=row_1, col_0=col_0, col_1=col_1, grey=panel.grey)
        row_0, row_1 = row_0 + (worst == 0), row_1 - (worst == 1)
        col_0, col_1 = col_0 + (worst == 2), col_1 - (worst == 3)
        if (row_1 - row_0) * (col_1 - col_0) < 0.6 * near.size:
            return None
    return None


def _grown(grey: np.ndarray, panel: Panel) -> Panel:
    """Give back the rim that the 3 × 3 neighbourhood took, where the rim has the panel's tone."""
    rows, cols = grey.shape
    row_0, row_1, col_0, col_1 = panel.row_0, panel.row_1, panel.col_0, panel.col_1
    if row_0 > 0 and _near(grey[row_0 - 1, col_0:col_1], panel.grey).mean() > 0.75:
        row_0 -= 1
    if row_1 < rows and _near(grey[row_1, col_0:col_1], panel.grey).mean() > 0.75:
        row_1 += 1
    if col_0 > 0 and _near(grey[row_0:row_1, col_0 - 1], panel.grey).mean() > 0.75:
        col_0 -= 1
    if col_1 < cols and _near(grey[row_0:row_1, col_1], panel.grey).mean() > 0.75:
        col_1 += 1
    return Panel(row_0=row_0, row_1=row_1, col_0=col_0, col_1=col_1, grey=panel.grey)


def _is_rectangle(grey: np.ndarray, panel: Panel) -> bool:
    near = _near(grey[panel.slices], panel.grey)
    sides = (near[0].mean(), near[-1].mean(), near[:, 0].mean(), near[:, -1].mean())
    return near.mean() >= 0.35 and min(sides) >= SIDE_SHARE


def _steps(grey: np.ndarray, panel: Panel, *, least: float = CUT_OUT_STEP, distances=(3,)) -> list[float]:
    """Share of each side inside the picture that is a step against pixels beyond it; [1.0] if there is no such side."""
    rows, cols = grey.shape
    tone = int(round(panel.grey))
    sides = []
    for at, step, limit in (
        (panel.row_0, -1, rows),
        (panel.row_1 - 1, 1, rows),
        (panel.col_0, -1, cols),
        (panel.col_1 - 1, 1, cols),
    ):
        upright = len(sides) >= 2
        places = [at + step * distance for distance in distances]
        places = [place for place in places if 0 <= place < limit]
        if len(places) < len(distances):
            sides.append(None)
            continue
        lines = grey[panel.row_0 : panel.row_1, places].T if upright else grey[places, panel.col_0 : panel.col_1]
        sides.append(float((np.abs(lines.astype(np.int16) - tone) > least).any(axis=0).mean()))
    return [side for side in sides if side is not None] or [1.0]


def _joined(grey: np.ndarray, cells: list[Panel]) -> list[Panel]:
    """Join cells of like tone that share their rows or their columns and are parted by a frame line only."""
    panels = list(cells)
    merged = True
    while merged:
        merged = False
        for first in range(len(panels)):
            for second in range(first + 1, len(panels)):
                one, other = panels[first], panels[second]
                if abs(one.grey - other.grey) > 2 * SAME_TONE:
                    continue
                both = _around(one, other)
                if not (_adjoin(one, other) or _in_level(one, other)):
                    continue
                if not (_adjoin(one, other) and _is_alike(one, other)) and not _is_rectangle(grey, both):
                    continue
                panels[first] = both
                del panels[second]
                merged = True
                break
            if merged:
                break
    return panels


def _is_alike(one: Panel, other: Panel) -> bool:
    """Tell whether two cells side by side, or one above the other, are about as high, or as wide, as each other."""
    heights = sorted((one.row_1 - one.row_0, other.row_1 - other.row_0))
    widths = sorted((one.col_1 - one.col_0, other.col_1 - other.col_0))
    beside = min(one.row_1, other.row_1) > max(one.row_0, other.row_0)
    short, long = heights if beside else widths
    return short >= ALIKE_SHARE * long


def _adjoin(one: Panel, other: Panel) -> bool:
    row_gap = max(one.row_0, other.row_0) - min(one.row_1, other.row_1)
    col_gap = max(one.col_0, other.col_0) - min(one.col_1, other.col_1)
    lower = min(one.row_1 - one.row_0, other.row_1 - other.row_0)
    slimmer = min(one.col_1 - one.col_0, other.col_1 - other.col_0)
    beside = -row_gap >= 0.8 * lower and col_gap <= FRAME_PX
    stacked = -col_gap >= 0.8 * slimmer and row_gap <= FRAME_PX
    return beside or stacked


def _in_level(one: Panel, other: Panel) -> bool:
    """Tell whether two cells are parts of one strip that a label and bar as high as the strip have parted."""
    level = max(abs(one.row_0 - other.row_0), abs(one.row_1 - other.row_1)) <= 3
    col_gap = max(one.col_0, other.col_0) - min(one.col_1, other.col_1)
    return level and abs(one.grey - other.grey) <= 4 and col_gap <= 12 * (one.row_1 - one.row_0)


def _is_cut_off(cell: Panel, other: Panel) -> bool:
    """Tell whether a cell is the rest of a strip or box that letters as high as it cut off the other one."""
    rows = max(abs(cell.row_0 - other.row_0), abs(cell.row_1 - other.row_1))
    return rows <= 1 and abs(cell.grey - other.grey) <= 1


def _widened(grey: np.ndarray, cell: Panel) -> Panel:
    """Return the strip over the whole width that a cell at a side of the picture belongs to, or the cell.

    What JPEG leaves around letters cuts a strip where they are about as high as it is.
    """
    cols = grey.shape[1]
    whole = Panel(row_0=cell.row_0, row_1=cell.row_1, col_0=0, col_1=cols, grey=cell.grey)
    at_side = (cell.col_0 == 0) != (cell.col_1 == cols)
    return whole if at_side and _is_rectangle(grey, whole) and min(_steps(grey, whole)) > CUT_OUT_SHARE else cell


def _to_its_sides(grey: np.ndarray, panel: Panel) -> Panel:
    """Return the panel with the columns at its sides that JPEG made too uneven to be flat, though they have its tone."""
    cols, col_0, col_1 = grey.shape[1], panel.col_0, panel.col_1

    def is_own(col: int) -> bool:
        return bool(_near(grey[panel.row_0 : panel.row_1, col], panel.grey).mean() > 0.75)

    while col_0 > max(panel.col_0 - UNEVEN_PX, 0) and is_own(col_0 - 1):
        col_0 -= 1
    while col_1 < min(panel.col_1 + UNEVEN_PX, cols) and is_own(col_1):
        col_1 += 1
    return Panel(row_0=panel.row_0, row_1=panel.row_1, col_0=col_0, col_1=col_1, grey=panel.grey)


def _past_bar(grey: np.ndarray, panel: Panel) -> Panel:
    """Return the panel with the rows that a bar nearly as wide as it has parted from it, closed by its own tone beyond."""
    rows, cols = grey.shape
    if panel.col_1 - panel.col_0 >= 0.9 * cols:
        return panel
    given, panel = panel, _to_its_sides(grey, panel)
    outside = np.r_[max(panel.col_0 - GOES_ON_PX, 0) : panel.col_0, panel.col_1 : min(panel.col_1 + GOES_ON_PX, cols)]
    if _near(grey[panel.row_0 : panel.row_1, outside], panel.grey).mean() > GOES_ON_SHARE:
        return given  # A piece of a strip that letters cut off, and no box.
    near = _near(grey[:, panel.col_0 : panel.col_1], panel.grey)
    beside = near[:, :BESIDE_BAR_PX].any(axis=1) & near[:, -BESIDE_BAR_PX:].any(axis=1)
    closed = near.mean(axis=1) > CLOSED_SHARE
    most = panel.row_1 - panel.row_0

    def reach(at: int, step: int) -> int:
        found, row = 0, at + step
        while 0 <= row < rows and beside[row] and abs(row - at) <= most:
            found = abs(row - at) if closed[row] else found
            row += step
        return found

    row_0 = panel.row_0 - reach(panel.row_0, -1)
    row_1 = panel.row_1 + reach(panel.row_1 - 1, 1)
    return Panel(row_0=row_0, row_1=row_1, col_0=panel.col_0, col_1=panel.col_1, grey=panel.grey)


def _framed(grey: np.ndarray, panel: Panel) -> Panel:
    """Add frame lines around the panel: rows and columns of one tone of their own, up to FRAME_PX of them."""
    rows, cols = grey.shape
    row_0, row_1, col_0, col_1 = panel.row_0, panel.row_1, panel.col_0, panel.col_1

    def plain(line: np.ndarray) -> bool:
        return bool(_near(line, float(np.median(line))).mean() > 0.9 and np.ptp(np.percentile(line, (10, 90))) <= 8)

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
