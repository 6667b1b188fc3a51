"""Parts of a bar over the picture that pass for the whole, and are seen to be none by another layer of ink or beside their label.

A block of a bar, a stretch of its outline, half of it or some of its ticks end elsewhere than the bar does: the whole counts.
"""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from semwear.data_bar.bar_ends import Bar
from semwear.data_bar.ink import Ink
from semwear.data_bar.nested import EQUAL_WITHIN_PX, WIDEST_OUTLINE_PX
from semwear.data_bar.pairing import Pair

HALF = "it may be half of a bar that its label parts"
HALF_OFF_PX, LEAST_OF_HALF = 2.0, 0.6
"""Rows by which halves of one bar may differ, as one has lost a tick, and length of the shorter over that of the longer at least."""

FEWEST_SHARED = 2
"""Ticks that two rows have in common at least where both are of one scale."""


def without_parts(pairs: list[Pair]) -> list[Pair]:
    """Return the pairs of burnt-in bars without those whose bar is a stretch of the sure bar, or of the row of blocks, of another pair."""
    shapes = [pair for pair in pairs if pair.bar.kind in ("filled", "line", "ticked")]
    whole = [pair for pair in shapes if not pair.bar.doubt or pair.bar.is_row]
    return [
        pair
        for pair in pairs
        if pair.ink.on_panel
        or pair.bar.kind in ("split", "ticks")
        or not any(_is_stretch(pair, other) for other in whole if not other.ink.on_panel)
    ]


def goes_on_elsewhere(pair: Pair, ink: Ink, bars: Iterable[Bar]) -> bool:
    """Tell whether another layer has a row of ticks that shares some with a burnt-in one and goes on beyond an end of it.

    Bright ground hides ticks from one kind of ink and not from another; even a doubted row shows that.
    """
    part = pair.bar
    if part.kind != "ticks" or pair.ink.on_panel or ink.on_panel or ink is pair.ink:
        return False
    centres = _centres(part)

    def reaches_beyond(row: Bar) -> bool:
        if row.kind != "ticks" or row.row_0 >= part.row_1 or part.row_0 >= row.row_1:
            return False
        shared = (np.abs(centres[:, None] - _centres(row)[None]) <= EQUAL_WITHIN_PX).any(axis=1).sum()
        beyond = max(part.start_px - row.start_px, row.stop_px - part.stop_px)
        return shared >= FEWEST_SHARED and beyond > 2 * EQUAL_WITHIN_PX

    return any(reaches_beyond(row) for row in bars)


def _centres(row: Bar) -> np.ndarray:
    """Return the columns of the middles of a row's ticks."""
    return np.array([(left + right - 1) / 2 for _, _, left, right in row.parts])


def with_halves_doubted(pairs: list[Pair]) -> list[Pair]:
    """Return the pairs with every burnt-in bar doubted that stands beside its label where another like it stands on the other side.

    Both may be the halves of one bar that its label parts, of which one end is lost in the picture.
    """

    def doubted(pair: Pair) -> Pair:
        is_half = not pair.ink.on_panel and not pair.bar.doubt and any(_mirrors(pair, other) for other in pairs)
        return replace(pair, bar=replace(pair.bar, doubt=HALF)) if is_half else pair

    return [doubted(pair) for pair in pairs]


def _mirrors(pair: Pair, other: Pair) -> bool:
    """Tell whether two bars stand in one row on either side of the same label, as long as each other or nearly so."""
    if other.ink is not pair.ink or other.label.printed is not pair.label.printed or "split" in (pair.bar.kind, other.bar.kind):
        return False
    line, left, right = pair.label.printed.line, *sorted((pair.bar, other.bar), key=lambda bar: bar.col_0)
    aside = left.col_1 <= line.col_0 + line.letter_px and line.col_1 - line.letter_px <= right.col_0
    in_row = all(line.row_0 <= bar.row_px <= line.row_1 for bar in (left, right)) and abs(left.row_px - right.row_px) <= HALF_OFF_PX
    alike = min(left.length_px, right.length_px) >= LEAST_OF_HALF * max(left.length_px, right.length_px)
    return aside and in_row and alike


def _is_stretch(pair: Pair, whole: Pair) -> bool:
    """Tell whether a bar lies along another within its outline, and is shorter than an outline explains."""
    part, bar = pair.bar, whole.bar
    reach = WIDEST_OUTLINE_PX if bar.is_row else EQUAL_WITHIN_PX  # A block's outline goes round the end of the row.
    along = bar.start_px - reach <= part.start_px and part.stop_px <= bar.stop_px + reach
    # What lies between an outline and the picture's edge, or another outline, looks like a line.
    beside = WIDEST_OUTLINE_PX + 1 if part.row_1 - part.row_0 <= WIDEST_OUTLINE_PX else 2
    rows = bar.row_0 - beside <= part.row_0 and part.row_1 <= bar.row_1 + beside
    low = bar.row_1 - bar.row_0 <= part.row_1 - part.row_0 + 2 * WIDEST_OUTLINE_PX
    shorter = bar.length_px - part.length_px > 2 * WIDEST_OUTLINE_PX
    return along and rows and low and shorter
