"""Thick bars over the picture with their label inside, and plates behind a label: the expected lengths are the drawing's."""

import math

import cv2
import numpy as np
import pytest
from drawn_bars import FONTS, assert_read, picture, read, written
from PIL import ImageFont

from semwear.data_bar.bar_ends import plain_bar
from semwear.data_bar.two_tones import label_in_other_tone

TEXT, FACE = "20 µm", "DejaVuSans-Bold.ttf"


def plate(*, wide: int = 240, high: int = 34, aside: int = 0, ground: int = 255, ink: int = 0, size: int = 22) -> np.ndarray:
    """A picture with a flat plate whose first pixel is (400, 60), and a label in its middle or aside of it."""
    pixels = picture()
    pixels[400 : 400 + high, 60 : 60 + wide] = ground
    left, top, right, below = ImageFont.truetype(str(FONTS / FACE), size).getbbox(TEXT)
    row, col = 400 + (high - below - top) // 2, 60 + (wide - right - left) // 2 + aside
    return written(pixels, TEXT, row, col, size=size, ink=ink, face=FACE)


@pytest.mark.parametrize(("ground", "ink"), [(255, 0), (0, 255)])
def test_a_thick_bar_with_its_label_in_the_middle_is_read_though_it_looks_like_a_box(ground, ink):
    assert_read(read(plate(ground=ground, ink=ink)), 20.0, 240)


def test_a_label_off_the_middle_or_a_box_hardly_wider_than_its_label_is_no_bar():
    for pixels in (plate(aside=24), plate(wide=110)):
        bar = read(pixels)
        assert math.isnan(bar.bar_um) and bar.reason == "a label 20 µm was read, but no bar near it"


def test_a_plate_is_no_picture_whether_it_is_the_bar_or_not():
    beside = plate()
    beside[440:444, 100:250] = 255
    for pixels in (plate(), plate(aside=24), beside):
        assert read(pixels).marks[400:434, 60:300].all()


@pytest.mark.parametrize(("tone", "said"), [(255, "may be a plate, since another bar stands beside it"), (0, "two readings compete")])
@pytest.mark.parametrize("length", [150, 300])
@pytest.mark.parametrize(("row", "thick"), [(440, 4), (446, 10), (388, 5)])
def test_a_plate_is_refused_where_a_bar_beside_it_may_be_the_bar(tone, said, length, row, thick):
    """A label box as wide as this stands over its bar in some programs: it must not be read as 240 px."""
    pixels = plate()
    pixels[row : row + thick, 180 - length // 2 : 180 + length // 2] = tone
    bar = read(pixels)
    assert math.isnan(bar.bar_um) and said in bar.reason


@pytest.mark.parametrize(
    ("text", "said"),
    [("HFW 53.3 µm", ""), ("HFW 85.3 µm", "contradicts the printed field width"), ("", "may be a plate, since a flat mark")],
)
def test_a_plate_with_a_mark_beside_it_is_the_bar_if_a_printed_field_width_proves_it(text, said):
    """20 µm over 240 of 640 px make a field of 53.3 µm; over the 150 px of the mark below it would be 85.3 µm."""
    pixels = written(plate(), text, 20, 20)
    pixels[446:450, 105:255] = 90
    bar = read(pixels)
    if said:
        assert math.isnan(bar.bar_um) and said in bar.reason
    else:
        assert_read(bar, 20.0, 240)


@pytest.mark.parametrize(
    ("wide", "high", "said"),
    [
        *((side, side, "a label 20 µm was read, but no bar near it") for side in (46, 60)),
        *((wide, 46, "it is higher than a bar beside such a label") for wide in (80, 90)),
    ],
)
@pytest.mark.parametrize("thick", [24, 34])
def test_a_mark_over_the_end_of_a_bar_that_holds_its_label_is_no_bar(wide, high, said, thick):
    """A dark mark with a white rim of 3 px, square or broader, over the first columns of a white bar of 200 px."""
    pixels = plate(wide=200, high=thick, size=22 if thick == 34 else 18)
    top = 400 + thick // 2 - high // 2
    pixels[top : top + high, 30 : 30 + wide] = 255
    pixels[top + 3 : top + high - 3, 33 : 27 + wide] = 20
    bar = read(pixels)
    assert math.isnan(bar.bar_um) and said in bar.reason


@pytest.mark.parametrize(
    ("grey", "tone", "said"),
    [(60, 0, "two readings compete"), *((grey, tone, "may be a plate, since a flat mark") for grey, tone in ((60, 30), (150, 190), (110, 90)))],
)
@pytest.mark.parametrize("thick", [1, 3, 8])
@pytest.mark.parametrize("length", [60, 150, 320])
def test_a_plate_is_refused_where_anything_flat_lies_below_it_however_faint(grey, tone, said, thick, length):
    """The bar of a label on a plate may be of any tone, and was then not found: 240 px, the plate's own, would be wrong."""
    pixels = plate()
    ground = picture(grey, spread=10)
    pixels[:400], pixels[434:] = ground[:400], ground[434:]
    pixels[444 : 444 + thick, 100 : 100 + length] = tone
    bar = read(pixels)
    assert math.isnan(bar.bar_um) and said in bar.reason


def test_a_label_on_a_plate_is_refused_and_not_given_to_strokes_of_the_picture():
    """The strokes are flat marks beside the plate, so that neither the plate's 240 px nor their 399 or 28 px are sure."""
    pixels = plate()
    pixels[436:443, 20:420], pixels[430:450, 20], pixels[430:450, 419] = 230, 230, 230
    pixels[455:457, 130:158] = 0  # A stroke such as pieces of the picture give.
    bar = read(pixels)
    assert math.isnan(bar.bar_um) and "may be a plate, since a flat mark stands beside it" in bar.reason


@pytest.mark.parametrize("quality", [70, 85])
@pytest.mark.parametrize("tone", [20, 60])
def test_a_plate_is_refused_for_what_lies_below_it_through_the_noise_of_jpeg_too(quality, tone):
    pixels = plate()
    pixels[444:452, 100:335] = tone
    coded = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    bar = read(cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE))
    assert math.isnan(bar.bar_um) and "may be a plate, since a flat mark stands beside it" in bar.reason


def test_what_is_nearly_as_flat_as_drawn_beside_a_plate_is_picture_unless_the_plate_was_compressed():
    """Smooth grains vary by a few grey levels in their length, a drawn bar by none; through JPEG the two look alike."""
    pixels = plate()
    rng = np.random.default_rng(2)
    for first in range(20, 620, 100):
        pixels[437:470, first : first + 88] = 150 + rng.integers(-4, 5, (33, 88))
    assert_read(read(pixels), 20.0, 240)
    coded = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 85])[1]
    bar = read(cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE))
    assert math.isnan(bar.bar_um) and "a flat mark stands beside it" in bar.reason


def test_a_label_close_above_its_thick_bar_is_in_the_bars_tone():
    """White on white, three rows apart: the rows beside the label that show its ground aren't those of the bar."""
    plane = np.full((60, 90), 128, np.uint8)
    plane[38:44, 10:70], plane[26:35, 20:60:8] = 255, 255
    bar = plain_bar((38, 44, 10, 70), 9.5, 69.5, 0.4, parts=(), doubt="")
    assert not label_in_other_tone(plane, bar, (26, 35, 20, 60))
    plane[26:35, 20:60:8] = 0
    assert label_in_other_tone(plane, bar, (26, 35, 20, 60))


@pytest.mark.parametrize(("high", "is_read"), [(24, True), (40, False)])
def test_a_flat_mark_much_higher_than_the_letters_of_a_label_above_it_is_no_bar(high, is_read):
    """Letters are about 15 px high; a strip pasted below a label is as flat as a bar."""
    pixels = picture()
    pixels[400 : 400 + high, 60:300] = 255
    pixels[398:400, 58:302] = pixels[400 + high : 402 + high, 58:302] = 0
    bar = read(written(pixels, "20 µm", 360, 150, size=20, ink=255))
    assert math.isnan(bar.bar_um) is not is_read
