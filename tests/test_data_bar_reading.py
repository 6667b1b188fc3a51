"""Scale bars drawn here with known ends, read back: the expected numbers are the geometry of the drawing."""

import math
from pathlib import Path
from types import SimpleNamespace

import matplotlib
import numpy as np
import pytest
import skimage.data
from PIL import Image, ImageDraw, ImageFont

from semwear.data_bar import DataBar, read_data_bar

FONTS = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
SHAPE = (480, 640)


def micrograph(pixels: np.ndarray, rgb: np.ndarray | None = None) -> SimpleNamespace:
    white = 1.0 if pixels.dtype.kind == "f" else float(np.iinfo(pixels.dtype).max)
    return SimpleNamespace(pixels=pixels, rgb=rgb, white_level=white)


def picture(*, low: int = 40, high: int = 170) -> np.ndarray:
    """A grey, noisy picture with soft blotches, (rows, cols) uint8."""
    rng = np.random.default_rng(5)
    coarse = Image.fromarray(rng.integers(low, high, (SHAPE[0] // 24, SHAPE[1] // 24)).astype(np.uint8))
    soft = np.asarray(coarse.resize(SHAPE[::-1], Image.Resampling.BICUBIC), float)
    return np.clip(soft + rng.normal(0, 9, SHAPE), 0, 235).astype(np.uint8)


def write(pixels: np.ndarray, text: str, row: int, col: int, *, size: int = 18, grey: int = 255):
    """Write text with its top left corner at (row, col), in place."""
    image = Image.fromarray(pixels)
    ImageDraw.Draw(image).text((col, row), text, fill=grey, font=ImageFont.truetype(str(FONTS / "DejaVuSans.ttf"), size))
    pixels[:] = np.asarray(image)


def strip(*, ground: int = 0, height: int = 48, at: int | None = None) -> tuple[np.ndarray, int]:
    """A picture with a strip of one tone; (pixels, first row of the strip)."""
    pixels = picture()
    top = SHAPE[0] - height if at is None else at
    pixels[top : top + height] = ground
    return pixels, top


def read(pixels: np.ndarray, rgb: np.ndarray | None = None) -> DataBar:
    return read_data_bar(micrograph(pixels, rgb))


def assert_read(bar: DataBar, um: float, length_px: float, first_col: float):
    assert bar.reason == ""
    assert bar.bar_um == pytest.approx(um)
    assert bar.bar_px == pytest.approx(length_px, abs=0.3)
    assert bar.ends_px[0][1] == pytest.approx(first_col, abs=0.3)
    assert 0.4 < bar.bar_u_px < 3


@pytest.mark.parametrize(
    ("label", "um"), [("20 µm", 20.0), ("50.0um", 50.0), ("500 nm", 0.5), ("1.00 mm", 1000.0), ("3μm", 3.0), ("200nm", 0.2)]
)
def test_a_filled_bar_is_as_long_as_its_outer_edges_are_apart(label, um):
    pixels, top = strip()
    pixels[top + 30 : top + 37, 100:240] = 255
    write(pixels, label, top + 5, 120)
    assert_read(read(pixels), um, 140.0, 99.5)


def test_a_line_with_end_ticks_is_measured_between_the_middles_of_its_ticks():
    pixels, top = strip(ground=255)
    pixels[top + 28 : top + 30, 80:280] = 0
    for col in (80, 276):
        pixels[top + 22 : top + 36, col : col + 4] = 0
    write(pixels, "10 µm", top + 2, 120, size=16, grey=0)
    assert_read(read(pixels), 10.0, 196.0, 81.5)


@pytest.mark.parametrize("upward", [True, False])
def test_a_bracket_is_measured_between_the_middles_of_its_arms(upward):
    pixels, top = strip()
    row = top + 36 if upward else top + 26
    pixels[row : row + 2, 300:422] = 255
    arms = slice(row - 8, row) if upward else slice(row + 2, row + 10)
    pixels[arms, 300:302] = 255
    pixels[arms, 420:422] = 255
    write(pixels, "5 µm", top + 4, 335)
    assert_read(read(pixels), 5.0, 120.0, 300.5)


@pytest.mark.parametrize("step", [20, 33])
def test_a_row_of_eleven_ticks_has_ten_intervals(step):
    pixels = picture()
    for tick in range(11):
        pixels[430:444, 200 + step * tick : 203 + step * tick] = 255
    write(pixels, "40.0um", 450, 260, size=20)
    assert_read(read(pixels), 40.0, 10.0 * step, 201.0)


def test_ticks_stay_whole_where_one_is_hidden_by_a_bright_patch():
    pixels = picture()
    for tick in range(11):
        pixels[430:444, 200 + 25 * tick : 203 + 25 * tick] = 255
    pixels[425:450, 320:340] = 255
    write(pixels, "40.0um", 450, 400, size=20)
    assert_read(read(pixels), 40.0, 250.0, 201.0)


def test_a_line_broken_by_its_label_is_one_bar():
    pixels, top = strip(height=40)
    pixels[top + 19 : top + 21, 60:150] = 255
    pixels[top + 19 : top + 21, 250:340] = 255
    pixels[top + 12 : top + 28, 60:62] = 255
    pixels[top + 12 : top + 28, 338:340] = 255
    write(pixels, "100 µm", top + 9, 165)
    assert_read(read(pixels), 100.0, 278.0, 60.5)


def test_a_label_inside_a_thick_bar_is_read():
    pixels, top = strip(height=60)
    pixels[top + 14 : top + 46, 100:300] = 255
    write(pixels, "10 µm", top + 19, 160, grey=0)
    assert_read(read(pixels), 10.0, 200.0, 99.5)


@pytest.mark.parametrize("kind", ["hollow", "chequered", "double"])
def test_hollow_chequered_and_double_bars_are_measured_over_all(kind):
    pixels, top = strip(ground=255, height=60)
    rows = slice(top + 36, top + 46)
    pixels[rows, 200:350] = 0
    if kind == "hollow":
        pixels[top + 38 : top + 44, 202:348] = 255
    elif kind == "double":
        pixels[top + 39 : top + 43, 200:350] = 255
    else:
        for part in (1, 3):
            pixels[top + 37 : top + 45, 201 + 30 * part : 229 + 30 * part] = 255
    write(pixels, "30 µm", top + 8, 240, grey=0)
    assert_read(read(pixels), 30.0, 150.0, 199.5)


@pytest.mark.parametrize("ink", [255, 0])
def test_a_bar_burnt_over_the_picture_is_read_without_a_strip(ink):
    pixels = picture(low=60, high=150)
    pixels[440:445, 420:560] = ink
    write(pixels, "20 µm", 412, 455, size=20, grey=ink)
    bar = read(pixels)
    assert_read(bar, 20.0, 140.0, 419.5)
    assert bar.marks[440:445, 420:560].all()
    assert bar.marks.mean() < 0.03
    assert bar.picture == (slice(0, 480), slice(0, 640))


def test_ends_covered_by_half_count_by_half():
    pixels, top = strip()
    pixels[top + 30 : top + 37, 100:240] = 255
    pixels[top + 30 : top + 37, 240] = 128
    write(pixels, "20 µm", top + 5, 120)
    assert read(pixels).bar_px == pytest.approx(140.5, abs=0.05)


def test_a_coloured_bar_is_read():
    rgb = np.repeat(picture()[..., None], 3, axis=2)
    image = Image.fromarray(rgb)
    draw = ImageDraw.Draw(image)
    draw.rectangle((399, 440, 548, 446), fill=(255, 230, 0))
    draw.text((440, 410), "25 µm", fill=(255, 230, 0), font=ImageFont.truetype(str(FONTS / "DejaVuSans-Bold.ttf"), 20))
    rgb = np.asarray(image)
    grey = np.round(rgb @ (0.299, 0.587, 0.114)).astype(np.uint8)
    assert_read(read(grey, rgb), 25.0, 150.0, 398.5)


def test_a_strip_in_mid_picture_leaves_picture_on_both_sides():
    pixels, top = strip(at=300, height=44, ground=255)
    pixels[top + 28 : top + 34, 400:520] = 0
    write(pixels, "50 µm", top + 4, 430, grey=0)
    bar = read(pixels)
    assert_read(bar, 50.0, 120.0, 399.5)
    assert bar.marks[300:344].all() and not bar.marks[:300].any() and not bar.marks[344:].any()
    assert bar.picture == (slice(0, 480), slice(0, 640))


def test_a_strip_below_is_cut_off_the_picture():
    pixels, top = strip()
    pixels[top + 30 : top + 37, 100:240] = 255
    write(pixels, "20 µm", top + 5, 120)
    bar = read(pixels)
    assert bar.picture == (slice(0, top), slice(0, 640))
    assert bar.marks[top:].all() and not bar.marks[:top].any()


def test_a_box_with_a_frame_is_an_inset():
    pixels = picture()
    pixels[400:460, 440:620] = 255
    pixels[400:460, (440, 619)] = 0
    pixels[(400, 459), 440:620] = 0
    pixels[438:440, 470:590] = 0
    for col in (470, 588):
        pixels[432:446, col : col + 2] = 0
    write(pixels, "2 µm", 408, 505, grey=0, size=16)
    bar = read(pixels)
    assert_read(bar, 2.0, 118.0, 470.5)
    assert bar.marks[400:460, 440:620].all()
    assert bar.marks.mean() == pytest.approx(60 * 180 / (480 * 640), rel=0.05)


@pytest.mark.parametrize("size", [9, 12, 24, 40])
def test_labels_of_many_heights_are_read(size):
    pixels, top = strip(height=40 + size)
    pixels[top + size + 20 : top + size + 25, 100:340] = 255
    write(pixels, "200 nm", top + 5, 130, size=size)
    assert_read(read(pixels), 0.2, 240.0, 99.5)


def test_sixteen_bit_pictures_are_read_too():
    pixels, top = strip()
    pixels[top + 30 : top + 37, 100:240] = 255
    write(pixels, "20 µm", top + 5, 120)
    assert_read(read(pixels.astype(np.uint16) * 16), 20.0, 140.0, 99.5)


def test_facts_beside_the_bar_are_read():
    pixels, top = strip(height=60)
    pixels[top + 40 : top + 45, 420:580] = 255
    write(pixels, "100 µm", top + 10, 460)
    write(pixels, "EHT = 15.00 kV   WD = 9.5 mm", top + 6, 8, size=15)
    write(pixels, "Mag = 300 X   HFW: 400 µm   BSE", top + 32, 8, size=15)
    bar = read(pixels)
    assert_read(bar, 100.0, 160.0, 419.5)
    assert (bar.kv, bar.magnification, bar.detector) == (15.0, 300.0, "BSE")
    assert bar.printed_field_width_um == pytest.approx(400.0)


@pytest.mark.parametrize("width", ["800 µm", "400 mm"])
def test_a_bar_that_contradicts_the_printed_field_width_is_refused(width):
    """100 µm take a quarter of the width. 400 mm is no micrograph's: one of the two units was misread, and nobody knows which."""
    pixels, top = strip(height=60)
    pixels[top + 40 : top + 45, 420:580] = 255
    write(pixels, "100 µm", top + 10, 460)
    write(pixels, f"HFW: {width}", top + 20, 8)
    bar = read(pixels)
    assert math.isnan(bar.bar_um) and "field width" in bar.reason


def test_a_lost_decimal_point_is_caught_by_the_printed_magnification():
    """Field width times magnification stays within what displays and prints measure (common practice, no source)."""
    pixels, top = strip(height=60)
    pixels[top + 40 : top + 45, 420:580] = 255
    write(pixels, "500um", top + 10, 460)
    write(pixels, "x6,000  15kV", top + 20, 8)
    bar = read(pixels)
    assert math.isnan(bar.bar_um) and "magnification" in bar.reason


def test_two_bars_with_one_label_are_refused():
    pixels, top = strip(height=80)
    pixels[top + 8 : top + 13, 200:320] = 255
    pixels[top + 55 : top + 60, 200:380] = 255
    write(pixels, "10 µm", top + 22, 230)
    bar = read(pixels)
    assert math.isnan(bar.bar_um) and "compete" in bar.reason


def test_a_bar_without_a_label_and_a_working_distance_are_no_scale():
    pixels, top = strip()
    pixels[top + 30 : top + 35, 420:580] = 255
    write(pixels, "15 kV  WD = 10 mm  SE", top + 12, 20)
    bar = read(pixels)
    assert math.isnan(bar.bar_um) and bar.reason and bar.kv == 15.0


def test_a_label_without_a_bar_is_refused():
    pixels, top = strip()
    write(pixels, "15 kV   10 µm", top + 12, 20)
    bar = read(pixels)
    assert math.isnan(bar.bar_um) and "no bar" in bar.reason
    assert bar.marks[top:].all()


@pytest.mark.parametrize("name", ["coins", "text", "page", "brick", "camera", "moon"])
def test_pictures_that_are_no_micrographs_give_no_bar(name):
    bar = read(getattr(skimage.data, name)())
    assert math.isnan(bar.bar_um) and math.isnan(bar.bar_px) and bar.ends_px is None and bar.reason


def test_a_colour_photograph_gives_no_bar():
    rgb = skimage.data.astronaut()
    bar = read(np.round(rgb @ (0.299, 0.587, 0.114)).astype(np.uint8), rgb)
    assert math.isnan(bar.bar_um) and bar.reason


@pytest.mark.parametrize(
    "pixels",
    [
        np.zeros((1, 1), np.uint8),
        np.zeros((1, 20000), np.uint8),
        np.zeros((300, 400), np.uint8),
        np.full((300, 400), 255, np.uint8),
        np.full((300, 400), np.nan, np.float32),
        np.random.default_rng(1).random((200, 300)).astype(np.float32),
        np.random.default_rng(2).integers(0, 2, (300, 400)).astype(np.uint8) * 255,
    ],
    ids=["one pixel", "one row", "black", "white", "not a number", "noise", "salt and pepper"],
)
def test_odd_pictures_give_a_reason_and_no_error(pixels, capsys):
    bar = read(pixels)
    assert math.isnan(bar.bar_um) and bar.reason and bar.marks.shape == pixels.shape
    assert capsys.readouterr() == ("", "")


@pytest.mark.parametrize(("field", "said"), [("HFW 32.0 µm", ""), ("", "few instruments print"), ("HFW 64.0 µm", "few instruments print")])
def test_a_number_that_few_instruments_print_needs_a_proof(field, said):
    """12.5 µm over 250 of 640 px make a field of 32.0 µm."""
    pixels, top = strip()
    pixels[top + 30 : top + 34, 360:610] = 255
    write(pixels, "12.5 µm", top + 6, 450)
    write(pixels, field, top + 12, 20)
    bar = read(pixels)
    assert said in bar.reason
    if not said:
        assert_read(bar, 12.5, 250, 359.5)
