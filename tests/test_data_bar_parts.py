"""Parts of a bar over the picture of which the rest isn't seen: each looks like a whole one and would give a wrong scale."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from semwear.data_bar.bar_ends import Bar, plain_bar
from semwear.data_bar.bar_parts import goes_on_elsewhere, with_halves_doubted
from semwear.data_bar.labels import lengths_in
from semwear.data_bar.lines import Line
from semwear.data_bar.pairing import Pair, _without_ticks_read_as_1
from semwear.data_bar.surroundings import stands_askew
from semwear.data_bar.text import Reading


def ink() -> SimpleNamespace:
    return SimpleNamespace(on_panel=False)


def line_bar(first: int, stop: int, *, row: int = 500, kind: str = "line", doubt: str = "") -> Bar:
    bar = plain_bar((row, row + 3, first, stop), first, stop - 1, 0.4, parts=((row, row + 3, first, stop),), doubt=doubt)
    return replace(bar, kind=kind)


def label(first: int, stop: int, *, row: int = 494, text: str = "100 µm") -> SimpleNamespace:
    """A label with letters 15 px high."""
    line = Line(row_0=row, row_1=row + 15, col_0=first, col_1=stop, letter_px=15.0, regularity=2)
    reading = Reading(text=text, probabilities=(0.99,) * len(text), places=tuple(np.linspace(0, 1, len(text))))
    return SimpleNamespace(
        ink=ink(), printed=SimpleNamespace(line=line, reading=reading, inside=None), length=lengths_in(text)[0]
    )


def row_of_ticks(first: int, last: int, *, down: int = 0, doubt: str = "") -> Bar:
    """Ticks of a row of eleven that stand 17.4 px apart."""
    ticks = tuple((100 + down, 117 + down, round(17.4 * tick), round(17.4 * tick) + 1) for tick in range(first, last + 1))
    box = (100 + down, 117 + down, ticks[0][2], ticks[-1][3])
    return replace(plain_bar(box, 17.4 * first, 17.4 * last, 0.4, parts=ticks, doubt=doubt), kind="ticks")


def test_a_row_that_other_ink_shows_to_go_on_is_only_the_part_of_it_that_its_own_ink_holds():
    """Bright ground hides the first five ticks from one kind of ink; the longer row may be doubted."""
    pair, other = SimpleNamespace(ink=ink(), bar=row_of_ticks(5, 10)), ink()
    assert goes_on_elsewhere(pair, other, [row_of_ticks(0, 10, doubt="a tick at its end isn't sure")])
    assert not goes_on_elsewhere(pair, pair.ink, [row_of_ticks(0, 10)])  # Its own layer knows its ticks.
    assert goes_on_elsewhere(pair, other, [row_of_ticks(0, 7)])  # Either layer holds one end.
    assert not goes_on_elsewhere(pair, other, [row_of_ticks(5, 10), row_of_ticks(6, 9), row_of_ticks(0, 10, down=40)])
    assert not goes_on_elsewhere(pair, other, [row_of_ticks(0, 5)])  # One tick in common.
    assert not goes_on_elsewhere(pair, other, [replace(row_of_ticks(0, 10), kind="line")])


@pytest.mark.parametrize(
    ("other", "doubted"),
    [
        (line_bar(179, 220, doubt="it has a tick at one end only"), True),
        (line_bar(160, 220), True),
        (line_bar(120, 220), False),  # Far longer.
        (line_bar(179, 220, row=520), False),  # Below the label.
        (line_bar(360, 401), False),  # On the same side.
    ],
)
def test_a_line_beside_its_label_with_another_like_it_on_the_other_side_may_be_half_of_a_bar(other, doubted):
    layer, printed = ink(), label(229, 296)
    pairs = [Pair(ink=layer, label=printed, bar=bar, standing=0.9) for bar in (line_bar(304, 345, kind="ticked"), other)]
    assert bool(with_halves_doubted(pairs)[0].bar.doubt) is doubted


@pytest.mark.parametrize(
    ("bar", "columns", "askew"),
    [
        ((721, 824), (696, 760), True),  # Half of a row of ticks from 620 on.
        ((620, 824), (696, 760), False),
        ((721, 824), (721, 785), False),  # Flush with its first column.
        ((721, 760), (696, 760), False),  # Flush with its last, and longer.
        ((700, 740), (690, 752), False),  # Longer at both ends.
        ((721, 824), (792, 856), False),  # At the right end of a ruler that begins at 0.
    ],
)
def test_a_label_that_reaches_beyond_one_end_of_a_bar_shows_that_a_part_is_missing(bar, columns, askew):
    assert stands_askew(line_bar(*bar), label(*columns, row=520)) is askew
    assert not stands_askew(line_bar(*bar), label(*columns))  # In one row with it.


def test_half_of_a_row_of_ticks_is_no_ruler_whose_label_stands_at_its_right_end():
    """The other half was read as letters; the label's middle lies 11 px beyond the last tick of the first."""
    assert stands_askew(line_bar(87, 146, kind="ticks"), label(107, 207, row=520))
    assert not stands_askew(line_bar(87, 146, kind="filled"), label(107, 207, row=520))  # Blocks with a 0 at their left end.
    assert not stands_askew(line_bar(87, 154, kind="ticks"), label(107, 207, row=520))
    many = replace(line_bar(87, 146, kind="ticks"), parts=((500, 515, 87, 88),) * 11)
    assert not stands_askew(many, label(107, 207, row=520))  # A whole row, with its label at the right end (common practice).


@pytest.mark.parametrize(("first", "kept"), [(173, ["200.0 µm"]), (190, ["1200.0 µm", "200.0 µm"])])
def test_the_last_tick_of_a_row_before_its_label_is_no_1(first, kept):
    """Eleven ticks up to column 174, and a label right behind them in which the first layer has read the last tick as well."""
    row, layer = row_of_ticks(0, 10), SimpleNamespace(on_panel=False, col_0=0)

    def pair(text: str, left: int) -> Pair:
        printed = label(left, left + 120, text=text)
        printed.ink.col_0 = 0
        return Pair(ink=layer, label=printed, bar=row, standing=0.7)

    pairs = [pair("1200.0 µm", first), pair("200.0 µm", first + 8)]
    assert [each.label.length.text for each in _without_ticks_read_as_1(pairs)] == kept
    assert _without_ticks_read_as_1(pairs[:1]) == pairs[:1]  # No other reading has the rest alone.
