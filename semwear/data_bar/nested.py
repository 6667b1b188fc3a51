"""A bar and its outline, its inside, its box or its letters, seen as two bars, and which of the two the label means.

The label is written in the tone of the bar: if only one of the two tones carries the label, its bar is meant. Else the
outline is taken for what sets the ink off, so that the inner bar counts, and the uncertainty covers the outer one.
Parts of a bar are told from the whole in :mod:`semwear.data_bar.bar_parts`.
"""

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from semwear.data_bar.bar_ends import CARRIED_ON, Bar
from semwear.data_bar.contours import is_in_blocks
from semwear.data_bar.ink import Ink
from semwear.data_bar.lines import Line
from semwear.data_bar.pairing import Pair, says_the_same
from semwear.data_bar.surroundings import LABEL_IN_OTHER_TONE
from semwear.data_bar.tick_doubts import MISSING
from semwear.data_bar.two_tones import INSIDE_HOLLOW, opposite_level, rows_beyond, shows_picture

WIDEST_OUTLINE_PX = 4.5
EQUAL_WITHIN_PX = 1.5
"""An outline is equally thick at both ends."""
LONGER_SHARE = 0.01
"""Share of its length by which an outline may be longer than its bar without harm."""
ASIDE_PX = 2.0
"""A shadow reaches farther beyond one end of a mark than beyond the other, by this much at least."""
OFF_LINE, LETTER_GAP = 0.3, 0.6
"""Rows that letters go above or below the line they belong to, and blank before them, in heights of a letter."""
MOST_LETTERS = 4
"""Length of letters whose strokes may look like a row of ticks at most, in letter heights."""


def without_outlines(pairs: list[Pair]) -> list[Pair]:
    """Return the pairs of burnt-in bars without those whose bar is the outline of another pair's bar."""
    frames = [pair for pair in pairs if not pair.ink.on_panel and not pair.bar.doubt and _holds_blocks(pair)]
    pairs = [pair for pair in pairs if not any(_encloses(frame, pair) for frame in frames)]
    dropped, widened = set(), {}
    for inner in pairs:
        if inner.ink.on_panel or not inner.ink.cut_out:
            continue
        for outer in pairs:
            if outer.label.length.um != inner.label.length.um or not _encloses(outer, inner):
                continue
            tones = {
                pair.label.ink.tone
                for pair in pairs
                if pair.label.ink.cut_out and pair.label.length.um == inner.label.length.um
            }
            if inner.ink.tone != "coloured" and outer.ink.tone in tones and inner.ink.tone not in tones:
                dropped.add(id(inner))
                continue
            if _has_outline(outer):
                dropped.add(id(inner))  # An outline has none of its own: the inner one is the inside of a hollow bar.
                continue
            dropped.add(id(outer))
            if inner.ink.tone != "coloured" and (outer.ink.tone in tones) == (inner.ink.tone in tones):
                extra = (outer.bar.length_px - inner.bar.length_px) / 2 / math.sqrt(3)
                widened[id(inner)] = max(extra, widened.get(id(inner), 0.0))
    kept = []
    for pair in pairs:
        if id(pair) in dropped:
            continue
        if id(pair) in widened:
            pair = replace(pair, bar=replace(pair.bar, u_px=math.hypot(pair.bar.u_px, widened[id(pair)])))
        kept.append(pair)
    return kept


def lies_around_another(pair: Pair, ink: Ink, bars: Iterable[Bar]) -> bool:
    """Tell whether a burnt-in bar lies around a sure one of another tone, among the bars of a layer, and is longer than its ends explain.

    Then it is the outline, whose label was readable in the outline's tone alone.
    """
    if pair.ink.on_panel or ink.on_panel or ink.tone == pair.ink.tone or _holds_blocks(pair):
        return False
    plane = ink.plane if ink.raw is None else ink.raw
    inner = [bar for bar in bars if not bar.doubt and not shows_picture(plane, bar, pair.bar.box)]
    inner = [replace(pair, ink=ink, bar=bar) for bar in inner]
    longer = max(EQUAL_WITHIN_PX, LONGER_SHARE * pair.bar.length_px)
    return any(_encloses(pair, one) and pair.bar.length_px - one.bar.length_px > longer for one in inner)


def without_boxes(pairs: list[Pair]) -> list[Pair]:
    """Return the pairs of burnt-in bars without those whose bar is the ground on which their label and a bar stand."""
    return [pair for pair in pairs if pair.ink.on_panel or not any(_is_ground_of(pair, other) for other in pairs)]


def without_letters(pairs: list[Pair], lines: list[Line]) -> list[Pair]:
    """Return the pairs of burnt-in bars without rows of ticks that are letters ("mm") of a text read in any layer.

    The text may be read up to its figures only, so that its unit follows it.
    """

    def is_in(bar: Bar, line: Line) -> bool:
        above, beyond = max(2, OFF_LINE * line.letter_px), max(2, LETTER_GAP * line.letter_px)
        rows = line.row_0 - above <= bar.row_0 and bar.row_1 <= line.row_1 + above
        columns = line.col_0 - 2 <= bar.col_0 <= line.col_1 + beyond
        return rows and columns and bar.col_1 - bar.col_0 <= MOST_LETTERS * line.letter_px

    return [
        pair
        for pair in pairs
        if pair.ink.on_panel or pair.bar.kind != "ticks" or not any(is_in(pair.bar, line) for line in lines)
    ]


def with_shared_doubt(pairs: list[Pair]) -> list[Pair]:
    """Return the pairs with every bar doubted that another layer shows to be the inside of a hollow one, a piece of several, or a row
    of which ticks are missing."""
    seen = [(pair.bar.box, pair.bar.doubt) for pair in pairs if pair.bar.doubt in (INSIDE_HOLLOW, CARRIED_ON, MISSING)]

    def doubt_of(bar: Bar) -> str:
        elsewhere = {doubt for box, doubt in seen if np.abs(np.subtract(bar.box, box)).max() <= 1}
        if INSIDE_HOLLOW in elsewhere:
            return INSIDE_HOLLOW
        if bar.doubt:
            return bar.doubt
        if bar.kind == "ticks":
            return MISSING if MISSING in elsewhere else ""
        return CARRIED_ON if CARRIED_ON in elsewhere and bar.kind in ("filled", "line") else ""

    return [replace(pair, bar=replace(pair.bar, doubt=doubt_of(pair.bar))) for pair in pairs]


def with_inside_doubted(pairs: list[Pair]) -> list[Pair]:
    """Return the pairs with every burnt-in bar doubted that lies within a doubted mark of its own tone, off its middle.

    That mark is the shadow of something hollow, or in blocks, of the other tone, and the bar what shows inside it.
    """
    shadows = [pair for pair in pairs if pair.bar.doubt and not pair.ink.on_panel]

    def is_inside(pair: Pair) -> bool:
        return any(pair.ink.tone == other.ink.tone and _is_off_middle(pair.bar, other.bar) for other in shadows)

    return [
        replace(pair, bar=replace(pair.bar, doubt=INSIDE_HOLLOW))
        if not pair.ink.on_panel and not pair.bar.doubt and pair.bar.kind in ("filled", "line") and is_inside(pair)
        else pair
        for pair in pairs
    ]


def _is_off_middle(bar: Bar, around: Bar) -> bool:
    """Tell whether a bar lies within the box of another mark no wider than an outline, nearer to one end and side of it."""
    above, below = bar.row_0 - around.row_0, around.row_1 - bar.row_1
    left, right = bar.col_0 - around.col_0, around.col_1 - bar.col_1
    within = min(above, below, left, right) >= 0 and max(above, below, left, right) <= WIDEST_OUTLINE_PX + 1
    return within and above != below and abs(left - right) >= ASIDE_PX


def without_other_tones(pairs: list[Pair]) -> list[Pair]:
    """Return the pairs without those whose label seemed to be in the other tone, where one layer of ink holds bar and label."""
    sure = [pair for pair in pairs if pair.ink.cut_out and pair.label.ink.name == pair.ink.name and not pair.bar.doubt]
    return [
        pair
        for pair in pairs
        if pair.bar.doubt != LABEL_IN_OTHER_TONE or not any(says_the_same(pair, other) for other in sure)
    ]


def _holds_blocks(pair: Pair) -> bool:
    """Tell whether a bar is blocks in a frame of their own tone: what lies inside is its blocks of the other tone."""
    row_0, row_1, col_0, col_1 = pair.bar.box
    return pair.bar.kind == "filled" and is_in_blocks(pair.ink.mask[row_0:row_1, col_0:col_1])


def _has_outline(pair: Pair) -> bool:
    """Tell whether ink of the opposite tone runs right along a bar, darker than the picture a little farther off."""
    plane = pair.ink.plane if pair.ink.raw is None else pair.ink.raw
    along = rows_beyond(plane, pair.bar.box, 1)
    return bool(along.size and np.median(along) <= opposite_level(plane, pair.bar.box))


def _is_ground_of(pair: Pair, other: Pair) -> bool:
    box, bar, line = pair.bar, other.bar, pair.label.printed.line
    holds = box.row_0 <= bar.row_0 and bar.row_1 <= box.row_1 and box.col_0 <= bar.col_0 and bar.col_1 <= box.col_1
    higher = box.row_1 - box.row_0 > bar.row_1 - bar.row_0 + 2 * WIDEST_OUTLINE_PX
    return not other.ink.on_panel and holds and higher and box.row_0 <= (line.row_0 + line.row_1) / 2 <= box.row_1


def _encloses(outer: Pair, inner: Pair) -> bool:
    """Tell whether a bar of another layer lies around a bar as its outline would."""
    one, other = outer.bar, inner.bar
    if outer.ink is inner.ink or outer.ink.on_panel or outer.ink.tone == inner.ink.tone == "coloured":
        return False  # An outline has another tone than its ink.
    left, right = other.start_px - one.start_px, one.stop_px - other.stop_px
    rows = (
        one.row_0 <= other.row_0 + 1
        and one.row_1 >= other.row_1 - 1
        and one.row_1 - one.row_0 <= other.row_1 - other.row_0 + 2 * WIDEST_OUTLINE_PX
    )
    return (
        rows
        and left + right > 0
        and min(left, right) >= -0.5
        and max(left, right) <= WIDEST_OUTLINE_PX
        and abs(left - right) <= EQUAL_WITHIN_PX
    )
