"""Panels of the data bar: strips and boxes of one flat tone, found without reading a word.

Instruments print a panel in one tone. Noise makes a micrograph vary from pixel to pixel, so that a connected area
whose 3 × 3 neighbourhoods hardly vary and whose outline is an upright rectangle is a panel (this project's own
criterion). Cells parted by thin frame lines are joined into one panel.
"""

from itertools import pairwise

import cv2
import numpy as np

from semwear.data_bar.joined_panels import halves_joined, is_cut_off, joined
from semwear.data_bar.panel import (
    CUT_OUT_SHARE,
    LARGEST_HEIGHT_SHARE,
    SIDE_SHARE,
    STEPPED_SHARE,
    Panel,
    adjoin,
    has_tone,
    holds,
    is_rectangle,
    steps,
)
from semwear.data_bar.panel_sides import framed, past_bar, past_letters, widened
from semwear.data_bar.pieces import pieces_of, stretches_of
from semwear.data_bar.strips_by_rows import FILLED_ROW, strips_by_rows

FLAT_RANGE = 6
"""Largest range of grey (of 255) in a 3 × 3 neighbourhood that still counts as flat; JPEG leaves a few levels."""
ONE_TONE_SHARE = 0.7
"""Share of a panel's flat pixels within one grey level of its tone, unless steps cut it out on every side."""
SMALL_STEP = 8
"""Grey levels of the step that the sides of a panel of one tone still need: a flat part of a picture fades."""
DENSE_ROWS = 3
"""Rows that print fills so densely that less of the ground shows: they part no strip."""
LONG_CELL_SHARE = 0.3
"""Share of the picture's width from which a cell shows the rows and the tone of a strip."""


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
        if not is_rectangle(grey, cell):
            continue
        around = steps(grey, cell, least=SMALL_STEP, distances=(1, 2, 3))
        stepped = wide or (min(around) > STEPPED_SHARE and float(np.mean(around)) > 2 * STEPPED_SHARE)
        if (one_tone and stepped) or min(steps(grey, cell)) > CUT_OUT_SHARE:
            cells.append(cell)
        else:
            parts.append(cell)
            unsure += [cell] if one_tone else []
    cells += halves_joined(grey, cells + parts)
    cells = [widened(grey, cell) for cell in cells]

    def shows_its_rest(cell: Panel, other: Panel) -> bool:
        return (cell.col_1 - cell.col_0 >= LONG_CELL_SHARE * cols or adjoin(cell, other)) and is_cut_off(other, cell)

    cells += [cell for cell in unsure if any(shows_its_rest(other, cell) for other in cells)]
    cells += [strip for strip in strips_by_rows(grey) if not any(holds(cell, strip) for cell in cells)]
    panels = joined(grey, cells)
    panels = [framed(grey, past_bar(grey, past_letters(grey, panel))) for panel in panels]
    kept = [
        panel
        for panel in panels
        if panel.row_1 - panel.row_0 >= 12
        and (panel.row_1 - panel.row_0 <= LARGEST_HEIGHT_SHARE * rows or panel.col_1 - panel.col_0 <= 0.45 * cols)
        and panel.col_1 - panel.col_0 >= 0.06 * cols
    ]
    kept = [panel for panel in kept if not any(holds(other, panel) for other in kept)]
    return tuple(sorted(kept, key=lambda panel: (panel.row_0, panel.col_0)))


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
    for (_, stop), (start, _) in pairwise(stretches_of(filled)):
        filled[stop:start] |= start - stop <= DENSE_ROWS
    edges = stretches_of(filled)
    if not len(edges):
        return 0, 0
    first, last = edges[np.argmax(edges[:, 1] - edges[:, 0])]
    return max(int(first) - 1, 0), min(int(last) + 1, len(filled))


def _trimmed(grey: np.ndarray, panel: Panel) -> Panel | None:
    """Take off rims by which flat parts of the picture hang on to the panel; None if no rectangle is left."""
    row_0, row_1, col_0, col_1 = panel.row_0, panel.row_1, panel.col_0, panel.col_1
    near = has_tone(grey[panel.slices], panel.grey)
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
    if row_0 > 0 and has_tone(grey[row_0 - 1, col_0:col_1], panel.grey).mean() > 0.75:
        row_0 -= 1
    if row_1 < rows and has_tone(grey[row_1, col_0:col_1], panel.grey).mean() > 0.75:
        row_1 += 1
    if col_0 > 0 and has_tone(grey[row_0:row_1, col_0 - 1], panel.grey).mean() > 0.75:
        col_0 -= 1
    if col_1 < cols and has_tone(grey[row_0:row_1, col_1], panel.grey).mean() > 0.75:
        col_1 += 1
    return Panel(row_0=row_0, row_1=row_1, col_0=col_0, col_1=col_1, grey=panel.grey)
