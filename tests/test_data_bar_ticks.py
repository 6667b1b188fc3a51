"""Rows of ticks beside their label, in dense rows and beside bright spots: the expected lengths are the drawing's."""

import math
from dataclasses import replace
from types import SimpleNamespace

import drawn_bars
import numpy as np
import pytest
from drawn_bars import COLS, ROWS, picture, written

from semwear.data_bar import DataBar
from semwear.data_bar.bar_ends import plain_bar
from semwear.data_bar.lines import Line
from semwear.data_bar.pairing import _is_part_of_text
from semwear.data_bar.pieces import pieces_of
from semwear.data_bar.text import Reading
from semwear.data_bar.tick_ends import stands_at
from semwear.data_bar.ticks import tick_rows


def ticked(pixels: np.ndarray, ticks: int, step: float, *, wide: int = 2, high: int = 14, col: int = 300) -> np.ndarray:
    for tick in range(ticks):
        left = round(col + step * tick)
        pixels[420 : 420 + high, left : left + wide] = 255
    return pixels


def read(pixels: np.ndarray, text: str, row: int, col: int, *, size: int = 18) -> DataBar:
    return drawn_bars.read(written(pixels, text, row, col, size=size))


def test_ticks_hardly_farther_apart_than_they_are_broad_are_a_row():
    pixels = picture()
    pixels[400:] = 0
    bar = read(ticked(pixels, 11, 5.7, wide=3), "10 µm", 418, 390)
    assert (bar.reason, bar.bar_um) == ("", 10.0)
    assert bar.bar_px == pytest.approx(57.0, abs=0.3)


def test_ticks_that_touch_the_box_of_a_line_of_facts_are_no_letters_of_it():
    """The facts stand lower than the label, in one line with it, and reach down to the ticks by a row."""
    line = Line(row_0=9, row_1=40, col_0=82, col_1=895, letter_px=17.0, regularity=2)
    text = Reading(text="20 um EHT", probabilities=(0.99,) * 9, places=tuple(np.linspace(0, 1, 9)))
    label = SimpleNamespace(printed=SimpleNamespace(line=line, reading=text))
    for row_0, is_text in ((39, False), (36, True)):
        ticks = tuple((row_0, row_0 + 13, col, col + 3) for col in range(13, 148, 26))
        bar = plain_bar((row_0, row_0 + 13, 13, 146), 14.0, 144.0, 0.3, parts=ticks, doubt="")
        assert _is_part_of_text(replace(bar, kind="ticks"), label) is is_text


def rows_with_spots(ticks: int, spots: int) -> list:
    """Bars found in a row of ticks, 30 px apart, beyond which spots as bright as ticks stand where ticks would."""
    pixels = ticked(picture(), ticks, 30)
    for spot in range(ticks, ticks + spots):
        pixels[412 - spot : 440 + 2 * spot, 295 + 30 * spot : 309 + 30 * spot] = 255
    return tick_rows(pixels, pieces_of(pixels > 240), shortest_px=20, burnt=True)


@pytest.mark.parametrize(("ticks", "spots", "sure"), [(6, 1, True), (6, 5, False), (5, 1, False), (5, 0, True)])
def test_a_row_may_go_on_only_if_enough_ticks_for_a_longer_one_could_be_hidden(ticks, spots, sure):
    """Five intervals are followed by ten among those that are printed, four by five."""
    (bar,) = rows_with_spots(ticks, spots)
    assert bar.length_px == pytest.approx(30 * (ticks - 1))
    assert (not bar.doubt) is sure


def with_figures(first: str) -> tuple[np.ndarray, list]:
    """A row of six ticks and a label of their height right of it, which begins where a seventh tick would stand."""
    pixels = np.zeros((ROWS, COLS), np.uint8)
    for tick in range(6):
        pixels[420:434, 300 + 20 * tick : 302 + 20 * tick] = 255
    pixels[420:434, 420:422] = 255  # The stroke of a 1.
    pixels[420:434, 426:434] = 255
    pixels[423:431, 428:432] = 0
    if first == "1":
        pixels[432:434, 418:424] = 255
    return pixels, tick_rows(pixels, pieces_of(pixels > 128), shortest_px=20, burnt=False)


@pytest.mark.parametrize("first", ["1", "|"])
def test_a_figure_of_the_label_is_no_further_tick(first):
    _, (bar,) = with_figures(first)
    assert (bar.length_px, bar.doubt) == (pytest.approx(100.0), "")


def test_a_stroke_with_a_figure_beside_it_is_part_of_a_word():
    pixels, _ = with_figures("|")
    pieces = pieces_of(pixels > 128)
    assert stands_at(pieces, 420.5, 2, (420, 434)) == ("tick", True)
    assert stands_at(pieces, 360.5, 2, (420, 434)) == ("tick", False)


def test_marks_as_broad_as_high_and_as_their_blanks_are_not_taken_for_ticks():
    """Five blocks of 5 px: as ticks they would be 40 px from middle to middle, as blocks they are 45 px."""
    pixels = np.zeros((ROWS, COLS), np.uint8)
    for block in range(5):
        pixels[420:426, 300 + 10 * block : 305 + 10 * block] = 255
    found = tick_rows(pixels, pieces_of(pixels > 128), shortest_px=20, burnt=False)
    assert all(bar.doubt for bar in found)


def test_blocks_of_which_the_last_one_is_spoilt_are_no_shorter_bar():
    """The last of four blocks hangs on to another mark: three blocks would give five sevenths of the length."""
    pixels = picture()
    pixels[400:] = 0
    for block in range(4):
        pixels[455:461, 100 + 100 * block : 150 + 100 * block] = 255
    pixels[461:464, 430:450] = 255
    assert math.isnan(read(pixels, "20 µm", 425, 240).bar_um)


def test_the_point_of_a_label_beside_a_row_is_no_tick_of_it():
    """11 ticks of 3 px at 6 px, the first, middle and last taller, with the label on the same foot (the drawing's geometry)."""
    pixels = picture(90, spread=10)
    for place in range(11):
        tall = 12 if place % 5 == 0 else 8
        pixels[412 - tall // 2 : 412 + tall // 2, 100 + 6 * place : 103 + 6 * place] = 255
    pixels = written(pixels, "10.0 µm", 402, 176, size=18, face="DejaVuSansMono-Bold.ttf")
    drawn_bars.assert_read(drawn_bars.read(pixels), 10.0, 60.0)


def test_even_strokes_on_a_strip_are_ticks_and_no_rules_between_columns():
    """11 ticks of 24 px, 20 px apart, on a strip of 42 px (the drawing's geometry)."""
    pixels = picture()
    pixels[438:] = 230
    for place in range(11):
        pixels[447:471, 300 + 20 * place : 303 + 20 * place] = 0
    pixels = written(pixels, "30 µm", 446, 530, size=22, ink=0, face="DejaVuSans-Bold.ttf")
    drawn_bars.assert_read(drawn_bars.read(pixels), 30.0, 200.0)


@pytest.mark.parametrize("side", [5, 7])
def test_round_dots_that_mark_a_scale_are_a_row_of_ticks(side):
    """Eleven dots drawn as rhombs and discs, 21 px apart, are ten intervals between their middles."""
    pixels = picture()
    pixels[400:] = 0
    rows, cols = np.mgrid[:side, :side] - side // 2
    dot = (abs(rows) + abs(cols) <= side // 2) if side == 5 else (rows**2 + cols**2 <= (side / 2) ** 2)
    for place in range(11):
        pixels[450 : 450 + side, 300 + 21 * place : 300 + 21 * place + side][dot] = 255
    bar = read(pixels, "300 µm", 418, 360)
    assert (bar.reason, bar.bar_um) == ("", 300.0)
    assert bar.bar_px == pytest.approx(210.0, abs=0.3)


def row_of(heights: list[int], *, step: float, col: int = 60, wide: int = 3) -> np.ndarray:
    """A dark strip below a picture, with ticks of those heights in one row, hung on their middle: (rows, cols) uint8."""
    pixels = picture()
    pixels[400:] = 20
    for place, high in enumerate(heights):
        left = round(col + step * place)
        pixels[430 - high // 2 : 430 + (high + 1) // 2, left : left + wide] = 235
    return pixels


def test_a_letter_as_high_as_the_tall_ticks_of_a_row_hides_no_shorter_ones():
    """Eleven ticks, the first, middle and last of 12 px, the others of 8; a capital I of 15 px far to the right on their foot."""
    pixels = row_of([12 if place % 5 == 0 else 8 for place in range(11)], step=13.2)
    pixels[421:436, 500:503] = 235
    strip = pixels[400:]
    bars = tick_rows(strip, pieces_of(strip > 128), shortest_px=20, burnt=False)
    (bar,) = [bar for bar in bars if not bar.doubt]
    assert (bar.length_px, len(bar.parts)) == (pytest.approx(132.0, abs=0.5), 11)


@pytest.mark.parametrize(("ticks", "step"), [(6, 11.4), (11, 5.7)])
def test_a_short_row_of_many_tall_ticks_is_a_scale(ticks, step):
    """57 px in five and in ten steps between end ticks of 30 px: less than twice as long as high."""
    pixels = row_of([30] + [20] * (ticks - 2) + [30], step=step, wide=1)
    drawn_bars.assert_read(read(pixels, "10 µm", 420, 140), 10.0, 57.0)


@pytest.mark.parametrize(("last", "sure"), [(14, True), (8, False)])
def test_a_last_tick_beside_the_label_is_one_if_the_row_would_end_unlike_without_it(last, sure):
    """Five steps of 49 px, the label's first figure 8 px behind the last tick and as high: four steps are printed, too."""
    pixels = row_of([14, 8, 8, 8, 8, last], step=49, wide=2)
    pixels = written(pixels, "100 µm", 419, 313, size=19)
    bar = drawn_bars.read(pixels)
    assert math.isnan(bar.bar_um) is not sure
    if sure:
        assert bar.bar_px == pytest.approx(245.0, abs=0.3)


def test_higher_ticks_at_both_ends_mark_a_bar_of_any_number_of_intervals():
    """No instrument divides a bar into eight, so that a tick may have been missed, unless both ends stand out (common practice, no source)."""
    def row(ends: int) -> DataBar:
        pixels = picture()
        pixels[400:] = 0
        ticked(pixels, 9, 20, high=10)
        for col in (300, 460):
            pixels[430 - ends : 430, col : col + 2] = 255
        return read(pixels, "10 µm", 440, 350)

    plain, higher = row(10), row(18)
    assert "8 intervals" in plain.reason
    assert (higher.reason, higher.bar_um, round(higher.bar_px)) == ("", 10.0, 160)
