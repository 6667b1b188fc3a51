"""Bars that are dressed up: serifs at their ticks, arrow heads, a label in a box. The drawing gives the expected lengths."""

import math

import numpy as np
import pytest
from drawn_bars import assert_read, picture, read, written

from semwear.data_bar.dressed import halves_beside_box, without_heads, without_serifs

ROW = 455
"""Row of the line in the strip."""


def strip() -> np.ndarray:
    pixels = picture()
    pixels[420:] = 0
    return pixels


def lined(pixels: np.ndarray, first: int, stop: int) -> np.ndarray:
    pixels[ROW, first:stop] = 255
    return pixels


def headed(pixels: np.ndarray, tip: int, direction: int) -> np.ndarray:
    """A filled arrow head with its tip at a column; direction: +1 if it opens to the right."""
    for step in range(8):
        reach = step // 2
        pixels[ROW - reach : ROW + reach + 1, tip + direction * step] = 255
    return pixels


@pytest.mark.parametrize("serif", [2, 4])
def test_a_tick_with_serifs_marks_the_end_by_its_middle(serif):
    """Ticks of 15 px at columns 200 and 400, with serifs beyond them on either side: 200 px."""
    pixels = lined(strip(), 200, 401)
    for col in (200, 400):
        pixels[ROW - 7 : ROW + 8, col] = 255
        pixels[[ROW - 7, ROW + 7], col - serif : col + serif + 1] = 255
    assert_read(read(written(pixels, "20 µm", 444, 430, size=20)), 20.0, 200.0)


def test_the_serif_of_one_tick_alone_is_left_to_be_something_joined():
    piece = np.zeros((15, 200), bool)
    piece[7], piece[:, 3], piece[[0, -1], :7] = True, True, True
    piece[7, :3] = False
    assert without_serifs(piece) is None


def test_an_arrow_that_its_label_parts_runs_from_tip_to_tip():
    """Tips at the outer edges of columns 200 and 439: 240 px; the halves alone are no bar."""
    pixels = headed(headed(lined(lined(strip(), 200, 275), 365, 440), 200, 1), 439, -1)
    assert_read(read(written(pixels, "20 µm", 444, 286, size=20)), 20.0, 240.0)


def test_one_half_of_such_an_arrow_is_no_bar():
    pixels = headed(lined(strip(), 200, 275), 200, 1)
    assert "it has an arrow head at its left end only" in read(written(pixels, "20 µm", 444, 286, size=20)).reason


def test_a_label_in_a_box_parts_a_line_with_ticks():
    """Ticks at columns 150 and 550, a box of 120 px around the label: 400 px."""
    pixels = lined(lined(strip(), 150, 290), 410, 551)
    for col in (150, 550):
        pixels[ROW - 8 : ROW + 9, col] = 255
    pixels[[ROW - 16, ROW + 16], 290:411] = 255
    pixels[ROW - 16 : ROW + 17, [290, 410]] = 255
    assert_read(read(written(pixels, "100 µm", 443, 312, size=20)), 100.0, 400.0)


def test_a_box_at_the_end_of_a_line_parts_nothing():
    piece = np.zeros((13, 90), bool)
    piece[6, :60] = piece[[0, -1], 60:] = piece[:, [60, 89]] = True
    assert halves_beside_box(piece) == []


@pytest.mark.parametrize("word", ["Blende 60 µm", "Clona 50 µm", "Ouverture 30 µm", "Abertura 30 µm", "Champ 200 µm"])
def test_an_aperture_or_a_field_in_another_language_is_no_label(word):
    pixels = strip()
    pixels[460:464, 150:451] = 255
    length = word.split(maxsplit=1)[1]
    assert read(written(pixels, word, 428, 200, size=20)).reason == "no scale bar with a readable label was found"
    assert_read(read(written(pixels, length, 428, 200, size=20)), float(length.split()[0]), 301.0)  # the word alone decides


def test_square_dots_with_blanks_as_wide_may_mark_places_or_be_blocks():
    """15 dots of 5 px: 140 px from middle to middle and 145 px from edge to edge, which is more than any tolerance."""
    pixels = strip()
    for dot in range(15):
        pixels[ROW - 2 : ROW + 3, 200 + 10 * dot : 205 + 10 * dot] = 255
    said = "two readings compete: 10 µm over 140.0 px and 10 µm over 145.0 px"
    assert said in read(written(pixels, "10 µm", 444, 370, size=20)).reason


def test_a_comma_in_letters_of_five_by_seven_pixels_is_printed():
    """The point of 5,0 µm in such letters takes the lower three of seven rows."""
    glyphs = {
        "5": "11111 10000 11110 00001 00001 10001 01110",
        ",": "00000 00000 00000 00000 11000 01000 10000",
        "0": "01110 10001 10001 10001 10001 10001 01110",
        "µ": "00000 00000 10001 10001 10001 10011 11101",
        "m": "00000 00000 11010 10101 10101 10001 10001",
        " ": "00000 00000 00000 00000 00000 00000 00000",
    }
    rows = [[[int(bit) for bit in row] for row in glyphs[letter].split()] for letter in "5,0 µm"]
    word = np.concatenate([np.pad(np.array(glyph), ((0, 0), (0, 1))) for glyph in rows], axis=1)
    word = word.repeat(3, axis=0).repeat(3, axis=1).astype(np.uint8) * 255
    pixels = strip()
    pixels[460:464, 150:351] = 255
    pixels[430 : 430 + word.shape[0], 190 : 190 + word.shape[1]] = word
    assert_read(read(pixels), 5.0, 201.0)


@pytest.mark.parametrize("ticked", [True, False])
def test_a_bar_between_rules_is_known_by_its_ticks_and_refused_without_them(ticked):
    """Rules of 300 px above the label and below a bar of 200 px; without ticks nothing tells which of the three is meant."""
    pixels = strip()
    pixels[[424, 474], 150:451] = 255
    pixels = lined(pixels, 200, 401)
    if ticked:
        for col in (200, 400):
            pixels[ROW - 5 : ROW + 6, col] = 255
    bar = read(written(pixels, "20 µm", 428, 270, size=18))
    if ticked:
        assert_read(bar, 20.0, 200.0)
    else:
        assert math.isnan(bar.bar_um) and "two readings compete: 20 µm over 201.0 px and 20 µm over 301.0 px" in bar.reason


def half_with_head(long: int, high: int, thick: int) -> np.ndarray:
    """A line of thick rows with a tick at its left end and an open arrow head that points at the tick, bool."""
    half = np.zeros((2 * high + thick, long), bool)
    half[high : high + thick] = True
    half[:, :thick] = True
    for step in range(1, high - 1):
        half[[high - step, high + thick - 1 + step], thick + 1 + 2 * step : thick + 3 + 2 * step] = True
    return half


@pytest.mark.parametrize(("long", "high", "thick"), [(60, 8, 2), (45, 6, 1), (90, 10, 3)])
def test_arrow_heads_that_point_at_end_ticks_are_no_part_of_a_line(long, high, thick):
    """|<-- 20 µm -->| as instruments print dimensions: from the middle of one tick to that of the other."""
    pixels, half = strip(), half_with_head(long, high, thick)
    rows = slice(440, 440 + half.shape[0])
    pixels[rows, 260 : 260 + long][half] = 255
    pixels[rows, 560 - long : 560][half[:, ::-1]] = 255
    assert_read(read(written(pixels, "20 µm", 440 + high - 10, 385, size=16)), 20.0, 300 - thick)


def test_strokes_on_one_side_of_a_line_are_no_arrow_head():
    half = half_with_head(60, 8, 2)
    assert int(without_heads(half).sum()) == 2 * 60 + 2 * 16
    half[:8, 2:] = False
    assert without_heads(half) is None
