"""Whether a label lost what stands before its first figure: a figure, or a nought and its decimal point.

Figures of one number stand closer together than words do, so that ink right before a label belongs to its number.
"""

import re

import cv2
import numpy as np

from semwear.data_bar.ink import Ink, thickened
from semwear.data_bar.labels import Length, places_of_figures
from semwear.data_bar.lines import Line
from semwear.data_bar.pieces import stretches_of
from semwear.data_bar.text import Reading

WIDEST_GAP = 0.4
"""Blank between two figures of a number, in heights of a letter: between words there is more."""
FAINTEST = 0.25
"""Share of the layer's range from which ink before a label counts: small figures are faint."""
LEFT_OUT_SHARE = 0.6
"""Share of the range from which what was left out beside an outlined label may be a figure."""
LEAST_HEIGHT = 0.5
"""Height of a figure at least, in heights of a letter, however faint its upper end is."""
DOT_BLANK = 0.05
"""Blank between the dots of one figure at most, in heights of a letter."""
FARTHEST_FIGURE = 1.3
"""Distance before a label from which a mark isn't a figure of it, in heights of a letter."""
POINT_BEFORE = re.compile(r"[.,]$|(?<![\d.,])0$")
"""What before a label is the point of its number, or the nought before one."""
FULL_HEIGHT = 0.8
"""Height from which a piece inside a line is a whole figure."""


def lost_start(ink: Ink, line: Line, reading: Reading, length: Length) -> str:
    """Say what stands before the first figure of a label that wasn't read as part of its number; "" for nothing."""
    before = reading.text[: length.start].rstrip()
    if POINT_BEFORE.search(before):
        return "a decimal point"
    if not ink.cut_out:
        return ""
    if not before:
        lost = _has_ink_before(ink, line) or _has_more_figures(ink, line, reading, length)
    else:
        lost = before[-1].isdigit() and _is_one_number(ink, line, reading, len(before) - 1, length.start)
    return "a figure" if lost else ""


def _inked(ink: Ink, line: Line) -> np.ndarray:
    """Return where a line of the layer, all along its rows, holds ink, however faint: (rows, cols) bool."""
    part = ink.plane[max(line.row_0, 0) : line.row_1]
    return part > ink.low + FAINTEST * (ink.high - ink.low)


def _has_ink_before(ink: Ink, line: Line) -> bool:
    """Tell whether ink as high as a figure ends right before a line."""
    inked, tall = _inked(ink, line), line.letter_px
    edge = max(line.col_0 - 1, 0)  # Half-covered pixels belong to the first figure.
    first = max(edge - int(np.ceil(WIDEST_GAP * tall)), 0)
    if not inked[:, first:edge].any():
        return False
    high = np.flatnonzero(inked[:, max(first - int(tall), 0) : edge].any(axis=1))
    return bool(high[-1] - high[0] + 1 >= LEAST_HEIGHT * tall)


def _has_more_figures(ink: Ink, line: Line, reading: Reading, length: Length) -> bool:
    """Tell whether there are more pieces as high as figures up to the last figure of a label than it has figures."""
    figures = places_of_figures(reading.text, length)
    last = round(reading.column(line, figures[-1]))
    inked = _inked(ink, line)[:, max(line.col_0, 0) : line.col_1]
    number = 0
    # The dots of one figure are parted by less than figures are.
    blank = ~inked.any(axis=0)
    for start, stop in stretches_of(blank):
        blank[start:stop] = stop - start > DOT_BLANK * line.letter_px
    for start, stop in stretches_of(~blank):
        rows = np.flatnonzero(inked[:, start:stop].any(axis=1))
        high = rows[-1] - rows[0] + 1 >= FULL_HEIGHT * line.letter_px
        number += high and line.col_0 + (start + stop) / 2 <= last + 0.25 * line.letter_px
    return number > len(figures)


def _is_one_number(ink: Ink, line: Line, reading: Reading, one: int, other: int) -> bool:
    """Tell whether the blank between two figures, given by their places in the text, is too narrow to part words."""
    first, last = (round(reading.column(line, place)) for place in (one, other))
    blank = ~_inked(ink, line)[:, first : last + 1].any(axis=0)
    widest = int(np.diff(stretches_of(blank)).max(initial=0))
    return widest < WIDEST_GAP * line.letter_px


def has_figure_before(ink: Ink, own: Line) -> bool:
    """Tell whether what the layer leaves out as high as a figure, and on the label's own foot, stands right before it.

    own: the box of the label alone. On a panel nothing is left out, and a figure in colour isn't left out of its layer.
    """
    if ink.raw is None or ink.name.startswith("coloured"):
        return False
    raw, mask = ink.raw, ink.mask
    level = LEFT_OUT_SHARE * 255 if ink.cut_out else half_ink(ink, own)
    tall = int(np.ceil(own.letter_px))
    near = own.col_0 - int(FARTHEST_FIGURE * tall)
    top, left = max(own.row_0 - tall, 0), max(near - int(1.3 * tall), 0)  # A bar that ends near by shows that it is longer.
    box = np.s_[top : own.row_1 + tall, left : own.col_0]
    if not mask[box].size:
        return False  # The label begins at the picture's edge.
    # A figure of thin strokes over the picture is in the mask in part.
    known = thickened(mask[box], 1) if ink.cut_out else False
    bright = ((raw[box] >= level) & ~np.broadcast_to(known, raw[box].shape)).astype(np.uint8)
    count, _, stats, _ = cv2.connectedComponentsWithStats(bright, connectivity=8)
    start, first, wide, high, area = stats[1:count].T
    foot = np.abs(first + high + top - _foot(mask, own)) <= max(1, 0.15 * tall)
    foot &= left + start + wide > near
    return bool((foot & (high >= 0.75 * tall) & (high <= 1.3 * tall) & (wide <= tall) & (area >= 0.8 * high)).any())


def half_ink(ink: Ink, own: Line) -> float:
    """Return the grey midway between the ink of a burnt label and the picture around it."""
    box = np.s_[own.row_0 : own.row_1, own.col_0 : own.col_1]
    part, mask = ink.plane[box], ink.mask[box]
    ground = ~thickened(mask, 1)
    if not mask.any() or not ground.any():
        return ink.low + 0.5 * (ink.high - ink.low)
    return (float(np.median(part[mask])) + float(np.median(part[ground]))) / 2


def _foot(mask: np.ndarray, own: Line) -> int:
    """Return the row below the figures of a label: below its first piece of ink."""
    part = mask[own.row_0 : own.row_1, own.col_0 : own.col_0 + max(int(own.letter_px), 2)]
    rows = np.flatnonzero(part.any(axis=1))
    return own.row_0 + (int(rows[-1]) + 1 if len(rows) else own.row_1 - own.row_0)
