"""Ink burnt over the picture: outlines, stripes of the ink's own tone, ticks and figures that the picture may hide.

Expected lengths are the geometry of the drawing.
"""

import math
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import matplotlib
import numpy as np
import pytest
from drawn_bars import COLS, ROWS, assert_read, picture, read
from PIL import Image, ImageDraw, ImageFont

from semwear.data_bar import bars
from semwear.data_bar.bar_ends import CARRIED_ON, Bar, plain_bar
from semwear.data_bar.bar_parts import without_parts
from semwear.data_bar.ink import Ink
from semwear.data_bar.label_start import has_figure_before
from semwear.data_bar.labels import facts_in, lengths_in
from semwear.data_bar.level_ink import level_of_ink
from semwear.data_bar.lines import Line
from semwear.data_bar.nested import with_shared_doubt, without_letters, without_other_tones
from semwear.data_bar.outlined import outlined_pieces
from semwear.data_bar.pairing import Pair, _is_full_ink, _is_of_another_tone, fits_closely
from semwear.data_bar.read import OUTLINE_PX
from semwear.data_bar.strip import _strip_rows, find_panels
from semwear.data_bar.surroundings import LABEL_IN_OTHER_TONE, stands_on_a_plate
from semwear.data_bar.text_finder import text_boxes
from semwear.data_bar.tick_doubts import MISSING
from semwear.data_bar.two_tones import INSIDE_HOLLOW, OTHER_TONE

FONT = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"


def striped(*, high: int = 255) -> np.ndarray:
    """A grey picture with slanting stripes, one side of each black and the other of a given tone, (rows, cols) uint8."""
    rng = np.random.default_rng(3)
    rows, cols = np.mgrid[:ROWS, :COLS]
    grey = 120 + rng.normal(0, 10, (ROWS, COLS))
    for start, slope, width in ((60, 0.5, 9), (230, 0.6, 6), (420, 0.45, 8), (700, 0.7, 7)):
        across = cols + slope * rows - start
        grey[(across > 0) & (across < width)] = 0
        grey[(across >= width) & (across < width + 3)] = high
    return np.clip(grey, 0, 255).astype(np.uint8)


def written(
    pixels: np.ndarray, text: str, row: int, col: int, *, size=22, grey=255, outline: int | None = None, face=FONT.name
) -> np.ndarray:
    image = Image.fromarray(pixels)
    font = ImageFont.truetype(str(FONT.with_name(face)), size)
    stroke = {} if outline is None else {"stroke_width": 2, "stroke_fill": outline}
    ImageDraw.Draw(image).text((col, row), text, fill=grey, font=font, **stroke)
    return np.array(image)


@pytest.mark.parametrize(("ink", "outline"), [(255, 0), (0, 255)])
@pytest.mark.parametrize("thick", [1, 2])
def test_an_outlined_bar_is_as_long_as_the_ink_inside_its_outline(ink, outline, thick):
    pixels = striped()
    pixels[430 - thick : 437 + thick, 300 - thick : 480 + thick] = outline
    pixels[430:437, 300:480] = ink
    pixels = written(pixels, "20 µm", 395, 350, grey=ink, outline=outline)
    assert_read(read(pixels), 20.0, 180.0)


def test_outlined_ink_is_cut_out_of_stripes_of_its_own_tone():
    pixels = striped()
    pixels[428:440, 298:482], pixels[430:438, 300:480] = 0, 255
    pieces = outlined_pieces(pixels, np.ones(pixels.shape, bool), top=255.0, bottom=0.0)
    assert pieces[430:438, 300:480].all()
    assert not pieces[428:440, 298:300].any() and not pieces[428:430, 300:480].any()


def test_a_black_line_is_measured_through_black_stripes():
    pixels = striped(high=120)
    pixels[430:436, 100:420] = 0
    pixels[:, :40] = 120
    assert_read(read(written(pixels, "50 µm", 440, 430, grey=0)), 50.0, 320.0)


@pytest.mark.parametrize(("hidden", "said"), [(12, "it has a tick at one end only"), (40, "something is joined to it")])
def test_a_bar_that_ends_in_a_patch_of_its_own_tone_is_refused_since_its_end_is_hidden(hidden, said):
    """The patch begins above the bar or covers its end: what hides an end may pass for a tick there, or for more of the bar."""
    pixels = np.clip(np.random.default_rng(1).normal(110, 8, (ROWS, COLS)), 0, 255).astype(np.uint8)
    pixels[430:436, 300:480] = 255
    pixels[420 : 420 + hidden, 470 : 470 + hidden] = 255
    pixels = written(pixels, "20 µm", 385, 350)
    bar = read(pixels)
    assert math.isnan(bar.bar_um) and said in bar.reason


def test_a_figure_without_outline_is_not_lost_from_its_label():
    """The outline of the second figure has faded into a dark picture: 50 µm must never be read as 5 µm."""
    pixels = np.full((ROWS, COLS), 80, np.uint8)
    pixels[428:439, 298:482], pixels[430:437, 300:480] = 0, 255
    pixels = written(pixels, "5", 390, 350, outline=0)
    pixels = written(pixels, "0", 390, 366)
    assert_read(read(written(pixels, "µm", 390, 381, outline=0)), 50.0, 180.0)


def test_a_row_of_eleven_dots_has_ten_intervals():
    pixels = np.clip(np.random.default_rng(1).normal(110, 8, (ROWS, COLS)), 0, 255).astype(np.uint8)
    pixels[430:] = 0
    for dot in range(11):
        pixels[438:441, 300 + 20 * dot : 303 + 20 * dot] = 255
    assert_read(read(written(pixels, "10.0um", 446, 360, size=18)), 10.0, 200.0)


def test_a_row_is_refused_where_a_patch_may_hide_its_last_tick():
    """The last of six ticks is hidden by a patch as bright as the ticks."""
    pixels = np.clip(np.random.default_rng(1).normal(110, 8, (ROWS, COLS)), 0, 255).astype(np.uint8)
    for tick in range(6):
        pixels[420:434, 300 + 40 * tick : 302 + 40 * tick] = 255
    pixels[410:450, 490:520] = 255
    bar = read(written(pixels, "50 µm", 440, 380))
    assert math.isnan(bar.bar_um) and "the picture may hide a tick" in bar.reason


def test_strokes_of_letters_are_no_ruler():
    pixels = np.clip(np.random.default_rng(1).normal(110, 8, (ROWS, COLS)), 0, 255).astype(np.uint8)
    pixels[430:] = 0
    pixels = written(pixels, "HV 5 kV | WD 4 mm | mag 120 x | det", 442, 8, size=18)
    bar = read(written(pixels, "200 µm", 442, 500, size=18))
    assert math.isnan(bar.bar_um) and bar.reason == "a label 200 µm was read, but no bar near it"


def test_a_smooth_dark_hole_of_the_surface_is_no_panel():
    pixels = np.clip(np.random.default_rng(1).normal(110, 8, (ROWS, COLS)), 0, 255)
    rows, cols = np.mgrid[:ROWS, :COLS]
    depth = np.clip(1.6 - np.hypot((rows - 200) / 90, (cols - 300) / 140), 0, 1)
    pixels = np.where(depth > 0, pixels * (1 - depth), pixels).astype(np.uint8)
    assert find_panels(pixels) == ()
    assert not read(pixels).marks.any()


def test_a_smooth_corner_of_a_picture_is_no_panel():
    rows, cols = np.mgrid[:ROWS, :COLS]
    smooth = (140 + 3 * np.sin(rows / 200) + 2 * np.cos(cols / 260)).astype(np.uint8)
    smooth[:, 300:330] = np.clip(np.random.default_rng(1).normal(140, 40, (ROWS, 30)), 0, 255)
    assert not [panel for panel in find_panels(smooth) if panel.row_1 - panel.row_0 > 60]


def test_the_detector_finds_a_label_among_stripes():
    pixels = written(striped(), "100 µm", 300, 250, size=26)
    boxes = text_boxes(pixels[260:360, 150:450])
    assert [box for box in boxes if box[0] < 60 and box[1] > 50 and box[2] < 150 and box[3] > 150]


def test_a_working_distance_over_a_bar_makes_no_scale():
    """10 mm over 160 px would be 62 µm a pixel: no scanning electron micrograph has that (common practice, no source)."""
    pixels = np.clip(np.random.default_rng(1).normal(110, 8, (ROWS, COLS)), 0, 255).astype(np.uint8)
    pixels[400:] = 255
    pixels[440:446, 400:560] = 0
    pixels = written(pixels, "10.0mm", 408, 440, size=18, grey=0)
    assert_read(read(written(pixels, "40 µm", 452, 440, size=18, grey=0)), 40.0, 160.0)


@pytest.mark.parametrize("text", ["X 10:40", "x 12/03", "mag 10:40"])
def test_times_and_dates_are_no_magnification(text):
    assert math.isnan(facts_in([text], []).magnification)


@pytest.mark.parametrize("text", ["5 jum", "5 µum", "5 ym", "5 jm", "5µµm"])
def test_a_micro_sign_that_was_read_as_something_like_it_is_one(text):
    assert [length.um for length in lengths_in(text) if length.may_label] == [5.0]


@pytest.mark.parametrize("turned", [False, True])
def test_a_strip_is_found_beside_smooth_parts_of_the_picture_as_dark_as_it_is(turned):
    pixels = np.clip(np.random.default_rng(2).normal(110, 9, (ROWS, COLS)), 0, 255)
    for first in range(20, 600, 90):
        pixels[250:, first : first + 40] = np.linspace(30, 10, 40)
    pixels = pixels.astype(np.uint8)
    pixels[440:] = 18
    pixels = written(pixels, "EHT 20 kV  WD 12 mm  12:30", 450, 30, size=20)
    (panel,) = find_panels(np.ascontiguousarray(pixels.T) if turned else pixels)
    rows, cols = (panel.row_0, panel.row_1), (panel.col_0, panel.col_1)
    assert (cols, rows) == ((440, 480), (0, 640)) if turned else (rows, cols) == ((440, 480), (0, 640))


def test_a_strip_that_a_label_as_high_as_it_is_cuts_apart_is_one_panel():
    pixels = np.clip(np.random.default_rng(2).normal(60, 9, (ROWS, COLS)), 0, 255).astype(np.uint8)
    pixels[456:] = 142
    pixels = written(pixels, "50.0 µm", 455, 4, size=21, grey=0)
    pixels[462:472, 90:92] = pixels[462:472, 190:192] = pixels[466:468, 90:190] = 0
    pixels = written(pixels, "Spot 3  gg", 455, 210, size=21, grey=0)
    (panel,) = find_panels(pixels)
    assert (panel.row_0, panel.row_1, panel.col_0, panel.col_1) == (456, 480, 0, 640)


def test_a_box_that_marks_at_its_middle_part_into_two_overlapping_halves_is_one_panel():
    """The left half reaches above the label to column 470, the right one below it from column 445 on."""
    pixels = picture(60)
    pixels[400:448, 300:600] = 9
    spots = np.random.default_rng(1).integers(20, 60, (48, 4))
    pixels[412:448, 440:444] = spots[:36]
    pixels[400:414, 470:474] = spots[:14]
    pixels[410:414, 440:474] = spots[:34].T
    (panel,) = find_panels(pixels)
    assert (panel.row_0, panel.row_1, panel.col_0, panel.col_1) == (400, 448, 300, 600)


def paired(box: tuple[int, int, int, int], name: str, *, doubt: str = "") -> Pair:
    """A burnt-in bar of the given box, with nothing else that counts here."""
    ink = Ink(
        plane=np.zeros((1, 1), np.uint8), mask=np.zeros((1, 1), bool), low=0.0, high=255.0, row_0=0, col_0=0, name=name
    )
    bar = Bar(
        kind="line", start_px=box[2] - 0.5, stop_px=box[3] - 0.5, row_px=(box[0] + box[1] - 1) / 2, u_px=0.5, box=box,
        thickness_px=box[1] - box[0], parts=(box,), doubt=doubt,
    )  # fmt: skip
    return Pair(ink=ink, label=None, bar=bar, standing=0.5)


def test_a_stretch_of_the_outline_of_a_bar_is_no_bar_beside_it():
    whole, stretch = (
        paired((100, 103, 50, 450), "outlined black ink"),
        paired((103, 104, 120, 190), "outlined white ink"),
    )
    elsewhere, high = paired((180, 183, 60, 200), "white ink"), paired((80, 130, 20, 470), "white ink")
    assert without_parts([whole, stretch, elsewhere]) == [whole, elsewhere]
    assert without_parts([stretch, high]) == [stretch, high]
    doubtful = paired((100, 103, 50, 450), "outlined black ink", doubt="an end of it melts into the picture")
    assert without_parts([doubtful, stretch]) == [doubtful, stretch]


def test_picture_between_an_outline_and_the_edge_of_the_picture_is_no_bar():
    """The bar's outline ends a row above the picture's last rows, which look like a line of the bar's tone."""
    whole = paired((758, 764, 4, 427), "outlined black ink")
    below = paired((765, 768, 350, 417), "outlined black ink", doubt="it reaches the picture's edge")
    thick = paired((765, 773, 350, 417), "outlined black ink")
    assert without_parts([whole, below]) == [whole]
    assert without_parts([whole, thick]) == [whole, thick]


def test_a_doubted_bar_is_believed_if_the_printed_pixel_size_fits_it_to_a_pixel():
    """50 µm over 53 px is 0.943 µm a pixel, and over its outline of 55.5 px 0.901 µm; 0.939 µm is printed."""
    facts = replace(facts_in(["nothing"], []), pixel_size_um=0.939)
    label = SimpleNamespace(length=lengths_in("50 µm")[0])
    bar, outline = (replace(paired((430, 434, 24, 24 + long), "white ink"), label=label) for long in (53, 56))
    assert fits_closely(bar, facts, (640,)) and not fits_closely(outline, facts, (640,))
    assert not fits_closely(bar, replace(facts, pixel_size_um=math.nan), (640,))


def test_a_bar_around_another_one_is_told_from_it_by_a_printed_pixel_size_that_fits_to_half_a_pixel():
    """50 µm at 939 nm a pixel are 53.25 px: an outline of 53 px and not what lies within it, 51 px."""
    facts = facts_in(["PixelSize: 939.0nm"], [])
    label = SimpleNamespace(length=lengths_in("50 µm")[0])
    outer, inner = (replace(paired((430, 434, 24, 24 + long), "white ink"), label=label) for long in (53, 51))
    assert fits_closely(outer, facts, (640,), within_px=OUTLINE_PX) and not fits_closely(inner, facts, (640,), within_px=OUTLINE_PX)


def test_letters_of_the_bars_own_layer_settle_in_which_tone_the_label_is():
    """Thin letters with a strong outline look as if they were printed in the outline's tone."""
    length = lengths_in("10 µm")[0]
    ink = replace(paired((1, 2, 3, 4), "outlined black ink").ink, cut_out=True)
    own, other = (SimpleNamespace(length=length, ink=layer) for layer in (ink, replace(ink, name="white ink")))
    first = replace(paired((13, 19, 954, 1011), ink.name, doubt=LABEL_IN_OTHER_TONE), ink=ink, label=other)
    second = replace(paired((13, 19, 954, 1011), ink.name), ink=ink, label=own)
    assert without_other_tones([first, second]) == [second]
    assert without_other_tones([first, replace(second, label=other)])[0] == first


def test_a_piece_that_is_carried_on_in_one_layer_is_so_in_all():
    """The second of three dashes is crossed by a bright groove, so that one layer shows the first one alone."""
    first, again = (
        paired((1446, 1451, 44, 162), "white ink", doubt=CARRIED_ON),
        paired((1446, 1451, 44, 162), "pale ink"),
    )
    assert [pair.bar.doubt for pair in with_shared_doubt([first, again])] == [CARRIED_ON, CARRIED_ON]
    whole = paired((1446, 1451, 44, 634), "pale ink")
    assert with_shared_doubt([first, whole])[1] == whole


def test_a_run_that_a_block_of_the_other_tone_carries_on_is_no_bar(monkeypatch):
    """The white half of a bar whose rims go on around its black half, which joins them to the picture."""
    plane = np.full((60, 300), 90, np.uint8)
    plane[20:28, 50:250] = 255
    plane[21:27, 150:249] = 0
    half = plain_bar((20, 28, 50, 150), 49.5, 149.5, 0.3, parts=((20, 28, 50, 150),), doubt="")
    monkeypatch.setattr(bars, "connected_bars", lambda *_, **__: [])
    monkeypatch.setattr(bars, "_runs", lambda *_: [half])
    (found,) = bars.find_bars(plane, plane == 255, shortest_px=40, burnt=True)
    assert found.doubt == OTHER_TONE


def test_a_block_of_a_doubtful_row_is_no_bar_beside_it():
    """The outline of the last of five dashes was found alone."""
    row = paired((29, 32, 23, 257), "outlined black ink", doubt="something joins its blocks")
    row = replace(row, bar=replace(row.bar, parts=((29, 32, 23, 49), (29, 32, 127, 153), (29, 32, 231, 257))))
    assert without_parts([row, paired((27, 34, 229, 259), "outlined white ink")]) == [row]


def test_low_bits_of_the_picture_along_a_line_leave_its_length_alone():
    pixels = np.clip(np.random.default_rng(1).normal(110, 8, (ROWS, COLS)), 0, 255).astype(np.uint8)
    pixels[440, 200:400] = pixels[439, 260:266] = pixels[441, 330:336] = 255
    assert_read(read(written(pixels, "30 µm", 405, 270)), 30.0, 200.0)
    pixels[439, 394:400] = 255
    assert "something is joined to it" in read(written(pixels, "30 µm", 405, 270)).reason


def test_a_label_belongs_to_a_bar_of_the_other_tone_only_if_that_is_full_ink():
    """A cell of a hollow black bar over a white picture is white and has black around it, but grain too."""
    black, white = paired((1, 2, 3, 4), "black ink").ink, paired((1, 2, 3, 4), "outlined white ink").ink
    assert _is_of_another_tone(black, white) and not _is_of_another_tone(black, black)
    assert not _is_of_another_tone(replace(black, name="panel"), white)
    bar = paired((4, 9, 10, 60), "outlined white ink").bar
    plane = np.zeros((20, 80), np.uint8)
    plane[4:9, 10:60] = 255
    assert _is_full_ink(replace(white, plane=plane, mask=plane > 0), bar)
    plane[4:9, 10:60] = np.random.default_rng(1).normal(205, 12, (5, 50))
    assert not _is_full_ink(replace(white, plane=plane, mask=plane > 0), bar)


@pytest.mark.parametrize(("text", "missing"), [("25 µm", True), (" 5 µm", False), ("-5 µm", False)])
def test_a_figure_whose_outline_is_broken_is_seen_before_its_label(text, missing):
    raw = written(np.zeros((60, 120), np.uint8), text, 20, 20, face="DejaVuSansMono.ttf")
    inked = raw > 128
    mask = inked.copy()
    mask[:, :34] = False
    rows, cols = np.flatnonzero(mask[:, :46].any(axis=1)), np.flatnonzero(mask.any(axis=0))
    line = Line(
        row_0=int(rows[0]), row_1=int(rows[-1]) + 1, col_0=int(cols[0]), col_1=int(cols[-1]) + 1,
        letter_px=float(np.ptp(rows) + 1), regularity=2,
    )  # fmt: skip
    ink = Ink(
        plane=raw, mask=mask, low=30.0, high=235.0, row_0=0, col_0=0, name="outlined white ink", cut_out=True, raw=raw
    )
    assert has_figure_before(ink, line) is missing
    burnt = replace(ink, low=165.0, high=255.0, name="white ink", cut_out=False)
    assert has_figure_before(burnt, line) is missing


def test_a_bar_that_one_layer_shows_to_be_the_inside_of_a_hollow_one_is_doubted_in_all():
    inside = paired((100, 108, 50, 188), "outlined black ink", doubt=INSIDE_HOLLOW)
    same, other = paired((100, 108, 50, 188), "black ink"), paired((140, 148, 50, 188), "black ink")
    assert [bool(pair.bar.doubt) for pair in with_shared_doubt([inside, same, other])] == [True, True, False]


def test_a_row_of_which_one_layer_shows_that_ticks_are_missing_is_doubted_in_all():
    gappy, same, other = (
        replace(pair, bar=replace(pair.bar, kind="ticks"))
        for pair in (
            paired((453, 461, 381, 482), "outlined white ink", doubt=MISSING),
            paired((453, 460, 381, 482), "white ink"),
            paired((453, 460, 381, 515), "white ink"),
        )
    )
    assert [pair.bar.doubt for pair in with_shared_doubt([gappy, same, other])] == [MISSING, MISSING, ""]


def test_outlined_ticks_need_no_breadth_to_be_full_ink():
    pixels = striped(high=120)
    for tick in range(6):
        pixels[418:436, 248 + 40 * tick : 254 + 40 * tick] = 0
    for tick in range(6):
        pixels[420:434, 250 + 40 * tick : 252 + 40 * tick] = 255
    assert_read(read(written(pixels, "40 µm", 385, 320, outline=0)), 40.0, 200.0)


@pytest.mark.parametrize("first", [255, 0])
def test_a_bar_in_two_tones_is_measured_over_both_of_its_blocks(first):
    """The bar is 152 px long; its black half with a thin white outline stands out alone, but isn't all of the bar."""
    pixels = np.clip(np.random.default_rng(4).normal(120, 8, (ROWS, COLS)), 0, 255).astype(np.uint8)
    pixels[300:310, 200:352] = 255
    dark = slice(276, 351) if first else slice(201, 276)
    pixels[301:309, dark] = 0
    pixels[310:312, 202:354] = 0
    assert_read(read(written(pixels, "200 nm", 268, 200, outline=0)), 0.2, 152.0)


@pytest.mark.parametrize("level", [244, 250, 253])
def test_ink_of_one_level_is_told_from_a_picture_nearly_as_bright(level):
    pixels = picture(180, spread=30, seed=level)
    pixels[430:439, 300:480] = level
    pixels = written(pixels, "20 µm", 396, 347, grey=level, size=24)
    assert_read(read(pixels), 20.0, 180.0)


@pytest.mark.parametrize("ground", [8, 245])
def test_the_ground_of_a_strip_is_no_ink(ground):
    pixels = picture(120)
    pixels[400:] = ground
    assert level_of_ink(pixels, np.ones(pixels.shape, bool)) is None


def test_a_label_at_the_pictures_edge_has_no_figure_before_it():
    plane = np.zeros((40, 90), np.uint8)
    plane[10:22, 0:60:4] = 255
    ink = Ink(
        plane=plane,
        mask=plane > 0,
        low=30,
        high=255,
        row_0=0,
        col_0=0,
        name="outlined white ink",
        cut_out=True,
        raw=plane,
    )
    assert not has_figure_before(ink, Line(row_0=10, row_1=22, col_0=0, col_1=60, letter_px=12, regularity=5))


@pytest.mark.parametrize(("long", "missing"), [(80, False), (10, True)])
def test_a_bar_as_high_as_its_label_that_ends_near_it_is_no_figure(long, missing):
    """A figure is at most as wide as it is high; what goes on to the left of that is a bar."""
    plane = np.zeros((40, 200), np.uint8)
    plane[11:22, 110:170:4] = 255
    raw = plane.copy()
    raw[11:22, 98 - long : 98] = 255
    ink = Ink(
        plane=plane, mask=plane > 0, low=30, high=255, row_0=0, col_0=0, name="outlined white ink", cut_out=True, raw=raw
    )  # fmt: skip
    label = Line(row_0=11, row_1=22, col_0=110, col_1=170, letter_px=11, regularity=5)
    assert has_figure_before(ink, label) is missing


@pytest.mark.parametrize(
    ("bar_col", "said"),
    [(3, ""), (0, "an end of it melts into the picture"), (12, "begins at the picture's edge, where a figure may be cut off")],
)
def test_a_label_at_the_pictures_edge_is_whole_if_its_bar_begins_with_it_and_is_whole(bar_col, said):
    """A figure that the edge cut off would have stood in the three columns before both."""
    pixels = written(picture(90), "20 µm", 430, 2, outline=0)
    pixels[457:464, max(bar_col - 1, 0) : bar_col + 201] = 0
    pixels[458:463, bar_col : bar_col + 200] = 255
    bar = read(pixels)
    if said:
        assert math.isnan(bar.bar_um) and said in bar.reason
    else:
        assert_read(bar, 20.0, 200.0, within_px=1.0)


def test_strokes_of_a_unit_that_was_not_read_are_no_row_of_ticks():
    """The six strokes of mm stand in nearly equal steps beside a figure that was read without them."""
    line = Line(row_0=441, row_1=456, col_0=139, col_1=184, letter_px=14.0, regularity=2)
    strokes = tuple((446, 458, 187 + 6 * place, 189 + 6 * place) for place in range(6))
    ticks = replace(plain_bar((446, 458, 187, 219), 187.0, 217.0, 0.3, parts=strokes, doubt=""), kind="ticks")
    pair = SimpleNamespace(ink=SimpleNamespace(on_panel=False), bar=ticks)
    assert without_letters([pair], [line]) == []
    assert without_letters([pair], [replace(line, col_0=39, col_1=84)]) == [pair]


@pytest.mark.parametrize("plate", [False, True])
def test_a_flat_groove_beside_a_label_is_no_plate(plate):
    """A line above its label; what is flat and black begins behind the label, as a groove, or holds all of it, as a plate does."""
    rng = np.random.default_rng(5)
    pixels = np.clip(rng.normal(110, 10, (200, 320)), 0, 255).astype(np.uint8)
    pixels[100:130, 60 if plate else 128 : 320] = 0
    pixels[80:82, 60:140] = 255
    inked = pixels[105:119, 90:130]
    inked[:, ::8] = inked[:, 1::8] = 255
    bar = plain_bar((80, 82, 60, 140), 59.5, 139.5, 0.4, parts=(), doubt="")
    assert stands_on_a_plate(pixels, bar, (105, 119, 90.0, 130.0), 14.0) is plate


@pytest.mark.parametrize(("above", "below"), [(2, 2), (1, 3), (0, 3)])
def test_ink_of_the_other_tone_along_a_line_leaves_its_end_ticks_the_ends(above, below):
    """A white line with black along it and not around its ends: alone it may be the outline of a black one, between ticks it isn't."""
    pixels = picture(110)
    pixels[300 - above : 302 + below, 200:400] = 0
    pixels[300:302, 200:400] = 255
    if not above:
        assert "it outlines another mark" in read(written(pixels, "20 µm", 286, 412)).reason
    pixels[291:311, [200, 399]] = 255
    assert_read(read(written(pixels, "20 µm", 286, 412)), 20.0, 199.0)


def test_a_line_in_the_last_rows_of_a_picture_is_the_rim_of_a_box_and_no_rival():
    pixels = picture(60)
    pixels[410:420, 200:480] = 255
    pixels[478:, 300:400] = 255
    assert_read(read(written(pixels, "50 µm", 440, 310, outline=0)), 50.0, 280.0)


@pytest.mark.parametrize(("dense", "first"), [(2, 39), (3, 39), (8, 69)])
def test_a_few_rows_that_print_fills_part_no_strip_from_itself(dense, first):
    """A strip of one grey from row 40 of 120 on below a wavy picture; rows of print from 70 − dense up to 70."""
    grey = np.tile(150 + 40 * np.sin(np.arange(COLS) / 9), (120, 1)).astype(np.uint8)
    grey[40:] = 170
    grey[70 - dense : 70, 20:620] = 20
    assert _strip_rows(grey, np.ones(grey.shape, bool)) == (first, 120)
