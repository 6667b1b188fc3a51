"""Whether a decimal point stands between the figures of a label, read or not: a lost one would make a wrong scale."""

from dataclasses import dataclass

import cv2
import numpy as np

from semwear.data_bar.ink import Ink, thickened
from semwear.data_bar.labels import Length
from semwear.data_bar.pieces import stretches_of
from semwear.data_bar.words import Printed

POINT_INK = (0.4, 0.25)
"""Share of the layer's range from which a mark may be a decimal point, in grey and in colour, which files store coarsely."""
GROUND_WANDERS, PALEST_POINT = 25.0, 150.0
"""Greys (of 255) by which the picture wanders beside a label, and from which a mark can't be picture between outlines."""
SMALLEST_POINT = 0.1
"""Side of a decimal point at least, in heights of a letter: a smaller mark is a speck."""
FIGURE_INK = 0.5
"""Share of the layer's range from which ink is a figure's: a faint point is not."""
LEAST_ROOM = 0.08
"""How much wider a blank over the picture is at least, in heights of a letter, if it holds a point."""
LETTER_BLANK, ROOM = 0.2, 0.28
"""Blank between figures, and how much wider it is with a point in it, in heights of a letter."""
ROUND_FIGURES, FOOT, FAINT = "035689", 0.2, 0.3
"""Figures whose outermost columns aren't at their foot, rows of a point in heights of a letter, and share of no ink."""
FEET_SHARE = 0.12
"""Share of ink from which a row belongs to the figures: a speck of the picture below their feet moves no foot line."""
TAIL, WIDEST_TAIL = 0.12, 0.45
"""Rows that a comma goes below the feet of figures, and its columns at most, in heights of a letter."""


@dataclass(frozen=True, kw_only=True)
class Label:
    """A length that may label a bar, in the line it was read in, and the ink it is printed in."""

    ink: Ink
    printed: Printed
    length: Length


def has_point(label: Label) -> bool:
    """Tell whether a small mark stands at the foot of the line between the figures of the label, or there is room for one."""
    ink, line = label.ink, label.printed.line
    if len(_figures(label)) < 2 or label.printed.inside is not None:
        return False
    first, last = (_column(label, place) for place in (_figures(label)[0], _figures(label)[-1]))
    if ink.cut_out and leaves_room(label):
        return True
    if ink.cut_out and ink.raw is not None and _spare(label) < LEAST_ROOM * line.letter_px:
        return False  # What the picture shows between figures as close as others is no point.
    box = np.s_[max(line.row_0, 0) : line.row_1, int(first) : int(last) + 1]
    by_colour = ink.name.startswith("coloured")
    plane = ink.raw if ink.cut_out and ink.raw is not None and not by_colour else ink.plane
    part = plane[box] > ink.low + POINT_INK[by_colour] * (ink.high - ink.low)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(part.astype(np.uint8), connectivity=8)
    for index, (left, top, wide, high, area) in enumerate(stats[1:count], start=1):
        if area < (SMALLEST_POINT * line.letter_px) ** 2 or _is_ground(plane[box], labels == index, line.letter_px):
            continue
        small = high <= 0.35 * line.letter_px and wide <= 0.4 * line.letter_px
        inside = left > 0 and left + wide < part.shape[1]
        at_foot = 0.6 * line.letter_px <= top + high / 2 <= 1.1 * line.letter_px
        if not (small and inside and at_foot) or part[: max(top - 1, 0), left : left + wide].any(axis=0).all():
            continue
        mark = labels == index
        around = plane[box][thickened(mark, 1) & ~mark]
        if plane is ink.plane or float(around.mean()) < ink.low + 0.25 * (ink.high - ink.low):
            return True
    return False


def _is_ground(part: np.ndarray, mark: np.ndarray, letter_px: float) -> bool:
    """Tell whether a mark is the brightest bit of the picture seen between two outlines: that goes on up the line."""
    level = float(np.median(part[mark])) - GROUND_WANDERS
    _, labels, stats, _ = cv2.connectedComponentsWithStats((part >= level).astype(np.uint8), connectivity=4)
    high = stats[np.unique(labels[mark]), cv2.CC_STAT_HEIGHT]
    return bool(part[mark].max() < PALEST_POINT and high.max() > 0.6 * letter_px)


def point_is_printed(label: Label) -> bool:
    """Tell whether there is ink at the foot of the line, and none above it, where the decimal point was read."""
    ink, line, reading, length = label.ink, label.printed.line, label.printed.reading, label.length
    if label.printed.inside is not None:
        return True
    places = [place for place in range(length.start, length.stop) if reading.text[place] in ".,"]
    middle = _column(label, places[-1]) if places else line.col_0
    reach = int(np.ceil(0.6 * line.letter_px))
    part = ink.plane[max(line.row_0, 0) : line.row_1, max(int(middle) - reach, 0) : int(middle) + reach + 1]
    if ink.cut_out:
        inked = part > ink.low + 0.3 * (ink.high - ink.low)
    else:
        inked = ink.mask[max(line.row_0, 0) : line.row_1, max(int(middle) - reach, 0) : int(middle) + reach + 1]
    foot = int(round(0.7 * line.letter_px))
    return bool((inked[foot:].any(axis=0) & ~inked[: foot - 1].any(axis=0)).any())


def leaves_room(label: Label) -> bool:
    """Tell whether a label read without a decimal point has room for one, or the tail of a comma, between its figures."""
    if label.printed.inside is not None or len(_figures(label)) < 2 or set(label.length.text) & set(".,"):
        return False
    return _has_room(label) or _has_comma(label) or _has_foot(label)


def _figures(label: Label) -> list[int]:
    """Return the places of the figures of a label in its text."""
    text = label.printed.reading.text
    return [place for place in range(label.length.start, label.length.stop) if text[place : place + 1].isdigit()]


def _column(label: Label, place: int) -> float:
    """Return the column of the layer where a character of the label was read."""
    return label.printed.reading.column(label.printed.line, place)


def _has_room(label: Label) -> bool:
    """Tell whether one of the blanks between the figures of a label is so wide that it could hold a point."""
    return _spare(label) > ROOM * label.printed.line.letter_px + 0.5


def _spare(label: Label) -> float:
    """Return by how many columns the widest blank between the figures of a label exceeds what parts figures."""
    line, figures = label.printed.line, _figures(label)
    inked = _between_figures(label).any(axis=0)
    blanks = [stop - start for start, stop in stretches_of(~inked) if start > 0 and stop < len(inked)]
    if not blanks:
        return 0.0
    closest = min(blanks) if len(figures) > 2 and len(blanks) == len(figures) - 1 else LETTER_BLANK * line.letter_px
    return float(max(blanks) - closest)


def _has_comma(label: Label) -> bool:
    """Tell whether something narrow between the figures of a label goes down below their feet, as a comma does."""
    inked = _between_figures(label)
    columns = inked.any(axis=0)
    if columns.sum() < 3:
        return False
    lowest = np.where(columns, len(inked) - inked[::-1].argmax(axis=0), 0)
    foot = float(np.percentile(lowest[columns], 75))
    below = np.flatnonzero(lowest >= foot + max(1.0, TAIL * label.printed.line.letter_px))
    return bool(len(below) and np.ptp(below) < WIDEST_TAIL * label.printed.line.letter_px)


def _has_foot(label: Label) -> bool:
    """Tell whether ink stands only at the foot between two round figures, which a small point may touch."""
    ink, line, text = label.ink, label.printed.line, label.printed.reading.text
    figures = _figures(label)
    rows = _between_figures(label).mean(axis=1) >= FEET_SHARE
    foot = line.row_0 + (int(np.flatnonzero(rows)[-1]) + 1 if rows.any() else 0)
    high = max(1, int(round(FOOT * line.letter_px)))
    for one, other in zip(figures[:-1], figures[1:], strict=True):
        if other != one + 1 or text[one] not in ROUND_FIGURES or text[other] not in ROUND_FIGURES:
            continue
        first, last = int(_column(label, one)), int(np.ceil(_column(label, other)))
        part = (ink.plane[max(line.row_0, 0) : foot, max(first, 0) : last + 1] - ink.low) / (ink.high - ink.low)
        if (
            part.size
            and (part[-high:].max(axis=0, initial=0) >= FIGURE_INK)[part[:-high].max(axis=0, initial=0) < FAINT].any()
        ):
            return True
    return False


def _between_figures(label: Label) -> np.ndarray:
    """Return the ink of a label's figures, (rows, cols) bool, from the middle of the first to that of the last."""
    ink, line, figures = label.ink, label.printed.line, _figures(label)
    first, last = (int(round(_column(label, place))) for place in (figures[0], figures[-1]))
    part = ink.plane[max(line.row_0, 0) : line.row_1, max(first, 0) : last + 1]
    return part > ink.low + FIGURE_INK * (ink.high - ink.low)


def label_columns(label: Label) -> tuple[float, float]:
    """Return the columns of the label itself within its line, from the places of its characters."""
    line, reading, length = label.printed.line, label.printed.reading, label.length
    text = reading.text
    start = line.col_0 if not text[: length.start].strip() else reading.column(line, length.start) - 2
    if not text[length.stop :].strip():
        stop = line.col_1
    else:
        stop = reading.column(line, length.stop - 1) + 0.5 * line.letter_px
    return float(start), float(stop)
