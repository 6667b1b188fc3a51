"""Words and shapes of one layer of ink: bars are taken out, the rest is read line by line."""

import re
from dataclasses import dataclass, replace

import cv2
import numpy as np

from semwear.data_bar.bar_ends import Bar
from semwear.data_bar.bars import find_bars
from semwear.data_bar.ink import Ink, thickened
from semwear.data_bar.labels import Length, lengths_in
from semwear.data_bar.lines import Line, find_lines
from semwear.data_bar.text import Reading, read_line

MOST_LINES_ON_PANEL = 40
MOST_LINES_BURNT_IN = 14
"""Lines that are read over the picture: the most regular ones."""
MOST_LINES_IN_VAIN = 6
"""After this many lines in a row that aren't text, no more are read over the picture."""
FAINT_REACH_PX = 40
"""Rows above and below a bar in which thin letters are looked for; columns three times as far."""
FAINT_CONTRAST = 60
"""Grey levels (of 255) by which thin letters stand out from their surroundings."""
SHORTEST_SHARE = 0.012
"""Shortest bar looked for, as a share of the picture's width."""
SURE_TEXT = 0.75
"""Mean probability of its characters from which a line over the picture counts as text."""


_NEARLY_LENGTH = re.compile(r"[\dOoQlI][\dOo.,]*\s?[^\d\s]{0,3}[mMnNrR]")


@dataclass(frozen=True, kw_only=True)
class Printed:
    """One line as read, with the lengths in it and the words it hangs on to."""

    line: Line
    reading: Reading
    lengths: tuple[Length, ...]
    inside: Bar | None = None

    @property
    def is_text(self) -> bool:
        return _is_text(self.reading)


@dataclass(frozen=True, kw_only=True)
class Words:
    """All that was found in a layer: bars, lines, texts of whole rows, and (heading, text below) pairs of tables."""

    bars: tuple[Bar, ...]
    printed: tuple[Printed, ...]
    rows: tuple[str, ...]
    columns: tuple[tuple[str, str], ...]


def read_words(ink: Ink, *, width_px: int) -> Words:
    """Find the bars of a layer and read its lines; width_px is the width of the whole picture."""
    bars = find_bars(ink.plane, ink.mask, shortest_px=SHORTEST_SHARE * width_px, burnt=ink.name != "panel")
    mask = ink.mask.copy()
    for bar in bars:
        if not bar.doubt or (any(bar.outer_ticks) and bar.kind != "ticks"):
            for row_0, row_1, col_0, col_1 in bar.parts:
                mask[max(row_0, 0) : row_1, max(col_0, 0) : col_1] = False
    lines = find_lines(mask)
    most = MOST_LINES_ON_PANEL
    if ink.name != "panel":
        most = MOST_LINES_BURNT_IN
        lines = [line for line in lines if line.regularity >= 1 and line.row_1 - line.row_0 <= 2.2 * line.letter_px]
    if ink.name != "panel":
        lines += _faint_lines(ink, bars)
    near = [ink.name == "panel" or any(_is_near(line, bar) for bar in bars) for line in lines]
    ranks = [-line.regularity * _crispness(ink, line) - 1000 * beside for line, beside in zip(lines, near, strict=True)]
    lines = [lines[index] for index in np.argsort(ranks, kind="stable")]
    readings, empty = [], 0
    for line in lines[:most]:
        readings.append(_read_carefully(ink, line))
        empty = 0 if _is_text(readings[-1]) else empty + 1
        if ink.name != "panel" and empty >= MOST_LINES_IN_VAIN:
            break
    lines = lines[: len(readings)]
    inside: list[Bar | None] = [None] * len(lines)
    for bar in bars:
        if (line := _line_inside(ink, bar)) is not None:
            lines.append(line)
            readings.append(read_printed(ink, line, inverse=True))
            inside.append(bar)
    printed = []
    for index, (line, reading) in enumerate(zip(lines, readings, strict=True)):
        before = _neighbour(lines, readings, index, above=False)
        above = _neighbour(lines, readings, index, above=True)
        printed.append(
            Printed(
                line=line,
                reading=reading,
                lengths=lengths_in(reading.text, before=before, above=above),
                inside=inside[index],
            )
        )
    sure = [item for item in printed if ink.name == "panel" or item.is_text]
    return Words(
        bars=tuple(bars),
        printed=tuple(printed),
        rows=tuple(_rows(sure)),
        columns=tuple(
            (above, item.reading.text)
            for item in sure
            if (above := _neighbour(lines, readings, lines.index(item.line), above=True))
        ),
    )


def read_printed(
    ink: Ink, line: Line, *, inverse: bool = False, hard: bool = False, height_share: float = 0.72
) -> Reading:
    """Read one line of a layer; inverse: light text inside a filled bar."""
    pad = max(1, int(round(0.12 * line.letter_px)))
    margin = 0 if inverse else pad
    crop = ink.crop(line.row_0 - margin, line.row_1 + margin, line.col_0 - margin, line.col_1 + margin, hard=hard)
    return read_line(255 - crop if inverse else crop, height_share=height_share)


def _is_text(reading: Reading) -> bool:
    return len(re.findall(r"\w", reading.text)) >= 2 and reading.sureness >= SURE_TEXT


def _faint_lines(ink: Ink, bars: list[Bar]) -> list[Line]:
    """Lines of thin letters beside a sure bar over the picture, whose strokes are too narrow to reach the ink's level."""
    found = []
    sure = sorted((bar for bar in bars if not bar.doubt and bar.length_px >= 30), key=lambda bar: -bar.length_px)
    for bar in sure[:2]:
        top, left = max(bar.row_0 - FAINT_REACH_PX, 0), max(bar.col_0 - 3 * FAINT_REACH_PX, 0)
        part = np.s_[top : bar.row_1 + FAINT_REACH_PX, left : bar.col_1 + 3 * FAINT_REACH_PX]
        plane = ink.plane[part]
        raised = cv2.morphologyEx(plane, cv2.MORPH_TOPHAT, np.ones((9, 9), np.uint8))
        strokes = (raised >= FAINT_CONTRAST) & (plane >= ink.low)
        for row_0, row_1, col_0, col_1 in bar.parts:
            strokes[max(row_0 - top, 0) : row_1 - top, max(col_0 - left, 0) : col_1 - left] = False
        for line in find_lines(strokes):
            if line.regularity >= 2 and line.row_1 - line.row_0 <= 2.2 * line.letter_px:
                found.append(
                    replace(
                        line,
                        row_0=line.row_0 + top,
                        row_1=line.row_1 + top,
                        col_0=line.col_0 + left,
                        col_1=line.col_1 + left,
                    )
                )
    return found


def _is_near(line: Line, bar: Bar) -> bool:
    """Tell whether a line stands where a bar's label would: such lines are read first."""
    if bar.length_px < 2 * line.letter_px:
        return False
    down = max(bar.row_0 - line.row_1, line.row_0 - bar.row_1)
    across = max(bar.col_0 - line.col_1, line.col_0 - bar.col_1)
    return down <= 2.5 * line.letter_px and across <= 4 * line.letter_px


def _crispness(ink: Ink, line: Line) -> float:
    """How steeply ink falls off around the letters of a line, 0..1: print is cut off, bright parts of a picture fade."""
    if ink.name == "panel":
        return 1.0
    box = np.s_[max(line.row_0 - 3, 0) : line.row_1 + 3, max(line.col_0 - 3, 0) : line.col_1 + 3]
    mask = ink.mask[box]
    rim = thickened(mask, 2) & ~thickened(mask, 1)
    if not rim.any() or not mask.any():
        return 0.0
    fall = float(np.median(ink.plane[box][mask])) - ink.plane[box][rim].astype(np.float32)
    return float(np.clip(fall / 100, 0, 1).mean())


def _read_carefully(ink: Ink, line: Line) -> Reading:
    """Read a line; if it has figures and the look of a length without being one, read it again in other ways."""
    reading = read_printed(ink, line)
    if lengths_in(reading.text) or not _NEARLY_LENGTH.search(reading.text):
        return reading
    wide = widened(line)
    for other, hard, share in ((line, True, 0.6), (line, False, 0.85), (wide, False, 0.72), (wide, True, 0.6)):
        again = read_printed(ink, other, hard=hard, height_share=share)
        if lengths_in(again.text):
            return again
    return reading


def widened(line: Line) -> Line:
    """Return the line's box with a letter more on either side, where the picture may have hidden one."""
    more = int(round(line.letter_px))
    return replace(line, col_0=max(line.col_0 - more, 0), col_1=line.col_1 + more)


def _line_inside(ink: Ink, bar: Bar) -> Line | None:
    """Return the box of light text inside a filled bar, or None."""
    if bar.kind != "filled" or bar.thickness_px < 9:
        return None
    row_0, row_1, col_0, col_1 = bar.parts[0]
    holes = ~ink.mask[row_0 + 1 : row_1 - 1, col_0 + 1 : col_1 - 1]
    if not 0.02 <= holes.mean() <= 0.6:
        return None
    across, down = np.flatnonzero(holes.any(axis=0)), np.flatnonzero(holes.any(axis=1))
    return Line(
        row_0=row_0 + 1 + int(down[0]),
        row_1=row_0 + 2 + int(down[-1]),
        col_0=max(col_0 + 1 + int(across[0]) - 2, col_0),
        col_1=min(col_0 + 2 + int(across[-1]) + 2, col_1),
        letter_px=float(down[-1] - down[0] + 1),
        regularity=2,
    )


def _neighbour(lines: list[Line], readings: list[Reading], index: int, *, above: bool) -> str:
    """Return the text to the left in the same row, or the heading right above, or ""."""
    own = lines[index]
    best, text = float("inf"), ""
    for line, reading in zip(lines, readings, strict=True):
        rows = min(line.row_1, own.row_1) - max(line.row_0, own.row_0)
        cols = min(line.col_1, own.col_1) - max(line.col_0, own.col_0)
        tall = max(line.letter_px, own.letter_px)
        if above:
            gap, overlap = own.row_0 - line.row_1, cols / min(line.col_1 - line.col_0, own.col_1 - own.col_0)
            fits = -0.3 * tall <= gap <= 1.6 * tall and overlap >= 0.5
        else:
            gap, overlap = own.col_0 - line.col_1, rows / min(line.row_1 - line.row_0, own.row_1 - own.row_0)
            fits = 0 <= gap <= 6 * tall and overlap >= 0.5
        if line is not own and fits and gap < best:
            best, text = gap, reading.text
    return text


def _rows(printed: list[Printed]) -> list[str]:
    """Join the lines that stand in one row, parted by two blanks."""
    rows: list[list[Printed]] = []
    for item in sorted(printed, key=lambda item: item.line.col_0):
        for row in rows:
            last = row[-1].line
            overlap = min(last.row_1, item.line.row_1) - max(last.row_0, item.line.row_0)
            low = min(last.row_1 - last.row_0, item.line.row_1 - item.line.row_0)
            gap = item.line.col_0 - last.col_1
            if overlap >= 0.5 * low and -2 <= gap <= 6 * max(last.letter_px, item.line.letter_px):
                row.append(item)
                break
        else:
            rows.append([item])
    rows.sort(key=lambda row: (row[0].line.row_0, row[0].line.col_0))
    return [text for row in rows if (text := "  ".join(item.reading.text for item in row if item.reading.text))]
