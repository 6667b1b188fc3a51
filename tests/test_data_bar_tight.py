"""Print in tight places: small letters, colour as bright as the picture, boxes about bars. The drawing gives the truth."""

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest
from drawn_bars import FONTS, assert_read, picture, read, written
from PIL import ImageFont

from semwear.data_bar.bar_ends import plain_bar
from semwear.data_bar.bars import with_continuation_doubted
from semwear.data_bar.label_check import _is_slip
from semwear.data_bar.label_point import _is_ground
from semwear.data_bar.labels import lengths_in
from semwear.data_bar.lines import find_lines
from semwear.data_bar.strip import find_panels
from semwear.data_bar.words import _has_ticks_of_a_bar


def test_the_low_letters_of_a_small_unit_belong_to_its_line():
    text = written(np.zeros((20, 60), np.uint8), "500 um", 4, 4, size=8) > 100
    (line,) = find_lines(text)
    assert line.col_1 == np.flatnonzero(text.any(axis=0))[-1] + 1


@pytest.mark.parametrize("colour", [(0, 214, 235), (255, 90, 90)])
def test_coloured_print_as_bright_as_the_picture_is_read(colour):
    """Both colours have about the picture's own brightness."""
    pixels = np.repeat(picture(150)[..., None], 3, axis=2)
    pixels[440:446, 300:440] = colour
    assert_read(read(written(pixels, "30 µm", 412, 340, ink=colour)), 30.0, 140.0, within_px=0.5)


def test_a_bar_that_fills_the_width_of_its_box_is_no_rule():
    pixels = picture()
    pixels[400:440, 100:300] = 0
    pixels[400:440, 101:299], pixels[401:439, 101:299] = 0, 255
    pixels[404:407, 104:296] = 0
    assert_read(read(written(pixels, "30 µm", 412, 170, ink=0)), 30.0, 192.0)


def test_a_box_around_bar_and_label_is_no_bar():
    """Too low for a panel, and of the print's own tone all round."""
    pixels = picture()
    pixels[440:463, 401:607] = 0
    pixels[453:458, 404:604] = 255
    assert_read(read(written(pixels, "3 µm", 440, 480, size=10)), 3.0, 200.0)


def test_a_dark_patch_that_a_bar_runs_into_is_no_panel():
    pixels = picture()
    pixels[410:470, 100:330] = 40
    for dash in range(3):
        pixels[440:443, 200 + 100 * dash : 250 + 100 * dash] = 255
    assert_read(read(written(pixels, "20 µm", 415, 300)), 20.0, 250.0)


def test_a_row_of_low_ticks_ends_at_the_high_ones_beyond_it():
    """The end ticks are five times as high as those between them: 4 intervals of 40 px, never 2."""
    pixels = picture()
    for tick, high in enumerate((15, 3, 3, 3, 15)):
        pixels[450 - high : 450, 200 + 40 * tick : 202 + 40 * tick] = 255
    bar = read(written(pixels, "20 µm", 455, 250))
    assert bar.reason == "" and bar.bar_px == pytest.approx(160.0, abs=0.5)


def length(text: str):
    return lengths_in(text)[0]


def test_a_reading_that_no_instrument_prints_is_a_slip_of_a_figure():
    assert _is_slip(length("59 µm"), length("50 µm")) and _is_slip(length("50.3 µm"), length("50.0 µm"))
    assert not _is_slip(length("80 µm"), length("50 µm"))
    assert not _is_slip(length("10.5 µm"), length("0.5 µm"))
    assert not _is_slip(length("59 nm"), length("50 µm"))


def test_picture_seen_between_two_outlined_figures_is_no_decimal_point():
    part = np.zeros((14, 4), np.uint8)
    part[:, 1:3] = 105
    part[9:11, 1:3] = 117
    mark = np.zeros(part.shape, bool)
    mark[9:11, 1:3] = True
    assert _is_ground(part, np.s_[:14, :], mark, 12.0)
    part[:9] = part[11:] = 0
    assert not _is_ground(part, np.s_[:14, :], mark, 12.0)


def test_picture_below_a_line_that_reaches_up_between_figures_is_no_decimal_point():
    """A point of outlined print has its outline below, too."""
    plane = np.zeros((20, 4), np.uint8)
    plane[11:, 1:3] = 117
    mark = np.zeros((14, 4), bool)
    mark[11:, 1:3] = True
    assert _is_ground(plane, np.s_[:14, :], mark, 12.0)
    plane[14:16] = 0
    assert not _is_ground(plane, np.s_[:14, :], mark, 12.0)


def test_a_block_a_step_off_from_another_is_no_bar_of_its_own():
    """Two rows of blocks in turn, with the outline between them: a block is a quarter of the bar."""
    blocks = [plain_bar(box, box[2], box[3], 0.3, parts=(), doubt="") for box in ((20, 23, 40, 60), (25, 28, 62, 82))]
    assert all(with_continuation_doubted(block, blocks).doubt for block in blocks)
    apart = [blocks[0], plain_bar((25, 28, 90, 110), 90, 110, 0.3, parts=(), doubt="")]
    assert not any(with_continuation_doubted(block, apart).doubt for block in apart)


def test_an_r_before_m_is_an_n():
    assert [one.um for one in lengths_in("200 rm") if one.may_label] == [0.2]
    assert not math.isnan(lengths_in("5 rm")[0].um)


@pytest.mark.parametrize("whole", [False, True])
def test_half_of_an_arrow_on_a_strip_is_no_bar(whole):
    """An arrow of 240 px that its label parts: where one head isn't seen, the other half would give a scale too large by 4."""
    pixels = picture()
    pixels[430:] = 0
    for first, stop in ((200, 275), (365, 440)):
        pixels[454:456, first:stop] = 255
    for col in (200, 438):
        pixels[446:464, col : col + 2] = 255
    if not whole:
        pixels[454:456, 202:212:2] = 0
        pixels[454:456, 212] = 0
    pixels = written(pixels, "20 µm", 444, 288, size=20)
    if whole:
        assert_read(read(pixels), 20.0, 238.0)
    else:
        assert "it goes on beyond its label" in read(pixels).reason


@pytest.mark.parametrize("text", ["210 µm", "150 µm"])
def test_a_label_at_the_edge_of_the_picture_is_refused_since_a_figure_may_be_cut_off(text):
    """What the edge leaves of a label, wherever it cuts, is another length: 10, 50 or 0 µm. Or it is no length any more."""
    said = set()
    for cut in range(2, 26, 3):
        pixels = picture()
        pixels[420:] = 0
        pixels[460:464, 200:401] = 255
        wide = written(np.hstack([np.zeros((480, 60), np.uint8), pixels]), text, 424, 60 - cut, size=20)
        bar = read(np.ascontiguousarray(wide[:, 60:]))
        assert math.isnan(bar.bar_um), cut
        at_edge = "begins at the picture's edge, where a figure may be cut off"
        said.add(at_edge if at_edge in bar.reason else bar.reason)
    assert said == {at_edge, "no scale bar with a readable label was found"}


def test_a_label_that_begins_near_the_edge_in_the_very_column_of_its_bar_is_whole():
    """Bar and label both begin 8 px from the edge; a figure before the label would reach into that blank."""
    pixels = picture()
    pixels[445:456, 7:178], pixels[446:455, 8:177] = 255, 0
    first = 8 - ImageFont.truetype(str(FONTS / "DejaVuSans-Bold.ttf"), 34).getbbox("40 µm")[0]
    pixels = written(pixels, "40 µm", 400, first, size=34, ink=0, face="DejaVuSans-Bold.ttf", stroke_width=1, stroke_fill=255)
    assert_read(read(pixels), 40.0, 169.0)


@pytest.mark.parametrize("face", ["DejaVuSans.ttf", "DejaVuSansMono.ttf"])
def test_a_label_at_the_edge_is_refused_though_its_bar_begins_at_its_second_figure(face):
    """Cut before that figure, 150 µm would look like a whole label of 50 µm that begins with its bar."""
    font = ImageFont.truetype(str(FONTS / face), 20)
    second = round(font.getlength("1") + font.getbbox("5")[0])
    for cut in range(2, second - 3, 2):
        pixels = picture()
        pixels[420:] = 0
        pixels[460:464, second - cut : second - cut + 200] = 255
        wide = written(np.hstack([np.zeros((480, 60), np.uint8), pixels]), "150 µm", 424, 60 - cut, size=20, face=face)
        bar = read(np.ascontiguousarray(wide[:, 60:]))
        assert math.isnan(bar.bar_um) and "begins at the picture's edge, where a figure may be cut off" in bar.reason, cut


def test_a_length_in_microns_is_a_label():
    pixels = picture()
    pixels[430:] = 0
    pixels[452:456, 200:401] = 255
    assert_read(read(written(pixels, "20 Microns", 442, 420, size=20)), 20.0, 201.0)


@pytest.mark.parametrize(("wide", "is_bar"), [(28, False), (38, False), (60, True)])
def test_figures_that_touch_each_other_are_no_bar_with_ticks(wide, is_bar):
    """Figures 11 px high are some 9 px wide in bold type (common practice, no source): "500" and "1000" touching, and a bar."""
    bar = plain_bar((15, 26, 100, 100 + wide), 99.5, 99.5 + wide, 0.5, parts=((15, 26, 100, 100 + wide),), doubt="")
    assert _has_ticks_of_a_bar(replace(bar, kind="line", outer_ticks=(True, False), doubt="it has a tick at one end only")) is is_bar


@pytest.mark.parametrize(("height", "quality"), [(24, 50), (24, 70), (28, 70)])
def test_a_low_strip_is_whole_though_compression_parts_its_ground(height, quality):
    """Expected: the strip as drawn, over the whole width; what JPEG leaves around letters is no side of it."""
    rng = np.random.default_rng(0)
    soft = cv2.GaussianBlur(rng.normal(0, 40, (480, 640)), (0, 0), 2)
    pixels = np.clip(120 + 3 * soft + rng.normal(0, 8, soft.shape), 0, 255).astype(np.uint8)
    strip = pixels[480 - height :]
    strip[:], strip[0], strip[-1] = 235, 0, 0
    text = "EHT 15 kV  spot 4  WD 12.3 mm  Mag 566  17.03.2041  field 195 um  SE1"
    cv2.putText(strip, text, (6, height - 10), cv2.FONT_HERSHEY_SIMPLEX, 0.5, 0, 1, cv2.LINE_AA)
    packed = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    (panel,) = find_panels(cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE))
    assert (panel.col_0, panel.col_1) == (0, 640) and panel.row_0 == pytest.approx(480 - height, abs=1) and panel.row_1 == 480
