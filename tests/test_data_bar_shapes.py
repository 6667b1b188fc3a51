"""Bars in blocks, in steps, on a base line and with arrow heads: the expected lengths are the geometry of the drawing."""

import math
from pathlib import Path
from types import SimpleNamespace

import matplotlib
import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from semwear.data_bar import DataBar, read_data_bar
from semwear.data_bar.contours import is_hollow
from semwear.data_bar.two_tones import is_inside_hollow

FONT = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"
ROWS, COLS = 480, 640


def picture(*, strip_rows: int = 60, seed: int = 4) -> np.ndarray:
    """A noisy grey picture with a black strip below, (rows, cols) uint8."""
    pixels = np.clip(np.random.default_rng(seed).normal(110, 8, (ROWS, COLS)), 0, 255).astype(np.uint8)
    if strip_rows:
        pixels[-strip_rows:] = 0
    return pixels


def read(pixels: np.ndarray, text: str, row: int, col: int, *, size: int = 18) -> DataBar:
    image = Image.fromarray(pixels)
    ImageDraw.Draw(image).text((col, row), text, fill=255, font=ImageFont.truetype(str(FONT), size))
    return read_data_bar(SimpleNamespace(pixels=np.array(image), rgb=None, white_level=255.0))


def assert_read(bar: DataBar, um: float, length_px: float):
    assert bar.reason == ""
    assert bar.bar_um == pytest.approx(um)
    assert bar.bar_px == pytest.approx(length_px, abs=0.3)


@pytest.mark.parametrize(("blocks", "wide", "high", "blank"), [(3, 40, 6, 40), (5, 12, 12, 12), (6, 22, 2, 16)])
def test_equal_blocks_with_equal_blanks_are_one_bar(blocks, wide, high, blank):
    pixels = picture()
    for block in range(blocks):
        first = 200 + block * (wide + blank)
        pixels[455 : 455 + high, first : first + wide] = 255
    assert_read(read(pixels, "20 µm", 425, 240), 20.0, blocks * wide + (blocks - 1) * blank)


def test_a_block_of_several_is_no_bar():
    """The third of three blocks is longer: what the row stands for isn't known."""
    pixels = picture()
    for first, stop in ((200, 240), (280, 320), (360, 420)):
        pixels[455:461, first:stop] = 255
    assert math.isnan(read(pixels, "20 µm", 425, 240).bar_um)


def test_blocks_beyond_which_the_picture_is_as_bright_are_no_bar():
    pixels = picture(strip_rows=0)
    for block in range(3):
        pixels[455:461, 200 + 80 * block : 240 + 80 * block] = 255
    pixels[440:475, 420:640] = 255
    assert math.isnan(read(pixels, "20 µm", 425, 240).bar_um)


@pytest.mark.parametrize("parts", [4, 5])
@pytest.mark.parametrize("upper", [slice(450, 456), slice(450, 460)])
def test_blocks_that_stand_by_turns_above_and_below_are_one_bar(parts, upper):
    pixels = picture()
    for part in range(parts):
        rows = upper if part % 2 == 0 else slice(456, 460)
        pixels[rows, 200 + 30 * part : 230 + 30 * part] = 255
    assert_read(read(pixels, "30 µm", 423, 220), 30.0, 30.0 * parts)


@pytest.mark.parametrize("blocks", [2, 4])
@pytest.mark.parametrize("wide", [2, 4])
@pytest.mark.parametrize("flush", [True, False])
def test_blocks_by_turns_above_and_below_between_end_ticks_are_one_bar(blocks, wide, flush):
    """200 px between the ends of the blocks, which stand in the middle of the ticks or at their outer edges."""
    pixels, long = picture(), 200 // blocks
    for block in range(blocks):
        row = 450 if block % 2 else 444
        pixels[row : row + 7, 200 + block * long : 200 + (block + 1) * long] = 255
    out = 0 if flush else wide // 2
    pixels[442:459, 200 - out : 200 - out + wide] = pixels[442:459, 400 + out - wide : 400 + out] = 255
    bar = read(pixels, "20 µm", 422, 270)
    assert (bar.reason, bar.bar_um) == ("", 20.0)
    assert abs(bar.bar_px - 200) <= wide / 2 + 0.1
    assert bar.bar_u_px >= wide / 4 / math.sqrt(3)


@pytest.mark.parametrize("line", [slice(460, 461), slice(451, 452)])
@pytest.mark.parametrize("beyond", [20, 210])
def test_a_bar_that_stands_on_a_longer_line_is_as_long_as_it_is(line, beyond):
    pixels = picture()
    pixels[452:460, 220:360] = 255
    pixels[line, 220 - beyond : 360 + beyond] = 255
    assert_read(read(pixels, "20 µm", 424, 250), 20.0, 140.0)


def test_a_bar_on_a_rule_across_the_strip_is_as_long_as_it_is():
    pixels = picture()
    pixels[450:455, 220:360] = 255
    pixels[455, :] = 255
    assert_read(read(pixels, "20 µm", 424, 250), 20.0, 140.0)


@pytest.mark.parametrize("beyond", [9, 30])
def test_ticks_on_a_longer_base_line_are_measured_between_their_middles(beyond):
    pixels = picture()
    for tick in range(11):
        pixels[450:460, 200 + 20 * tick : 202 + 20 * tick] = 255
    pixels[460:462, 200 - beyond : 402 + beyond] = 255
    assert_read(read(pixels, "50 µm", 424, 250), 50.0, 200.0)


def test_a_thick_base_with_teeth_is_measured_between_the_middles_of_its_outer_teeth():
    pixels = picture()
    for tick in range(6):
        pixels[446:460, 200 + 30 * tick : 203 + 30 * tick] = 255
    pixels[454:460, 200:353] = 255
    assert_read(read(pixels, "10 µm", 422, 250), 10.0, 150.0)


@pytest.mark.parametrize("high", [3, 6])
def test_a_line_with_arrow_heads_is_measured_from_tip_to_tip(high):
    pixels = picture()
    pixels[455, 200:400] = 255
    for step in range(high + 1):
        pixels[455 - step : 456 + step, (200 + step, 399 - step)] = 255
    assert_read(read(pixels, "40 µm", 424, 250), 40.0, 200.0)


def test_an_arrow_of_two_rows_whose_tips_take_one_is_measured_from_tip_to_tip():
    pixels = picture()
    pixels[455:457, 202:398] = 255
    for step in range(7):
        pixels[455 - step : 456 + step, (200 + 2 * step, 201 + 2 * step, 399 - 2 * step, 398 - 2 * step)] = 255
    assert_read(read(pixels, "40 µm", 424, 250), 40.0, 200.0)


def test_a_bar_of_three_rows_with_rounded_ends_reaches_as_far_as_its_middle_row():
    """Each end is one pixel in one row: without them the bar would be 2 px, or 3 %, too short."""
    pixels = picture()
    pixels[455:458, 201:262] = 255
    pixels[456, 200:263] = 255
    assert_read(read(pixels, "20 µm", 428, 205), 20.0, 63.0)


@pytest.mark.parametrize(("wide", "is_read"), [(2, True), (3, True), (6, False)])
def test_broad_ticks_leave_open_where_a_short_bar_ends(wide, is_read):
    """From middle to middle or over all: 6 px of 106 are 6 % of scale (common practice, no source: such ticks are drawn thin)."""
    pixels = picture()
    pixels[440:442, 100:206] = 255
    for col in (100, 206 - wide):
        pixels[432:450, col : col + wide] = 255
    bar = read(pixels, "20 µm", 432, 230)
    assert (bar.reason == "") is is_read and ("broad" in bar.reason) is not is_read


@pytest.mark.parametrize(("length", "radius"), [(90, 7), (200, 5), (110, 15)])
def test_a_line_with_discs_at_its_ends_is_measured_between_their_middles(length, radius):
    """Discs are as high before their middle as behind it, unlike arrow heads, and mark places as ticks do."""
    pixels = picture()
    pixels[450:452, 220 : 221 + length] = 255
    rows, cols = np.ogrid[:ROWS, :COLS]
    for middle in (220, 220 + length):
        pixels[(rows - 450.5) ** 2 + (cols - middle) ** 2 <= (radius + 0.3) ** 2] = 255
    assert_read(read(pixels, "20 µm", 440, 450), 20.0, length)


def test_a_frame_around_a_box_is_no_bar():
    """The frame stands two pixels off the box, so that it isn't joined to it, and the box holds no bar."""
    pixels = picture(strip_rows=0)
    pixels[420:456, 100:440] = 255
    pixels[422:454, 102:438] = 0
    assert math.isnan(read(pixels, "20 µm", 427, 200).bar_um)


def test_a_hollow_piece_is_told_from_blocks_in_a_frame():
    walls = np.ones((10, 100), bool)
    walls[1:-1, 1:-1] = False
    blocks = walls.copy()
    blocks[:, 20:40] = blocks[:, 60:80] = True
    assert is_hollow(walls) and not is_hollow(blocks)
    walls[:, 25::25] = True
    assert is_hollow(walls)


@pytest.mark.parametrize(("again", "inside"), [(255, True), (150, False)])
def test_ink_beyond_whose_outline_there_is_ink_again_is_the_inside_of_a_hollow_bar(again, inside):
    plane = np.full((40, 120), 150, np.uint8)
    plane[10:30, 10:110], plane[13:27, 13:107], plane[16:24, 16:104] = again, 0, 255
    assert is_inside_hollow(plane, np.ones((8, 88), bool), (16, 24, 16, 104)) is inside
    walls = np.ones((8, 88), bool)
    walls[1:-1, 1:-1] = False
    assert is_inside_hollow(plane, walls, (16, 24, 16, 104)) is inside


def test_a_dense_ruler_is_as_long_as_its_end_ticks_are_apart():
    """Eleven ticks of 3 px 5.3 px apart on a line of 3 px: more than half of its columns hold one."""
    pixels = picture()
    pixels[450:453, 400:456] = 255
    for place in range(11):
        left, high = round(400 + 5.3 * place), 7 if place % 5 == 0 else 3
        pixels[451 - high : 452 + high, left : left + 3] = 255
    assert_read(read(pixels, "50 µm", 440, 470), 50.0, 53.0)


@pytest.mark.parametrize(("rows", "sure"), [(1, True), (8, False)])
def test_a_ragged_rim_is_nothing_joined_to_a_line_between_end_ticks(rows, sure):
    """Bits of a row here and there, as coarsely stored colour leaves them, or marks as high as the end ticks."""
    pixels = picture()
    pixels[450:453, 200:400] = 255
    pixels[446:457, [200, 201, 398, 399]] = 255
    for col in np.random.default_rng(2).integers(210, 380, 14):
        pixels[450 - rows : 450, col : col + 9] = 255
    bar = read(pixels, "50 µm", 425, 430)
    assert (not bar.reason) is sure
    if sure:
        assert_read(bar, 50.0, 198.0)


@pytest.mark.parametrize(("thick", "sure"), [(12, True), (3, False)])
def test_one_pixel_of_the_picture_on_the_end_of_a_thick_bar_is_no_tick(thick, sure):
    """A tick rises from a thick bar by more than a row."""
    pixels = picture()
    pixels[440 : 440 + thick, 200:400] = 255
    pixels[439, 397:400] = 255
    bar = read(pixels, "50 µm", 435, 430)
    assert (not bar.reason) is sure
    if sure:
        assert_read(bar, 50.0, 200.0)
