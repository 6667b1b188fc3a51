"""Cells and pieces of one tone that are parts of one panel."""

from itertools import combinations

import numpy as np

from semwear.data_bar.panel import CUT_OUT_SHARE, SAME_TONE, Panel, adjoin, around_both, is_rectangle, steps

SAME_HALVES = 1.0
"""Grey levels by which the tones of two halves of one box differ at most."""
ALIKE_SHARE = 0.6
"""Height of a cell over that of one beside it: a dark spot of the picture beside a panel is no part of it."""


def halves_joined(grey: np.ndarray, parts: list[Panel]) -> list[Panel]:
    """Return the boxes that two halves of one tone make up: where the other goes on, a half isn't cut out of the picture."""
    found = []
    for one, other in combinations(parts, 2):
        both = around_both(one, other)
        if abs(one.grey - other.grey) <= SAME_HALVES and adjoin(one, other) and is_rectangle(grey, both):
            found += [both] if min(steps(grey, both)) > CUT_OUT_SHARE else []
    return found


def joined(grey: np.ndarray, cells: list[Panel]) -> list[Panel]:
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
                both = around_both(one, other)
                if not (adjoin(one, other) or _in_level(one, other)):
                    continue
                if not (adjoin(one, other) and _is_alike(one, other)) and not is_rectangle(grey, both):
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


def _in_level(one: Panel, other: Panel) -> bool:
    """Tell whether two cells are parts of one strip that a label and bar as high as the strip have parted."""
    level = max(abs(one.row_0 - other.row_0), abs(one.row_1 - other.row_1)) <= 3
    col_gap = max(one.col_0, other.col_0) - min(one.col_1, other.col_1)
    return level and abs(one.grey - other.grey) <= 4 and col_gap <= 12 * (one.row_1 - one.row_0)


def is_cut_off(cell: Panel, other: Panel) -> bool:
    """Tell whether a cell is the rest of a strip or box that letters as high as it cut off the other one."""
    rows = max(abs(cell.row_0 - other.row_0), abs(cell.row_1 - other.row_1))
    return rows <= 1 and abs(cell.grey - other.grey) <= 1
