"""Two upright ticks with the label between them and no line: the expected lengths are the drawing's."""

import math

import numpy as np
import pytest
from drawn_bars import assert_read, picture, read, written

from semwear.data_bar.flanking_ticks import _is_upright

ROW = 440


def strip(*, texts: dict[int, str], ticks: tuple[int, ...], wide: int = 2, high: int = 18, row: int = ROW) -> np.ndarray:
    """A picture above a black strip with white texts that begin at the given columns, and ticks whose first columns are given."""
    pixels = picture()
    pixels[420:] = 0
    for column in ticks:
        pixels[row : row + high, column : column + wide] = 255
    for column, text in texts.items():
        pixels = written(pixels, text, ROW, column, size=18, ink=255)
    return pixels


@pytest.mark.parametrize("wide", [1, 2, 3])
@pytest.mark.parametrize("unit", ["µm", "nm"])
def test_the_bar_reaches_from_the_middle_of_one_tick_to_that_of_the_other(wide, unit):
    bar = read(strip(texts={20: "15 kV  SE", 440: f"200 {unit}"}, ticks=(370, 570), wide=wide))
    assert_read(bar, 200 if unit == "µm" else 0.2, 200)


@pytest.mark.parametrize(("inked", "is_tick"), [(54, True), (36, True), (33, True), (27, False)])
def test_a_tick_of_which_resampling_left_a_column_half_inked_is_upright(inked, is_tick):
    """18 rows of 3 columns, of which the third is ink in some rows only; half of the box may as well be a letter."""
    assert _is_upright((10, 28, 695, 698), float(inked)) is is_tick


@pytest.mark.parametrize(
    ("texts", "ticks"),
    [
        ({20: "15 kV     SE     8.2 mm", 400: "20 µm"}, (310, 548)),  # Midway between two texts.
        ({20: "15 kV     SE", 300: "20 µm", 520: "SE"}, (220, 438)),  # Between texts on either side.
        ({92: "20 µm", 230: "SE     15 kV"}, (20, 216)),  # Close to the text beyond.
    ],
)
def test_where_facts_stand_apart_without_rules_two_ticks_are_the_ends_of_a_bar(texts, ticks):
    assert_read(read(strip(texts=texts, ticks=ticks)), 20, ticks[1] - ticks[0])


@pytest.mark.parametrize(
    ("texts", "ticks"),
    [
        ({20: "15 kV", 270: "20 µm", 460: "SE"}, (200, 400)),  # Rules between three facts.
        ({20: "15 kV", 220: "20 µm", 460: "SE"}, (140, 360, 540)),
        ({20: "15 kV", 420: "20 µm"}, (405, 500)),  # As close as rules stand to a fact.
        ({20: "15 kV", 320: "20 µm"}, (300, 560)),  # Not in the middle.
        ({120: "15 kV", 260: "20 µm"}, (214, 368)),  # A rule after every fact, midway to the next.
        ({20: "15 kV", 260: "20 µm", 420: "SE 3"}, (170, 560)),  # More than a label between them.
    ],
)
def test_rules_between_facts_are_no_ends_of_a_bar(texts, ticks):
    assert math.isnan(read(strip(texts=texts, ticks=ticks)).bar_um)


def test_rules_as_high_as_the_strip_are_no_ends_of_a_bar():
    assert math.isnan(read(strip(texts={20: "15 kV", 440: "20 µm"}, ticks=(370, 570), high=52, row=424)).bar_um)


@pytest.mark.parametrize("row", [422, 424, 430])
def test_ticks_that_hang_above_their_label_part_no_facts(row):
    texts = {20: "15 kV", 120: "SE", 326: "20 µm", 520: "9.8 mm"}
    pixels = strip(texts=texts, ticks=(260, 450), row=row, high=14)
    assert_read(read(pixels), 20, 190)


def test_two_ticks_of_a_row_are_no_bar_of_their_own():
    """Five ticks, the second and fourth lower: the label below the middle stands between those two as well."""
    pixels = picture()
    pixels[400:] = 0
    for number, high in enumerate((24, 14, 24, 14, 24)):
        pixels[436 - high : 436, 200 + 60 * number : 202 + 60 * number] = 255
    assert_read(read(written(pixels, "20 µm", 444, 290, size=18)), 20, 240)
