"""Whether a decimal point stands between the figures of a label, read or not: a lost one would make a wrong scale."""

from dataclasses import dataclass

import cv2
import numpy as np

from semwear.data_bar.ink import Ink, thickened
from semwear.data_bar.label_start import half_ink
from semwear.data_bar.labels import Length, places_of_figures
from semwear.data_bar.pieces import pieces_of, stretches_of
from semwear.data_bar.words import Printed

POINT_INK = (0.4, 0.25)
"""Share of the layer's range from which a mark may be a decimal point, in grey and in colour, which files store coarsely."""
GROUND_WANDERS, PALEST_POINT = 25.0, 150.0
"""Greys (of 255) by which the picture wanders beside a label, and from which a mark can't be picture between outlines."""
BELOW = 0.25
"""Rows below a line, in heights of a letter, that no point of it reaches."""
SMALLEST_POINT = 0.1
"""Side of a decimal point at least, in heights of a letter: a smaller mark is a speck."""
FIGURE_HIGH, LARGEST_POINT, COMPACT = 0.4, 0.3, 0.75
"""Height of a piece from which it is one of a figure, and of a point at most, in heights of a letter; share of its box that a point fills."""
FIGURE_INK = 0.5
"""Share of the layer's range from which ink is a figure's: a faint point is not."""
LEAST_ROOM, UNEVEN = 0.08, 0.12
"""How much wider a blank over the picture is at least, in heights of a letter, if it holds a point; by how much blanks differ at
most where none does, if there are two at least: a point takes 0.35."""
LETTER_BLANK, ROOM = 0.2, 0.28
"""Blank between figures, and how much wider it is with a point in it, in heights of a letter."""
ROUND_FIGURES, FOOT, FAINT = "035689", 0.2, 0.3
"""Figures whose outermost columns aren't at their foot, rows of a point in heights of a letter, and share of no ink."""
LEAST_PITCH = 0.82
"""Distance from a figure to the next with a point between them at least, in heights of a letter: 1.07 to 1.7 in the faces that
the simulator prints with, 0.7 to 0.92 without a point (measured), and some 0.9 in narrow faces."""
FEET_SHARE = 0.12
"""Share of ink from which a row belongs to the figures: a speck of the picture below their feet moves no foot line."""
TAIL, WIDEST_TAIL = 0.12, 0.45
"""Rows that a comma goes below the feet of figures, and its columns at most, in heights of a letter."""
TAIL_INK = 0.6
"""Share of the rows from the figures' feet down to its end in which a column of a comma has ink."""


@dataclass(frozen=True, kw_only=True)
class Label:
    """A length that may label a bar, in the line it was read in, and the ink it is printed in."""

    ink: Ink
    printed: Printed
    length: Length


def has_point(label: Label) -> bool:
    """Tell whether a small mark stands at the foot of the line between the figures of the label, or there is room for one."""
    ink, line = label.ink, label.printed.line
    if len(figure_places(label)) < 2 or label.printed.inside is not None:
        return False
    first, last = (_column(label, place) for place in (figure_places(label)[0], figure_places(label)[-1]))
    if ink.cut_out and leaves_room(label) or ink.one_level and _has_point_of_its_level(label):
        return True
    if not ink.on_panel and (ink.raw is not None or not ink.cut_out) and _stand_as_close(label):
        return False  # What the picture shows between figures as close as others is no point.
    box = np.s_[max(line.row_0, 0) : line.row_1, int(first) : int(last) + 1]
    by_colour = ink.name.startswith("coloured")
    plane = ink.raw if ink.cut_out and ink.raw is not None and not by_colour else ink.plane
    part = plane[box] > ink.low + POINT_INK[by_colour] * (ink.high - ink.low)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(part.astype(np.uint8), connectivity=8)
    for index, (left, top, wide, high, area) in enumerate(stats[1:count], start=1):
        if area < (SMALLEST_POINT * line.letter_px) ** 2 or _is_ground(plane, box, labels == index, line.letter_px):
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


def _has_point_of_its_level(label: Label) -> bool:
    """Tell whether a compact mark of the very grey of the figures stands on their foot line between two of them.

    It shows on ground that is nearly as bright as the ink, where no threshold parts the two.
    """
    letter_px, figures = label.printed.line.letter_px, figure_places(label)
    row_0, row_1 = max(label.printed.line.row_0, 0), label.printed.line.row_1
    first, last = (int(_column(label, place)) for place in (figures[0], figures[-1]))
    part = label.ink.mask[row_0:row_1, first : last + 1]
    pieces = pieces_of(part)
    stats = pieces.stats
    high = stats[:, cv2.CC_STAT_HEIGHT] > FIGURE_HIGH * letter_px
    high[0] = False
    if not high.any():
        return False
    feet = np.median((stats[:, cv2.CC_STAT_TOP] + stats[:, cv2.CC_STAT_HEIGHT])[high])
    for left, top, wide, tall, area in stats[1:]:
        large = min(wide, tall) >= 2 and max(wide, tall) <= LARGEST_POINT * letter_px
        compact = area >= COMPACT * wide * tall and max(wide, tall) <= 2 * min(wide, tall)
        inside = left > 0 and left + wide < part.shape[1] and abs(top + tall - feet) <= 1
        if large and compact and inside and not high[pieces.labels[:top, left : left + wide]].any():
            return True
    return False


def _is_ground(plane: np.ndarray, box: tuple[slice, slice], mark: np.ndarray, letter_px: float) -> bool:
    """Tell whether a mark is the brightest bit of the picture seen between two outlines: that goes on up the line, or on
    below it, where a point has its outline."""
    if plane[box][mark].max() >= PALEST_POINT:
        return False
    below = plane[box[0].stop : box[0].stop + int(np.ceil(BELOW * letter_px)), box[1]]
    part = np.concatenate([plane[box], below])
    level = float(np.median(plane[box][mark])) - GROUND_WANDERS
    _, labels, stats, _ = cv2.connectedComponentsWithStats((part >= level).astype(np.uint8), connectivity=4)
    own = np.unique(labels[: len(mark)][mark])
    high, foot = stats[own, cv2.CC_STAT_HEIGHT], stats[own, cv2.CC_STAT_TOP] + stats[own, cv2.CC_STAT_HEIGHT]
    return bool(high.max() > 0.6 * letter_px or (len(below) and foot.max() == len(part)))


def point_is_printed(label: Label) -> bool:
    """Tell whether there is ink at the foot of the line, and none in its upper half, where the decimal point was read.

    A comma in letters of 5 by 7 pixels takes three rows of them.
    """
    ink, line, reading, length = label.ink, label.printed.line, label.printed.reading, label.length
    if label.printed.inside is not None:
        return True
    places = [place for place in range(length.start, length.stop) if reading.text[place] in ".,"]
    middle = _column(label, places[-1]) if places else line.col_0
    reach = int(np.ceil(0.6 * line.letter_px))
    part = ink.plane[max(line.row_0, 0) : line.row_1, max(int(middle) - reach, 0) : int(middle) + reach + 1]
    # A small point is paler than the figures beside it, and the ground of a burnt label is the picture.
    inked = part > (ink.low + 0.3 * (ink.high - ink.low) if ink.cut_out else half_ink(ink, line))
    foot, half = int(round(0.7 * line.letter_px)), int(0.5 * line.letter_px)
    return bool((inked[foot:].any(axis=0) & ~inked[:half].any(axis=0)).any())


def leaves_room(label: Label) -> bool:
    """Tell whether a label read without a decimal point has room for one, or the tail of a comma, between its figures."""
    if label.printed.inside is not None or len(figure_places(label)) < 2 or set(label.length.text) & set(".,"):
        return False
    return _has_room(label) or _has_comma(label) or _has_foot(label)


def figure_places(label: Label) -> list[int]:
    """Return the places of the figures of a label in its text."""
    return places_of_figures(label.printed.reading.text, label.length)


def _column(label: Label, place: int) -> float:
    """Return the column of the layer where a character of the label was read."""
    return label.printed.reading.column(label.printed.line, place)


def _has_room(label: Label) -> bool:
    """Tell whether one of the blanks between the figures of a label is so wide that it could hold a point."""
    return _spare(label) > ROOM * label.printed.line.letter_px + 0.5


def _spare(label: Label) -> float:
    """Return by how many columns the widest blank between the figures of a label exceeds what parts figures."""
    line, figures, blanks = label.printed.line, figure_places(label), _blanks(label)
    if not blanks:
        return 0.0
    closest = min(blanks) if len(figures) > 2 and len(blanks) == len(figures) - 1 else LETTER_BLANK * line.letter_px
    return float(max(blanks) - closest)


def _blanks(label: Label) -> list[int]:
    """Return the columns of every blank between the figures of a label."""
    inked = _between_figures(label).any(axis=0)
    return [int(stop - start) for start, stop in stretches_of(~inked) if start > 0 and stop < len(inked)]


def _stand_as_close(label: Label) -> bool:
    """Tell whether the figures of a label stand as close as figures do, so that none of the blanks can hold a point."""
    letter_px, blanks, between = label.printed.line.letter_px, _blanks(label), len(figure_places(label)) - 1
    if len(blanks) > between:
        return False  # Something stands between two of them.
    if len(blanks) > 1 and len(blanks) == between:
        return max(blanks) - min(blanks) <= max(1.0, UNEVEN * letter_px)
    return _spare(label) < LEAST_ROOM * letter_px


def _has_comma(label: Label) -> bool:
    """Tell whether something narrow between the figures of a label goes down below their feet, as a comma does."""
    letter_px = label.printed.line.letter_px
    inked = _between_figures(label)
    columns = inked.any(axis=0)
    if columns.sum() < 3:
        return False
    lowest = np.where(columns, len(inked) - inked[::-1].argmax(axis=0), 0)
    foot = max(float(np.percentile(lowest[columns], 75)), _feet(label))
    below = np.flatnonzero(lowest >= foot + max(1.0, TAIL * letter_px))
    # A tail hangs on its point, without a blank; a speck of the picture doesn't.
    top = max(int(foot) - 1, 0)
    below = [col for col in below if inked[top : lowest[col], col].mean() >= TAIL_INK and inked[top : top + 2, col].all()]
    return bool(len(below) and np.ptp(below) < WIDEST_TAIL * letter_px)


def _feet(label: Label) -> float:
    """Return the row of the label's line below which few columns of its figures have ink, a comma's at most."""
    figures, side = figure_places(label), label.printed.line.letter_px / 2
    inked = _inked(label, int(_column(label, figures[0]) - side), int(_column(label, figures[-1]) + side))
    lowest = (len(inked) - inked[::-1].argmax(axis=0))[inked.any(axis=0)]
    return float(np.percentile(lowest, 80)) if lowest.size else 0.0


def _has_foot(label: Label) -> bool:
    """Tell whether ink stands only at the foot between two round figures, which a small point may touch."""
    ink, line, text = label.ink, label.printed.line, label.printed.reading.text
    figures = figure_places(label)
    rows = _between_figures(label).mean(axis=1) >= FEET_SHARE
    foot = line.row_0 + (int(np.flatnonzero(rows)[-1]) + 1 if rows.any() else 0)
    high = max(1, int(round(FOOT * line.letter_px)))
    for one, other in zip(figures[:-1], figures[1:], strict=True):
        if other != one + 1 or text[one] not in ROUND_FIGURES or text[other] not in ROUND_FIGURES:
            continue
        first, last = _column(label, one), _column(label, other)
        if last - first < LEAST_PITCH * line.letter_px:
            continue
        quarter = (last - first) / 4
        first, last = int(first + quarter), int(np.ceil(last - quarter))
        part = (ink.plane[max(line.row_0, 0) : foot, max(first, 0) : last + 1] - ink.low) / (ink.high - ink.low)
        if (
            part.size
            and (part[-high:].max(axis=0, initial=0) >= FIGURE_INK)[part[:-high].max(axis=0, initial=0) < FAINT].any()
        ):
            return True
    return False


def _between_figures(label: Label) -> np.ndarray:
    """Return the ink of a label's figures, (rows, cols) bool, from the middle of the first to that of the last."""
    figures = figure_places(label)
    return _inked(label, *(int(round(_column(label, place))) for place in (figures[0], figures[-1])))


def _inked(label: Label, first: int, last: int) -> np.ndarray:
    """Return where the rows of a label's line have a figure's ink, (rows, cols) bool, from the first to the last column."""
    ink, line = label.ink, label.printed.line
    part = ink.plane[max(line.row_0, 0) : line.row_1, max(first, 0) : last + 1]
    return part > ink.low + FIGURE_INK * (ink.high - ink.low)


def end_columns(label: Label) -> tuple[float, float]:
    """Return the columns of a label's first and last character."""
    return _column(label, label.length.start), _column(label, label.length.stop - 1)


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
