"""Ends, outlines, shadows and boxes that once misled the reading: the expected lengths are those of the drawing."""

import math
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from drawn_bars import COLS, ROWS, assert_read, picture, read, written

from semwear.data_bar import read_data_bar
from semwear.data_bar.bar_ends import DOUBTFUL_U_PX, FOUND_U_PX, outer_edge, plain_bar, tick_centre
from semwear.data_bar.bars import find_bars
from semwear.data_bar.ink import Ink
from semwear.data_bar.label_point import Label
from semwear.data_bar.labels import facts_in, lengths_in
from semwear.data_bar.lines import Line
from semwear.data_bar.nested import _has_outline, without_letters
from semwear.data_bar.pairing import Pair, _fills_gap, _is_ground
from semwear.data_bar.strip import find_panels
from semwear.data_bar.surroundings import goes_on_beyond
from semwear.data_bar.text import Reading
from semwear.data_bar.two_tones import casts_shadow
from semwear.data_bar.words import Printed, _headings, _is_one_line
from semwear.read import read_micrograph

STUDY = Path(__file__).parents[1] / "sample_images" / "study" / "pictures"


def test_rounded_ends_reach_as_far_as_their_middle_rows():
    """Half circles of 8 px at the ends of a bar 60 px long and 16 px high; its upper and lower rows are 5 px shorter."""
    pixels = picture()
    pixels[400:] = 0
    rows, cols = np.mgrid[430:446, 300:360] + 0.5
    across = np.maximum(np.maximum(308 - cols, cols - 352), 0)
    pixels[430:446, 300:360][across**2 + (rows - 438) ** 2 <= 64] = 255
    assert_read(read(written(pixels, "20 µm", 405, 305)), 20.0, 60.0)


@pytest.mark.parametrize("beyond", [110, 0])
def test_an_end_with_an_outline_is_sharp_whatever_lies_beyond_the_outline(beyond):
    plane = np.full((9, 60), beyond, np.uint8)
    plane[1:8, 19:60] = 0
    plane[2:7, 20:60] = 255
    assert outer_edge(plane, (2, 7, 20, 60), at_left=True) == (19.5, FOUND_U_PX)


def test_an_end_that_fades_is_not_sharp():
    plane = np.zeros((9, 60), np.uint8)
    plane[2:7, 17:60] = np.minimum(np.arange(43) * 50 + 40, 255)
    assert outer_edge(plane, (2, 7, 20, 60), at_left=True)[1] == DOUBTFUL_U_PX


def test_the_shadow_of_a_coloured_bar_is_no_part_of_it():
    """Ink and shadow are both darker than the picture; the shadow is set off by 2 px."""
    pixels = np.repeat(picture(170, spread=2)[..., None], 3, axis=2)
    pixels[432:439, 302:422], pixels[430:437, 300:420] = 0, (51, 102, 255)
    pixels = written(pixels, "30 µm", 400, 330, ink=(51, 102, 255))
    assert_read(read(pixels), 30.0, 120.0, within_px=1.0)


def test_the_shadow_beside_a_line_is_no_line_of_its_own():
    """White shadow below and right of one half of a black line, on a picture as dark as 58."""
    plane = np.full((60, 160), 75, np.uint8)
    plane[30:32, 50:110], plane[32:33, 51:111] = 0, 255
    plane[20:40, 110:112], plane[25:45, 49:51] = 0, 58
    found = find_bars(plane, plane > 240, shortest_px=20, burnt=True)
    assert all(bar.doubt for bar in found)


@pytest.mark.parametrize("sides", [1, 2])
def test_a_line_with_ink_of_the_other_tone_along_one_side_only_is_a_shadow(sides):
    """At both ends there is black, as of the heads of an arrow; an outline runs along both sides."""
    plane = np.full((60, 160), 110, np.uint8)
    plane[28 : 34 if sides == 2 else 32, 48:112] = 0
    plane[30:32, 50:110] = 255
    plane[26:36, 46:50] = plane[26:36, 110:114] = 0
    (bar,) = find_bars(plane, plane > 240, shortest_px=20, burnt=True)
    assert (not bar.doubt) is (sides == 2)


def boxed() -> np.ndarray:
    """A light box with two lines of dark text in it and no bar."""
    pixels = picture(60)
    pixels[380:440, 200:500] = 230
    pixels = written(pixels, "200 µm", 405, 300, ink=0)
    return written(pixels, "SE 15 kV", 383, 220, ink=0)


def test_a_box_with_two_lines_of_text_is_no_bar_with_its_label_inside():
    assert read(boxed()).reason == "a label 200 µm was read, but no bar near it"


def test_what_a_filled_bar_leaves_free_is_its_label_only_if_it_is_one_line():
    holes = np.zeros((30, 120), bool)
    holes[4:12, 30:60] = True
    assert _is_one_line(holes)
    holes[18:26, 30:60] = True
    assert not _is_one_line(holes)
    holes[18:26] = False
    holes[4:12, 100:103] = True
    assert not _is_one_line(holes)


def test_a_shape_behind_a_label_is_its_ground():
    line = Line(row_0=410, row_1=424, col_0=215, col_1=280, letter_px=14.0, regularity=4)
    label = SimpleNamespace(printed=SimpleNamespace(line=line))
    box = plain_bar((400, 440, 200, 500), 199.5, 499.5, 0.5, parts=((400, 440, 200, 500),), doubt="")
    bar = plain_bar((428, 434, 200, 500), 199.5, 499.5, 0.5, parts=((428, 434, 200, 500),), doubt="")
    assert _is_ground(box, label) and not _is_ground(bar, label)


def test_a_box_in_one_tone_is_no_bar_for_a_label_of_another_tone_on_it():
    """A black box with a white frame over a dark picture, and a label beside two lone ticks."""
    pixels = np.random.default_rng(3).normal(14, 5, (ROWS, COLS)).clip(0, 60).astype(np.uint8)
    pixels[398:442, 198:502], pixels[400:440, 200:500] = 255, 0
    pixels[410:428, 320:322] = pixels[410:428, 480:482] = 255
    bar = read(written(pixels, "100 µm", 409, 215))
    assert math.isnan(bar.bar_um) and bar.reason == "a label 100 µm was read, but no bar near it"


@pytest.mark.parametrize(("around", "outlined"), [(0, True), (120, False)])
def test_a_shape_with_ink_of_the_other_tone_right_about_it_has_an_outline(around, outlined):
    plane = np.full((60, 200), 120, np.uint8)
    plane[28:39, 18:182], plane[30:37, 20:180] = around, 255
    ink = Ink(plane=plane, mask=plane > 240, low=155.0, high=245.0, row_0=0, col_0=0, name="white ink")
    bar = plain_bar((30, 37, 20, 180), 19.5, 179.5, 0.5, parts=((30, 37, 20, 180),), doubt="")
    assert _has_outline(Pair(ink=ink, label=None, bar=bar, standing=0.5)) is outlined


def test_a_hollow_bar_with_outlines_is_as_long_as_its_ink_and_not_as_its_inside():
    pixels = picture(120)
    pixels[428:443, 298:462], pixels[430:441, 300:460], pixels[433:438, 303:457] = 0, 255, 0
    assert_read(read(written(pixels, "50 µm", 400, 345, stroke_width=2, stroke_fill=0)), 50.0, 160.0)


@pytest.mark.parametrize(("ticked", "length"), [(True, 100.0), (False, 103.0)])
def test_a_heavy_line_with_low_ticks_is_measured_between_them(ticked, length):
    """Ticks 3 px broad that stand out by one row above and below a line of seven; without ticks it is a bar."""
    pixels = picture()
    pixels[400:] = 0
    pixels[430:437, 300:403] = 255
    if ticked:
        pixels[429:438, 300:303] = pixels[429:438, 400:403] = 255
    assert_read(read(written(pixels, "20 µm", 405, 330)), 20.0, length, within_px=0.5)


@pytest.mark.parametrize("ink", [0, 255])
def test_a_bar_nearly_as_wide_as_its_box_leaves_the_box_whole(ink):
    pixels = picture()
    pixels[360:420, 200:360] = 255 - ink
    pixels[366:376, 205:355] = ink
    # What compression leaves beside a bar.
    beside = np.random.default_rng(1).integers(0, 12, (12, 160))
    pixels[365:377, 200:360] = np.where(pixels[365:377, 200:360] == ink, ink, abs(255 - ink - beside))
    pixels = written(pixels, "20 µm", 385, 250, ink=ink)
    assert [(panel.row_0, panel.row_1) for panel in find_panels(pixels)] == [(360, 420)]
    assert_read(read(pixels), 20.0, 150.0)


@pytest.mark.parametrize("uneven", [2, 3])
def test_a_box_whose_sides_are_uneven_is_whole_below_its_bar(uneven):
    """JPEG lets the tone of a box vary by some grey levels in the columns at its sides."""
    pixels = picture()
    pixels[20:62, 100:500] = 227
    pixels[20:62, 500 - uneven : 500 : 2] = 236
    pixels[20:62:2, 500 - uneven : 500] = 222
    pixels[49:54, 107:490] = 0
    (panel,) = find_panels(pixels)
    assert (panel.row_0, panel.row_1, panel.col_1) == (20, 62, 500)


def test_a_piece_of_a_strip_that_letters_cut_off_is_no_box():
    bar = read_data_bar(read_micrograph(STUDY / "V8_in-track_1.jpg"))
    assert bar.bar_label == "40.0 µm" and bar.bar_px == pytest.approx(50.0, abs=0.5)  # truth: 0.8 µm a pixel


def test_a_word_with_its_own_value_beside_it_is_no_heading_of_what_stands_below():
    def line(row: int, col: int, text: str) -> Printed:
        box = Line(row_0=row, row_1=row + 15, col_0=col, col_1=col + 12 * len(text), letter_px=15, regularity=len(text))
        return Printed(line=box, reading=Reading(text=text, probabilities=(), places=()), lengths=())

    for beside, heading in (("175.5 nm", ""), ("Mode", "Pixel")):
        printed = [line(14, 619, "Pixel"), line(14, 715, beside), line(46, 605, "50.0 um")]
        assert "".join(head.reading.text for head in _headings(printed[2], printed)) == heading


def test_a_dark_flat_spot_of_the_picture_beside_a_side_panel_is_no_part_of_it():
    pixels = np.concatenate([picture(), np.full((ROWS, 120), 18, np.uint8)], axis=1)
    pixels[100:140, COLS - 70 : COLS] = 1
    (panel,) = [panel for panel in find_panels(pixels) if panel.row_1 - panel.row_0 > 300]
    assert (panel.col_0, panel.col_1) == (COLS, COLS + 120)


def test_an_x_between_two_numbers_belongs_to_neither():
    assert math.isnan(facts_in(["20 X 500"], []).magnification)
    assert facts_in(["991 X 48 Pa"], []).magnification == 991.0
    assert facts_in(["Mag 629 x 20 kV"], []).magnification == 629.0


def test_a_chequered_bar_with_outlines_about_its_cells_is_measured_over_all():
    """White cells and a white frame, each with a black outline, over a grey picture."""
    pixels = picture(100)
    pixels[428:446, 298:422] = 0
    pixels[429:445, 299:421] = 255
    for cell in range(4):
        top = 430 + 7 * (cell % 2)
        first = 301 + 30 * cell
        pixels[top : top + 7, first : first + 28] = 0
        pixels[top + 1 : top + 6, first + 1 : first + 27] = picture(100)[top + 1 : top + 6, first + 1 : first + 27]
    pixels = written(pixels, "50 µm", 400, 330, stroke_width=1, stroke_fill=0)
    assert_read(read(pixels), 50.0, 122.0)


def test_a_frame_that_holds_blocks_of_its_own_tone_is_the_bar_and_what_it_encloses_is_not():
    """A black frame, 132 px long, with black and white blocks by turns: the white ones alone span 130 px."""
    pixels = picture(170)
    pixels[430:440, 300:432] = 0
    for block in range(4):
        rows = slice(431, 435) if block % 2 else slice(435, 439)
        pixels[rows, 300 + 33 * block + (block == 0) : 333 + 33 * block - (block == 3)] = 255
    pixels = written(pixels, "400 um", 404, 330, ink=0)
    assert_read(read(pixels), 400.0, 132.0)


def test_broad_blocks_at_the_ends_of_a_heavy_line_leave_its_length_open():
    """18 px broad: between their middles or over all are 102 and 120 px."""
    pixels = picture()
    pixels[430:470] = 0
    pixels[441:459, 200:320] = 255
    pixels[434:466, 200:218] = pixels[434:466, 302:320] = 255
    assert "something is joined to it" in read(written(pixels, "20 µm", 440, 350)).reason


@pytest.mark.parametrize("wide", [4, 12])
def test_a_label_fills_the_gap_of_a_line_however_widely_it_is_boxed(wide):
    """The halves end beside the letters, as in a line of text, whose box is wider than its letters are."""
    line = Line(row_0=140, row_1=160, col_0=200 - wide, col_1=300 + wide, letter_px=20.0, regularity=2)
    inside = tuple((place - line.col_0) / (line.col_1 - line.col_0) for place in (210, 230, 250, 270, 290))
    reading = Reading(text="20 µm", probabilities=(1.0,) * 5, places=inside)
    plane = np.zeros((200, 400), np.uint8)
    ink = Ink(plane=plane, mask=plane > 0, low=30, high=255, row_0=0, col_0=0, name="white ink")
    (length,) = lengths_in(reading.text)
    label = Label(ink=ink, printed=Printed(line=line, reading=reading, lengths=(length,)), length=length)
    bar = plain_bar((149, 151, 100, 400), 99.5, 399.5, 0.4, parts=(), doubt="")
    assert _fills_gap(label, replace(bar, kind="split", gap=(199, 301)))
    assert not _fills_gap(label, replace(bar, kind="split", gap=(220, 301)))


def shadowed(down: int, aside: int, *, tick: int = 0) -> np.ndarray:
    """A white line, 201 px over all, with its black shadow moved down and aside, on a grey picture with a label."""
    pixels = picture(130)
    for grey, row, col in ((0, down, aside), (255, 0, 0)):
        pixels[430 + row : 434 + row, 220 + col : 421 + col] = grey
        for first in (220, 418) if tick else ():
            pixels[430 - tick + row : 434 + tick + row, first + col : first + 3 + col] = grey
    shade = written(pixels, "20 µm", 385 + down, 290 + aside, ink=0)
    return written(shade, "20 µm", 385, 290)


@pytest.mark.parametrize(("down", "aside"), [(1, 1), (2, 2), (3, -2), (-2, 3)])
def test_a_bar_with_its_shadow_is_as_long_as_either(down, aside):
    assert_read(read(shadowed(down, aside)), 20.0, 201.0)
    assert_read(read(shadowed(down, aside, tick=8)), 20.0, 198.0)


def test_a_shadow_is_told_beside_a_dark_groove_and_off_a_thick_bar():
    """The picture beyond the right end is nearly as dark as the shadow; a bar of 12 px casts its shadow 7 px off."""
    plane = picture(110)
    plane[400:460, 421:450] = picture(25, spread=5)[400:460, 421:450]
    plane[432:438, 222:423] = 0
    plane[430:436, 220:421] = 255
    assert casts_shadow(plane, plain_bar((430, 436, 220, 421), 219.5, 420.5, 0.4, parts=((430, 436, 220, 421),), doubt=""), 53.0)
    plane = picture(110)
    plane[427:439, 227:428] = 0
    plane[420:432, 220:421] = 255
    assert casts_shadow(plane, plain_bar((420, 432, 220, 421), 219.5, 420.5, 0.4, parts=((420, 432, 220, 421),), doubt=""), 53.0)


@pytest.mark.parametrize(
    ("first", "stop", "shadow"), [(222, 423, True), (220, 421, False), (222, 560, False), (224, 417, False)]
)
def test_a_shadow_goes_past_one_end_as_far_as_it_falls_short_of_the_other(first, stop, shadow):
    """Else the black is a block of a bar in two rows, a longer mark, or the inside of an outline."""
    plane = picture(130)
    plane[432:436, first:stop] = 0
    plane[430:434, 220:421] = 255
    bar = plain_bar((430, 434, 220, 421), 219.5, 420.5, 0.4, parts=((430, 434, 220, 421),), doubt="")
    assert casts_shadow(plane, bar, 60.0) is shadow


@pytest.mark.parametrize("filling, height", [(190, 8), (190, 18), (255, 12)])
def test_the_bright_inside_of_a_hollow_bar_is_refused_since_the_label_is_in_the_other_tone(filling, height):
    """A black outline of 2 px, 187 px long; what is paler than the picture inside it spans 183 px, which would be wrong."""
    pixels = picture(120, spread=0)
    pixels[430 : 430 + height, 300:487] = 0
    pixels[432 : 428 + height, 302:485] = filling
    bar = read(written(pixels, "300 nm", 440 + height // 2, 340, ink=0))
    assert math.isnan(bar.bar_um) and "its label is in the other tone" in bar.reason


@pytest.mark.parametrize("light, dark", [(150, 60), (190, 85)])
def test_ticks_on_darker_ground_are_not_left_out_of_their_row(light, dark):
    """Five black ticks 47 px apart; the outermost stand on a dark patch of the picture on either side."""
    pixels = picture(light, spread=3, seed=1)
    for patch in (slice(None, 240), slice(400, None)):
        pixels[:, patch] -= np.uint8(light - dark)
    for tick in range(5):
        pixels[426:434, 226 + 47 * tick : 228 + 47 * tick] = 0
    assert_read(read(written(pixels, "300 µm", 450, 265, ink=0)), 300.0, 188.0)


def test_ticks_within_a_text_that_was_read_are_letters_and_a_long_row_beside_its_words_is_not():
    """The stems of "mm" in "15.2 mm" as one instrument's font has them: six, evenly spaced over 38 px of 18 px letters."""
    line = Line(row_0=475, row_1=493, col_0=355, col_1=499, letter_px=18.0, regularity=5)

    def pair(kind: str, col_0: int, col_1: int, *, on_panel=False):
        bar = plain_bar((480, 493, col_0, col_1), col_0 - 0.5, col_1 - 0.5, 0.4, parts=(), doubt="")
        return SimpleNamespace(ink=SimpleNamespace(on_panel=on_panel), bar=replace(bar, kind=kind))

    letters, row, line_bar = pair("ticks", 460, 498), pair("ticks", 360, 490), pair("line", 460, 498)
    beside, panel = pair("ticks", 520, 560), pair("ticks", 460, 498, on_panel=True)
    kept = without_letters([letters, row, line_bar, beside, panel], [line])
    assert kept == [row, line_bar, beside, panel]


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("ground, expected", [(60, True), (235, False)])
def test_a_line_beside_its_label_is_half_of_a_bar_where_ink_goes_on_beyond_the_label(side, ground, expected):
    """Two lines of 66 px with the label between them; where the picture is nearly as bright as ink, none can be told."""
    line = Line(row_0=140, row_1=160, col_0=170, col_1=230, letter_px=16.0, regularity=2)
    reading = Reading(text="5 µm", probabilities=(1.0,) * 4, places=(0.1, 0.3, 0.6, 0.8))
    plane = np.full((300, 400), ground, np.uint8)
    plane[149:151, 100:166] = plane[149:151, 234:300] = 255
    ink = Ink(plane=plane, mask=plane == 255, low=30, high=255, row_0=0, col_0=0, name="white ink")
    (length,) = lengths_in(reading.text)
    label = Label(ink=ink, printed=Printed(line=line, reading=reading, lengths=(length,)), length=length)
    first = {"left": 100, "right": 234}[side]
    bar = plain_bar((149, 151, first, first + 66), first - 0.5, first + 65.5, 0.4, parts=(), doubt="")
    assert goes_on_beyond(plane, bar, label) is expected
    plane[149:151, {"left": 234, "right": 100}[side] :][:, :66] = ground
    assert not goes_on_beyond(plane, bar, label)


def test_a_tick_without_ink_of_its_own_between_brighter_neighbours_keeps_its_middle_and_is_doubtful():
    """No outside figure: the middle of the given columns 8 and 9 is all that is known."""
    plane = np.zeros((9, 20), np.uint8)
    plane[:, [6, 11]] = 255
    assert tick_centre(plane, (0, 9, 8, 10)) == (8.5, DOUBTFUL_U_PX)
