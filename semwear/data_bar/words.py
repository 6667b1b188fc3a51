"""Words and shapes of one layer of ink: bars are taken out, the rest is read line by line."""

import re
from dataclasses import dataclass, replace

import cv2
import numpy as np

from semwear.data_bar.bar_ends import Bar, with_stepped_end_doubted
from semwear.data_bar.bars import find_bars
from semwear.data_bar.coloured import coloured_bars
from semwear.data_bar.ink import Ink, thickened
from semwear.data_bar.labels import Length, lengths_in
from semwear.data_bar.lines import Line, find_lines
from semwear.data_bar.pieces import pieces_of
from semwear.data_bar.reading_ways import read_carefully, read_printed
from semwear.data_bar.seen_lines import seen_lines
from semwear.data_bar.text import Reading
from semwear.data_bar.text_finder import TextFinder

MOST_LINES_ON_PANEL = 40
MOST_LINES_BURNT_IN = 14
"""Lines that are read over the picture: the most regular ones."""
MOST_LINES_IN_VAIN = 6
"""After this many lines in a row that aren't text, no more are read over the picture."""
BAR_IN_FRAME = 5
"""Length of a hole in a seeming bar, in quarters of its height, from which it is a bar in a frame: no letter is as broad."""
FEWEST_HOLES = 0.004
"""Share of a filled bar that a label inside it leaves free."""
LARGEST_SPECK_PX = 2
WIDEST_BLANK_ROWS, WIDEST_BLANK_COLUMNS = 0.06, 2.5
"""Blank within a label inside a filled bar at most, in heights of the label: lines of a panel are parted by more."""
FARTHEST_VALUE = 3.5
"""Blank between a word and its value in the same row at most, in heights of a letter."""
WIDEST_HEADING = 2.0
"""Width of a heading at most, in widths of what stands below it."""
FLAT_BAR = 1.8
"""Length over height from which a mark can't be a letter."""
TOUCHING_FIGURES = 4.0
"""Length over height up to which a doubtful mark with ticks may be figures of a label that touch each other."""
LEAST_REGULARITY = 4
"""Letters of like height and foot that a line over the picture needs to be read without being seen by the detector."""
SHORTEST_SHARE = 0.012
"""Shortest bar looked for, as a share of the picture's width."""
SURE_TEXT = 0.75
"""Mean probability of its characters from which a line over the picture counts as text."""


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
    """All that was found in a layer: bars, lines, texts of whole rows, and (heading, text below) pairs of tables.

    ink: the layer without its sure bars, whose ends could be read as letters.
    """

    bars: tuple[Bar, ...]
    printed: tuple[Printed, ...]
    rows: tuple[str, ...]
    columns: tuple[tuple[str, str], ...]
    ink: Ink


def read_words(ink: Ink, *, width_px: int, finder: TextFinder | None = None, drawn: Ink | None = None) -> Words:
    """Find the bars of a layer and read its lines; width_px is the width of the whole picture.

    finder: finds text on the picture where letters can't be told from the picture by their ink. drawn: the layer as it is, in
    which bars are measured, where the letters in ink were mended for reading.
    """
    bars = _bars_of(ink, ink if drawn is None else drawn, shortest_px=SHORTEST_SHARE * width_px)
    sure = [bar for bar in bars if not bar.doubt or _has_ticks_of_a_bar(bar)]
    mask = ink.without([part for bar in sure for part in bar.parts], margin_px=0).mask
    # A short mark as high as long may be a letter, so that it is still read.
    flat = [bar for bar in sure if bar.length_px >= FLAT_BAR * (bar.row_1 - bar.row_0)]
    clear = ink.without([part for bar in flat for part in bar.parts])
    lines = _likeliest_first(ink, find_lines(mask), bars)
    if finder is not None and not ink.cut_out:
        lines = _with_seen(lines, seen_lines(clear, bars, finder))
    printed = _read_in_turn(clear, lines, flat)
    if finder is not None and ink.cut_out and bars and not any(_labels_a_bar(item.reading) for item in printed):
        # A blank as wide as two letters parts number and unit, letters touch, or an outline is open.
        printed += [_read_line(clear, line, near=True) for line in seen_lines(clear, bars, finder)]
    printed = _with_lengths(printed + _read_inside(ink, bars))
    texts = [item for item in printed if ink.on_panel or item.is_text]
    return Words(
        bars=tuple(bars),
        printed=tuple(printed),
        rows=tuple(_rows(texts)),
        columns=tuple(_columns(texts, printed)),
        ink=clear,
    )


def _bars_of(ink: Ink, drawn: Ink, *, shortest_px: float) -> list[Bar]:
    """Return the bars of a layer as drawn, with the doubts that the kind of its ink brings."""
    around = None if ink.name.startswith("coloured") else ink.raw  # A grey picture hides no coloured mark.
    bars = find_bars(drawn.plane, drawn.mask, shortest_px=shortest_px, burnt=not ink.cut_out, around=around)
    if ink.name == "coloured ink":
        bars = coloured_bars(ink, bars, shortest_px=shortest_px)
    if ink.cut_out and not ink.on_panel:
        bars = [with_stepped_end_doubted(ink.plane, bar) for bar in bars]
    return bars


def _likeliest_first(ink: Ink, lines: list[Line], bars: list[Bar]) -> list[Line]:
    """Return the lines that may be text: those beside a bar first, then the most regular and crisp ones."""
    if not ink.on_panel:
        lines = [
            line
            for line in lines
            if (ink.cut_out or line.regularity >= 1) and line.row_1 - line.row_0 <= 2.2 * line.letter_px
        ]
    near = [ink.on_panel or any(_is_near(line, bar) for bar in bars) for line in lines]
    ranks = [-line.regularity * _crispness(ink, line) - 1000 * beside for line, beside in zip(lines, near, strict=True)]
    return [lines[index] for index in np.argsort(ranks, kind="stable")]


def _with_seen(lines: list[Line], seen: list[Line]) -> list[Line]:
    """Return the lines that the detector sees, then lines of ink that begin before them, then the regular ones elsewhere."""
    seen = seen + [line for line in lines if any(_overlap(line, other) and _begins_before(line, other) for other in seen)]
    regular = [line for line in lines if line.regularity >= LEAST_REGULARITY][:MOST_LINES_IN_VAIN]
    return seen + [line for line in regular if not any(_overlap(line, other) for other in seen)]


def _read_in_turn(clear: Ink, lines: list[Line], flat: list[Bar]) -> list[Printed]:
    """Read lines one after the other, over the picture until many in a row are no text. flat: bars whose labels they may be."""
    printed: list[Printed] = []
    in_vain = 0
    for line in lines[: MOST_LINES_ON_PANEL if clear.on_panel else MOST_LINES_BURNT_IN]:
        printed.append(_read_line(clear, line, near=any(_is_near(line, bar) for bar in flat)))
        in_vain = 0 if printed[-1].is_text else in_vain + 1
        if not clear.on_panel and in_vain >= MOST_LINES_IN_VAIN:
            break
    return printed


def _read_line(clear: Ink, line: Line, *, near: bool) -> Printed:
    """Read one line, whose lengths are left for later; near: a bar is beside it."""
    reading, box = read_carefully(clear, line, near=near)
    return Printed(line=box, reading=reading, lengths=())


def _labels_a_bar(reading: Reading) -> bool:
    """Tell whether a reading holds a length that may label a bar."""
    return any(length.may_label for length in lengths_in(reading.text))


def _read_inside(ink: Ink, bars: list[Bar]) -> list[Printed]:
    """Read the light text inside filled bars."""
    printed = []
    for bar in bars:
        if (line := _line_inside(ink, bar)) is not None:
            reading = read_printed(ink, line, inverse=True)
            printed.append(Printed(line=line, reading=reading, lengths=(), inside=bar))
    return printed


def _with_lengths(printed: list[Printed]) -> list[Printed]:
    """Return the lines of a layer with the lengths in them, as the words before and above them say."""
    told = []
    for item in printed:
        above = next((head.reading.text for head in _headings(item, printed)), "")
        told.append(replace(item, lengths=lengths_in(item.reading.text, before=_text_before(item, printed), above=above)))
    return told


def _columns(texts: list[Printed], printed: list[Printed]) -> list[tuple[str, str]]:
    """Return (heading, text below) for those of the texts that stand below headings among all that is printed.

    Cells that stand close are read as one line: each of its words then belongs to the heading that it stands nearest to.
    """
    columns = []
    for item in texts:
        heads = _headings(item, printed)
        if len(heads) <= 1:
            columns += [(head.reading.text, item.reading.text) for head in heads]
            continue
        below: list[list[str]] = [[] for _ in heads]
        middles = [(head.line.col_0 + head.line.col_1) / 2 for head in heads]
        for word, middle in _words_of(item):
            below[int(np.argmin([abs(middle - each) for each in middles]))].append(word)
        columns += [(head.reading.text, " ".join(words)) for head, words in zip(heads, below, strict=True)]
    return columns


def _words_of(item: Printed) -> list[tuple[str, float]]:
    """Return the words of a line, each with the column of its middle."""
    words = re.finditer(r"\S+", item.reading.text)
    columns = [item.reading.column(item.line, place) for place in range(len(item.reading.text))]
    return [(word.group(), float(np.mean(columns[word.start() : word.end()]))) for word in words]


def _has_ticks_of_a_bar(bar: Bar) -> bool:
    """Tell whether a doubtful mark with ticks is a bar all the same, and no figures that touch: those are as high as ticks."""
    long = bar.length_px >= TOUCHING_FIGURES * (bar.row_1 - bar.row_0)
    return any(bar.outer_ticks) and bar.kind != "ticks" and long


def rows_read_again(words: Words, *, hard: bool, height_share: float) -> list[str]:
    """Return the texts of whole rows with every line that holds figures read in another way, from the words' own ink."""
    printed = []
    for item in words.printed:
        if item.inside is None and item.is_text and re.search(r"\d", item.reading.text):
            item = replace(item, reading=read_printed(words.ink, item.line, hard=hard, height_share=height_share))
        printed.append(item)
    return _rows(printed)


def _is_text(reading: Reading) -> bool:
    return len(re.findall(r"\w", reading.text)) >= 2 and reading.sureness >= SURE_TEXT


def _overlap(line: Line, other: Line) -> bool:
    rows = min(line.row_1, other.row_1) - max(line.row_0, other.row_0)
    cols = min(line.col_1, other.col_1) - max(line.col_0, other.col_0)
    return rows > 0.4 * (line.row_1 - line.row_0) and cols > 0.4 * (line.col_1 - line.col_0)


def _begins_before(line: Line, seen: Line) -> bool:
    """Tell whether a line of ink begins a letter or more before the box in which the detector saw text."""
    return seen.col_0 - line.col_0 >= line.letter_px and line.regularity >= 2


def _is_near(line: Line, bar: Bar) -> bool:
    """Tell whether a line stands where a bar's label would: such lines are read first."""
    if bar.length_px < 2 * line.letter_px:
        return False
    down = max(bar.row_0 - line.row_1, line.row_0 - bar.row_1)
    across = max(bar.col_0 - line.col_1, line.col_0 - bar.col_1)
    return down <= 2.5 * line.letter_px and across <= 4 * line.letter_px


def _crispness(ink: Ink, line: Line) -> float:
    """How steeply ink falls off around the letters of a line, 0..1: print is cut off, bright parts of a picture fade."""
    if ink.on_panel:
        return 1.0
    box = np.s_[max(line.row_0 - 3, 0) : line.row_1 + 3, max(line.col_0 - 3, 0) : line.col_1 + 3]
    mask = ink.mask[box]
    rim = thickened(mask, 2) & ~thickened(mask, 1)
    if not rim.any() or not mask.any():
        return 0.0
    fall = float(np.median(ink.plane[box][mask])) - ink.plane[box][rim].astype(np.float32)
    return float(np.clip(fall / 100, 0, 1).mean())


def _line_inside(ink: Ink, bar: Bar) -> Line | None:
    """Return the box of light text inside a filled bar, or None."""
    if bar.kind != "filled" or bar.thickness_px < 9:
        return None
    row_0, row_1, col_0, col_1 = bar.parts[0]
    holes = ~ink.mask[row_0 + 1 : row_1 - 1, col_0 + 1 : col_1 - 1]
    if not FEWEST_HOLES <= holes.mean() <= 0.6 or _holds_a_bar(holes):
        return None
    if not _is_one_line(holes):
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


def _is_one_line(holes: np.ndarray) -> bool:
    """Tell whether the holes (rows, cols) bool are one row of text and nothing else: a panel holds more than a label."""
    pieces = pieces_of(holes)
    kept = np.isin(pieces.labels, np.flatnonzero(pieces.stats[:, cv2.CC_STAT_AREA] > LARGEST_SPECK_PX)) & holes
    down, across = np.flatnonzero(kept.any(axis=1)), np.flatnonzero(kept.any(axis=0))
    if not len(down):
        return False
    tall = down[-1] - down[0] + 1
    parted = np.diff(down).max(initial=0) - 1 > max(1, WIDEST_BLANK_ROWS * tall)
    return not parted and np.diff(across).max(initial=0) - 1 <= WIDEST_BLANK_COLUMNS * tall


def _holds_a_bar(holes: np.ndarray) -> bool:
    """Tell whether one of the holes (rows, cols) bool is a bar itself: then the seeming bar is the ground of a frame."""
    longest = BAR_IN_FRAME * max(len(holes) // 4, 4)
    return bool(cv2.erode(holes.astype(np.uint8), np.ones((1, longest), np.uint8)).any())


def _text_before(item: Printed, printed: list[Printed]) -> str:
    """Return the text to the left of a line in the same row, or ""."""
    own = item.line
    best, text = float("inf"), ""
    for line, reading in ((other.line, other.reading) for other in printed):
        rows = min(line.row_1, own.row_1) - max(line.row_0, own.row_0)
        gap, overlap = own.col_0 - line.col_1, rows / min(line.row_1 - line.row_0, own.row_1 - own.row_0)
        fits = 0 <= gap <= 6 * max(line.letter_px, own.letter_px) and overlap >= 0.5
        if line is not own and fits and gap < best:
            best, text = gap, reading.text
    return text


def _headings(item: Printed, printed: list[Printed]) -> list[Printed]:
    """Return the lines that are headings right above a line, nearest first."""
    heads = [
        other
        for other in printed
        if other.line is not item.line and _stands_right_above(other.line, item.line) and not _has_value_beside(other.line, printed)
    ]
    return sorted(heads, key=lambda head: item.line.row_0 - head.line.row_1)


def _stands_right_above(line: Line, own: Line) -> bool:
    """Tell whether a line stands over another one closely enough to be its heading, and is not much wider."""
    gap, tall = own.row_0 - line.row_1, max(line.letter_px, own.letter_px)
    narrower = min(line.col_1 - line.col_0, own.col_1 - own.col_0)
    cols = min(line.col_1, own.col_1) - max(line.col_0, own.col_0)
    wide = line.col_1 - line.col_0 > WIDEST_HEADING * (own.col_1 - own.col_0)
    return -0.3 * tall <= gap <= 1.6 * tall and cols >= 0.5 * narrower and not wide


def _has_value_beside(head: Line, printed: list[Printed]) -> bool:
    """Tell whether a number follows a word in its own row: then it is no heading of what stands below."""
    for line, reading in ((other.line, other.reading) for other in printed):
        rows = min(line.row_1, head.row_1) - max(line.row_0, head.row_0)
        beside = 0 <= line.col_0 - head.col_1 <= FARTHEST_VALUE * head.letter_px
        if beside and rows >= 0.5 * (head.row_1 - head.row_0) and re.match(r"\s*[=:]?\s*\d", reading.text):
            return True
    return False


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
