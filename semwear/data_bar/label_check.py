"""Whether a label surely reads as it was read: more readings, its decimal point, and the picture that touches it."""

import math
import re
from collections.abc import Iterable
from dataclasses import replace

import cv2
import numpy as np

from semwear.data_bar.ink import thickened
from semwear.data_bar.label_point import Label, figure_places, has_point, point_is_printed
from semwear.data_bar.label_start import LEFT_OUT_SHARE, POINT_BEFORE, has_figure_before, lost_start
from semwear.data_bar.labels import PIXEL_SIZES_UM, Length, is_round, lengths_in
from semwear.data_bar.lines import Line
from semwear.data_bar.reading_ways import (
    LETTERS_BEFORE,
    SOFT_LETTER_PX,
    read_from_before,
    read_printed,
    read_raw,
    read_soft,
    widened,
)
from semwear.data_bar.text import Reading

VOTES_NEEDED = {"proven": 1, "supported": 2, "silent": 3}
"""Readings, of five, in which a label must come out alike, by what else speaks for the scale."""
CLEAR_CHARACTER = 0.85
"""Least probability from which one reading against all others counts."""
WIDEST_PITCH, WIDEST_PITCH_AT_POINT = 1.15, 1.5
"""Distance from one figure of a number to the next at most, in heights of a letter; the latter where the number has a point that the
label lacks, which all letters of one width set wide apart."""
EDGE_BLANK, EDGE_PLACE = 0.5, 1.3
"""Blank at the picture's edge, and place of a label's first figure, in heights of a letter, up to which the edge may have cut one off."""
ALIGNED_BLANK_PX, ALIGNED = 2, 0.1
"""Blank columns at the picture's edge before a label at least that begins with its bar, and how far they may differ, in heights of a letter."""
CLEAR_FIGURE, CLEAR_UNIT = 0.9, 0.7
"""Least probability of a figure, and of any letter, of a label that is clear both alone and with the picture around."""
SURE_CHARACTER = 0.45
"""Least probability of any figure or letter of a label in a reading that counts."""


def label_doubt(
    label: Label, agreement: str, *, bar_px: float, bar_col: float = math.nan, after_tick: bool = False
) -> tuple[str, bool]:
    """Read the label four times more, stretched and sized differently; return (why it isn't sure or "", contradicted).

    bar_px: length of its bar; bar_col: first column of the bar in the picture; after_tick: whether the bar's last tick stands
    right before the label, where it reads as 1. A reading by which a pixel would have a size that no micrograph has says nothing.
    """
    printed, wanted = label.printed, label.length
    inverse, proven = printed.inside is not None, agreement == "proven"
    if proven and _least_probability(printed.reading, wanted) >= SURE_CHARACTER:
        return "", False
    own = printed.line if inverse else _own_columns(label)
    if not proven and not inverse and (lost := _lost_before(label, own, bar_col)):
        return lost, False
    before = None if inverse or label.ink.raw is None else read_from_before(label.ink, own)
    if before is not None and not proven and (other := _longer(label, own, before) or _clearly_other(before, wanted)):
        return f"the bar's label reads as {wanted.text} and as {other}", True
    around = before if before is not None and _reads_alike(before, wanted) else None
    readings = _read_again(label, own, around)
    if not proven and any(_follows_a_point(reading, wanted) for reading in readings):
        return f"a decimal point before the bar's label {wanted.text} may be missing", True
    votes, others = _counted(readings, wanted, bar_px, after_tick=after_tick)
    if not proven and label.ink.cut_out and label.ink.raw is not None and not inverse:
        missing = "" if around is not None else _missing(label, own, bar_px)
        if missing:
            return missing, False
        votes += 0 if around is None else _votes_of_both(label, around)
    if others and not proven:
        return f"the bar's label reads as {wanted.text} and as {others[0].text}", True
    if not proven and not _is_pointed(wanted) and has_point(label):
        return f"the bar's label {wanted.text} may hold a decimal point that wasn't read", True
    if not proven and re.search(r"[.,]\d", wanted.text) and not point_is_printed(label):
        return f"the decimal point of the bar's label {wanted.text} isn't sure", False
    if not proven and not label.ink.cut_out and not inverse and _is_touched(label):
        return f"the picture touches the bar's label {wanted.text}", False
    if votes < VOTES_NEEDED[agreement]:
        return f"the bar's label isn't sure to read {wanted.text}", False
    return "", False


def _lost_before(label: Label, own: Line, bar_col: float) -> str:
    """Say what may be missing before the first figure of a label, whose own box is given; "" for nothing.

    bar_col: first column of its bar in the picture.
    """
    wanted, line = label.length, label.printed.line
    first = label.ink.col_0 + label.printed.reading.column(line, wanted.start)
    at_edge = label.ink.mask[max(line.row_0, 0) : line.row_1, : max(int(EDGE_BLANK * line.letter_px), 2)]
    at_edge = at_edge.any() and not _begins_with_bar(label, bar_col)
    if first <= EDGE_PLACE * line.letter_px and label.ink.col_0 == 0 and at_edge:
        return f"the bar's label {wanted.text} begins at the picture's edge, where a figure may be cut off"
    lost = lost_start(label.ink, line, label.printed.reading, wanted)
    lost = lost or ("a figure" if has_figure_before(label.ink, own) else "")
    return f"{lost} before the bar's label {wanted.text} may be missing" if lost else ""


def _begins_with_bar(label: Label, bar_col: float) -> bool:
    """Tell whether a label near the picture's edge begins in the very column of its bar, with a blank before both.

    A figure that the edge cut off would have to end in the very blank between the edge and the bar, which is whole.
    """
    line, ink = label.printed.line, label.ink
    if not ink.cut_out:
        return False  # The picture may have ink anywhere.
    inked = np.flatnonzero(ink.mask[max(line.row_0, 0) : line.row_1].any(axis=0))
    blank = int(inked[0]) if len(inked) else 0
    return blank >= ALIGNED_BLANK_PX and abs(blank - bar_col) <= max(1.0, ALIGNED * line.letter_px)


def _read_again(label: Label, own: Line, around: Reading | None) -> list[Reading]:
    """Return the first reading of a label and several more; around: one from further before, which reads the same."""
    inverse = label.printed.inside is not None
    readings = [label.printed.reading] + [
        read_printed(label.ink, own, inverse=inverse, hard=hard, height_share=share)
        for hard, share in ((True, 0.6), (False, 0.85), (True, 0.78), (False, 0.6))
    ]
    if not inverse and label.printed.line.letter_px >= 1.3 * SOFT_LETTER_PX:
        readings.append(read_soft(label.ink, own))
    if not label.ink.cut_out and not inverse:
        # The reading from before, which covers the same ground, is at hand.
        readings.append(read_printed(label.ink, widened(own)) if around is None else around)
    return readings


def _counted(
    readings: list[Reading], wanted: Length, bar_px: float, *, after_tick: bool
) -> tuple[int, list[Length]]:
    """Return how many readings surely give the wanted length, and the other lengths that speak against it.

    after_tick: a length that is the wanted one but for a 1 before it says nothing.
    """
    votes, others, clear = 0, [], []
    for reading in readings:
        lengths = lengths_in(reading.text)
        if not any(math.isclose(length.um, wanted.um) for length in lengths):
            # A wide letter space parts figures of a number; no number begins with nought.
            lengths = lengths_in(re.sub(r"(?<=\d) (0+)(?=\D)", r"\1 ", reading.text)) or lengths
        lengths = [
            length for length in _possible(lengths, bar_px) if not (after_tick and length.text == f"1{wanted.text}")
        ]
        same = [length for length in lengths if math.isclose(length.um, wanted.um)]
        if same:
            votes += _least_probability(reading, same[0]) >= SURE_CHARACTER
            continue
        sure = [length for length in lengths if _least_probability(reading, length) >= SURE_CHARACTER]
        # A label is never nought: so reads a number whose first figures were lost.
        sure = [length for length in sure if length.um > 0 or _figures(length) >= _figures(wanted)]
        sure = [length for length in sure if not _is_slip(length, wanted)]
        # More figures than the label has are never passed over, however unsure: the label may have lost them.
        longer = [length for length in lengths if is_round(length.um) and _figures(length) > _figures(wanted)]
        others += sure + [length for length in longer if length not in sure]
        clear += longer + [length for length in sure if _least_probability(reading, length) >= CLEAR_CHARACTER]
    points = [length for length in others if _is_pointed(length) and not _is_pointed(wanted)]
    alone = len(others) == 1 and not clear and not points and votes >= len(readings) - 2
    return votes, [] if alone else others


def _is_pointed(length: Length) -> bool:
    """Tell whether a length was read with a decimal point or comma."""
    return bool(re.search(r"[.,]", length.text))


def _longer(label: Label, own: Line, reading: Reading) -> str:
    """Return the length in a reading of a label over the picture from further before, if it has more figures than the label."""
    width = own.col_1 - own.col_0 + LETTERS_BEFORE * own.letter_px
    for length in lengths_in(reading.text):
        number = length.text.split()[0]
        pitch = np.diff(reading.places[length.start : length.start + len(number)]).max(initial=0.0) * width
        pointed = _is_pointed(length) and not _is_pointed(label.length)
        if pitch > (WIDEST_PITCH_AT_POINT if pointed else WIDEST_PITCH) * own.letter_px:
            continue  # Two words that were read as one.
        surely = _least_probability(reading, length) >= SURE_CHARACTER
        if math.isclose(length.um, label.length.um):
            continue  # A nought after the point was lost.
        # What stands before may be a tick or a rule, which reads as 1.
        stroke = not reading.text[length.start].isdigit() or (length.text.startswith("1") and not is_round(length.um))
        if surely and _figures(length) > _figures(label.length) and not stroke:
            return length.text
    return ""


def _clearly_other(reading: Reading, wanted: Length) -> str:
    """Return the length of as many figures in the same unit that a reading with the picture clearly has in place of the wanted one, or ""."""
    for length in lengths_in(reading.text):
        number, unit = length.text.split()
        figures = reading.probabilities[length.start : length.start + len(number)]
        alike = unit == wanted.text.split()[1] and len(number) == len(wanted.text.split()[0])
        if alike and is_round(length.um) and not math.isclose(length.um, wanted.um) and min(figures) >= CLEAR_CHARACTER:
            return length.text
    return ""


def _follows_a_point(reading: Reading, wanted: Length) -> bool:
    """Tell whether a reading has the wanted length right behind a point, or a nought of its own, which belong to its number.

    >>> text = "0 1 mm"
    >>> reading = Reading(text=text, probabilities=(0.9,) * len(text), places=(0.5,) * len(text))
    >>> _follows_a_point(reading, lengths_in("1 mm")[0])
    True
    """
    same = [length for length in lengths_in(reading.text) if math.isclose(length.um, wanted.um)]
    return any(POINT_BEFORE.search(reading.text[: length.start].rstrip()) for length in same)


def _reads_alike(reading: Reading, wanted: Length) -> bool:
    """Tell whether a reading of a label from further before surely reads the same."""
    same = [length for length in lengths_in(reading.text) if math.isclose(length.um, wanted.um)]
    return bool(same) and _least_probability(reading, same[0]) >= SURE_CHARACTER


def _votes_of_both(label: Label, around: Reading) -> int:
    """Return how much it counts that a label of which the picture was taken out reads the same with the picture around.

    Two different pictures of it, so that it counts twice if each is clear.
    """
    reading, length = label.printed.reading, label.length
    figure = min((reading.probabilities[place] for place in figure_places(label)), default=0.0)
    same = next(one for one in lengths_in(around.text) if math.isclose(one.um, length.um))
    alone = figure >= CLEAR_FIGURE and _least_probability(reading, length) >= CLEAR_UNIT
    return 1 + (alone and _least_probability(around, same) >= CLEAR_FIGURE)


def _figures(length: Length) -> int:
    return sum(character.isdigit() for character in length.text)


def _is_slip(length: Length, wanted: Length) -> bool:
    """Tell whether a reading has as many figures as the wanted one, in the same unit, but is no number that is printed."""
    number, other = length.text.split()[0], wanted.text.split()[0]
    alike = len(number) == len(other) and re.sub(r"\d", "", number) == re.sub(r"\d", "", other)
    return alike and length.text.split()[1] == wanted.text.split()[1] and not is_round(length.um)


def _is_touched(label: Label) -> bool:
    """Tell whether ink of the picture runs through the figures of a label over the picture and could change them."""
    ink, line, reading, figures = label.ink, label.printed.line, label.printed.reading, figure_places(label)
    tall = line.letter_px
    first, last = reading.column(line, figures[0]) - 0.4 * tall, reading.column(line, figures[-1]) + 0.4 * tall
    margin = int(np.ceil(0.6 * tall))
    top, left = max(line.row_0 - margin, 0), max(int(first) - margin, 0)
    part = ink.mask[top : line.row_1 + margin, left : int(last) + margin]
    count, labels, stats, _ = cv2.connectedComponentsWithStats(part.astype(np.uint8), connectivity=8)
    inner = labels[line.row_0 - top : line.row_1 - top, int(first) - left : int(last) - left]
    for index in np.unique(inner[inner > 0]):
        _, up, _, high, _ = stats[index]
        if up == 0 or up + high == part.shape[0] or high > 1.6 * tall:
            return True
    return False


def _least_probability(reading: Reading, length: Length) -> float:
    chances = [
        chance
        for character, chance in zip(
            reading.text[length.start : length.stop],
            reading.probabilities[length.start : length.stop],
            strict=True,
        )
        if re.match(r"\S", character)
    ]
    return min(chances, default=0.0)


def _possible(lengths: Iterable[Length], bar_px: float) -> list[Length]:
    """Return the lengths by which a pixel would have a size that micrographs have."""
    return [length for length in lengths if length.um <= PIXEL_SIZES_UM[1] * bar_px]


def _missing(label: Label, own: Line, bar_px: float) -> str:
    """Say whether taking out what has no outline may have taken a figure of the label, or a decimal point; "" if not.

    Nothing as bright and high as a figure may have been left out. For labels that don't read the same with the picture around.
    """
    wanted = label.length
    reading = read_raw(label.ink, own)
    seen = [length for length in _possible(lengths_in(reading.text), bar_px) if length.um > 0]
    if any(math.isclose(length.um, wanted.um) for length in seen):
        return ""
    for length in seen:
        if re.search(r"[.,]", length.text) or _least_probability(reading, length) >= CLEAR_CHARACTER:
            return f"the bar's label reads as {wanted.text} and as {length.text}"
    tall = int(np.ceil(own.letter_px))
    box = np.s_[max(own.row_0, 0) : own.row_1, max(own.col_0 - tall, 0) : own.col_1]
    # Beside coloured ink the picture may be as bright as its strongest channel, but no picture has its colour.
    ink = label.ink
    seen, full = (ink.plane, ink.high) if ink.name.startswith("coloured ink") else (ink.raw, 255)
    left_out = (seen[box] >= LEFT_OUT_SHARE * full) & ~thickened(ink.mask[box], 1)
    # A figure is as high as the line, whatever the picture adds to it.
    high = (left_out.sum(axis=0) >= 0.35 * tall).astype(np.int8)
    if high.any():
        return f"a figure of the bar's label {wanted.text} may be missing"
    return ""


def _own_columns(label: Label) -> Line:
    """Return the label's line cut at the blanks beside the label, if it is part of a longer line."""
    line, reading, length = label.printed.line, label.printed.reading, label.length
    width, text = line.col_1 - line.col_0, reading.text
    left, right = line.col_0, line.col_1
    if length.start > 0 and text[length.start - 1] == " ":
        left = int(
            line.col_0
            + width * (reading.places[length.start - 1] + reading.places[length.start]) / 2
            - 0.3 * line.letter_px
        )
    if length.stop < len(text) and text[length.stop] == " ":
        right = int(
            line.col_0
            + width * (reading.places[length.stop - 1] + reading.places[length.stop]) / 2
            + 0.5 * line.letter_px
        )
    return replace(line, col_0=max(left, line.col_0), col_1=min(right, line.col_1))
