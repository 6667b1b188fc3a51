"""Coloured bars over grey pictures after JPEG with coarse colour: the expected lengths are the geometry of the drawing."""

import io
import math
from dataclasses import replace

import numpy as np
import pytest
from drawn_bars import COLS, FONTS, assert_read, picture, read
from PIL import Image, ImageDraw, ImageFont

from semwear.data_bar.bar_ends import MELTS, plain_bar
from semwear.data_bar.coloured import _is_same, _with_soft_ends


def coloured(blocks: list[tuple[int, int]], colour: tuple[int, int, int], *, quality: int, thick: int) -> np.ndarray:
    """A grey picture with coloured blocks (first and last column) and their label, written as JPEG, 4:2:0, and read."""
    pixels = np.repeat(picture(150, spread=12)[..., None], 3, axis=2)
    for first, stop in blocks:
        pixels[400 : 400 + thick, first:stop] = colour
    image = Image.fromarray(pixels)
    font = ImageFont.truetype(str(FONTS / "DejaVuSans-Bold.ttf"), 30)
    ImageDraw.Draw(image).text((260, 355), "20 µm", fill=colour, font=font)
    file = io.BytesIO()
    image.save(file, "JPEG", quality=quality, subsampling=2)
    return np.array(Image.open(file))


@pytest.mark.parametrize(
    ("colour", "quality", "thick"),
    [((255, 160, 0), 60, 9), ((0, 255, 0), 60, 5), ((0, 255, 255), 50, 9), ((255, 0, 0), 85, 3)],
)
def test_a_coloured_bar_ends_where_its_colour_falls_to_half(colour, quality, thick):
    bar = read(coloured([(201, 442)], colour, quality=quality, thick=thick))
    assert_read(bar, 20.0, 241.0, within_px=0.8)
    assert bar.bar_u_px < 1.0


def test_coloured_blocks_are_one_bar_from_the_first_to_the_last():
    """Three blocks span 200 px; one of them, whose ends are as soft, would give a fifth of that."""
    bar = read(coloured([(201, 241), (281, 321), (361, 401)], (255, 160, 0), quality=60, thick=9))
    assert_read(bar, 20.0, 200.0, within_px=0.8)


@pytest.mark.parametrize("row", [400, 401])
@pytest.mark.parametrize("col", [60, 61])
def test_thin_coloured_ticks_are_measured_by_their_brightness_where_they_stand_out(row, col):
    """A green line and ticks of 1 px over a wavy picture: JPEG with coarse colour smears their colour, not their brightness."""
    waves = picture(55, spread=4) + 30 * np.sin(np.arange(COLS) / 9)
    pixels = np.repeat(np.clip(waves, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    pixels[row, col:397] = pixels[row - 3 : row + 4, col] = pixels[row - 3 : row + 4, 396] = (0, 255, 60)
    image = Image.fromarray(pixels)
    font = ImageFont.truetype(str(FONTS / "DejaVuSansMono.ttf"), 18)
    ImageDraw.Draw(image).text((200, 372), "200nm", fill=(0, 255, 60), font=font)
    file = io.BytesIO()
    image.save(file, "JPEG", quality=80, subsampling=2)
    assert_read(read(np.array(Image.open(file))), 0.2, 396 - col, within_px=0.5)


@pytest.mark.parametrize("col", [300, 301])
def test_the_ends_of_red_print_in_a_dark_box_are_those_of_its_brightness(col):
    """Red of a luma of 59 above the box, (0.299, 0.587, 0.114) · RGB (ITU-R BT.601-7), whose colour JPEG stores at half resolution."""
    pixels = np.repeat(picture(150, spread=12)[..., None], 3, axis=2)
    pixels[380:450, 280:420] = 31
    pixels[430:433, col : col + 104] = (230, 33, 33)
    image = Image.fromarray(pixels)
    font = ImageFont.truetype(str(FONTS / "DejaVuSans-Bold.ttf"), 20)
    ImageDraw.Draw(image).text((310, 395), "100 um", fill=(230, 33, 33), font=font)
    file = io.BytesIO()
    image.save(file, "JPEG", quality=75, subsampling=2)
    assert_read(read(np.array(Image.open(file))), 100.0, 104, within_px=0.3)


@pytest.mark.parametrize(("start", "length", "sure"), [(99.8, 200.0, True), (97.9, 201.9, False), (99.8, 100.0, False)])
def test_soft_ends_are_sure_enough_only_at_the_edges_of_the_ink_of_a_long_bar(start, length, sure):
    box = (10, 16, 100, 100 + round(length))
    bar = plain_bar(box, start, start + length, 0.9, parts=(box,), doubt=MELTS)
    assert (_with_soft_ends(bar).doubt == "") is sure


@pytest.mark.parametrize("colour", [(255, 0, 0), (0, 0, 255)])
def test_a_bar_as_dark_as_its_strip_is_seen_by_its_colour_beside_white_text(colour):
    pixels = np.repeat(picture(150)[..., None], 3, axis=2)
    pixels[420:] = 0
    pixels[452:458, 300:501] = colour
    image = Image.fromarray(pixels)
    font = ImageFont.truetype(str(FONTS / "DejaVuSans.ttf"), 20)
    draw = ImageDraw.Draw(image)
    draw.text((20, 440), "15.00 kV  SE", fill=(255, 255, 255), font=font)
    draw.text((360, 424), "20 µm", fill=colour, font=font)
    assert_read(read(np.array(image)), 20.0, 201.0)


def test_a_line_at_half_of_its_colour_is_no_bar_with_ticks():
    """A line is measured between its outer edges and ticks between their middles: here 3 px, the width of a tick, apart."""
    box = (10, 16, 100, 347)
    plain = plain_bar(box, 99.5, 346.5, 0.5, parts=(box,), doubt="")
    assert _is_same(replace(plain, kind="line"), plain)
    assert not _is_same(replace(plain, kind="ticked", start_px=101.0, stop_px=345.0), plain)


@pytest.mark.parametrize(("ground", "colour"), [(180, (40, 60, 220)), (140, (220, 30, 30))])
def test_a_thin_coloured_line_is_read_without_its_outline_or_refused_where_its_ends_are_lost(ground, colour):
    """JPEG lends colour to an outline of 1 px and takes it from the line: it reads as its 106 px or not at all, not as 104 or 108."""
    image = Image.fromarray(np.repeat(picture(ground, spread=6)[..., None], 3, axis=2))
    draw = ImageDraw.Draw(image)
    draw.rectangle((39, 400, 146, 403), fill=(0, 0, 0))
    draw.rectangle((40, 401, 145, 402), fill=colour)
    font = ImageFont.truetype(str(FONTS / "DejaVuSans-Bold.ttf"), 22)
    draw.text((50, 365), "100 µm", fill=colour, font=font, stroke_width=1, stroke_fill=(0, 0, 0))
    found = 0
    for quality in (70, 80, 83, 90):
        file = io.BytesIO()
        image.save(file, "JPEG", quality=quality, subsampling=2)
        bar = read(np.array(Image.open(file)))
        if bar.reason:
            assert math.isnan(bar.bar_um), quality
            assert "an end of it melts into the picture" in bar.reason or "something is joined to it" in bar.reason, quality
        else:
            assert_read(bar, 100.0, 106.0, within_px=1.0)
            found += 1
    assert found >= 1


def test_a_hollow_coloured_bar_ends_at_the_outside_of_its_walls():
    """Walls of 2 px in yellow around black: 301 px from outside to outside, 297 px of black."""
    pixels = np.repeat(picture(150, spread=12)[..., None], 3, axis=2)
    pixels[400:409, 201:502] = (255, 240, 20)
    pixels[402:407, 203:500] = 0
    image = Image.fromarray(pixels)
    font = ImageFont.truetype(str(FONTS / "DejaVuSans.ttf"), 30)
    ImageDraw.Draw(image).text((300, 418), "0.1 mm", fill=(255, 240, 20), font=font)
    assert_read(read(np.array(image)), 100.0, 301.0)


@pytest.mark.parametrize(("covered", "tint"), [(False, None), (True, None), (False, (20, 40, 140))])
def test_a_bar_that_a_mark_of_another_colour_covers_at_an_end_is_not_read(covered, tint):
    """The mark hides how far the bar goes on; a panel's own tint hides nothing."""
    pixels = np.repeat(picture(100, spread=12)[..., None], 3, axis=2)
    if tint:
        pixels[340:440] = tint
    pixels[400:409, 201:442] = (255, 255, 255) if tint else (0, 255, 255)
    image = Image.fromarray(pixels)
    draw = ImageDraw.Draw(image)
    font = ImageFont.truetype(str(FONTS / "DejaVuSans-Bold.ttf"), 30)
    draw.text((260, 355), "20 µm", fill=(255, 255, 255) if tint else (0, 255, 255), font=font)
    if covered:
        draw.rectangle((400, 390, 500, 415), fill=(255, 60, 60))
    bar = read(np.array(image))
    if covered:
        assert math.isnan(bar.bar_um) and bar.reason
    else:
        assert_read(bar, 20.0, 241.0, within_px=0.8)


def test_coloured_figures_on_a_bright_picture_are_all_seen():
    """The picture is as bright as the strongest channel of the ink, so that nothing of it may pass for a figure left out."""
    pixels = np.repeat(picture(205, spread=8)[..., None], 3, axis=2)
    pixels[392:409, 262:358] = (225, 0, 0)
    image = Image.fromarray(pixels)
    font = ImageFont.truetype(str(FONTS / "DejaVuSans-Bold.ttf"), 34)
    ImageDraw.Draw(image).text((256, 412), "20 µm", fill=(225, 0, 0), font=font)
    assert_read(read(np.array(image)), 20.0, 96.0, within_px=0.5)


def test_red_ink_at_the_limit_of_brightness_is_one_ink_in_figures_and_unit():
    """By ITU-R BT.601 the figures (248, 17, 17) have a grey of 86 and bar and unit (252, 25, 25) one of 93, on black."""
    pixels = np.repeat(picture(150, spread=12)[..., None], 3, axis=2)
    pixels[380:450, 180:330] = 0
    pixels[392:398, 200:297] = (252, 25, 25)
    image = Image.fromarray(pixels)
    font = ImageFont.truetype(str(FONTS / "DejaVuSans-Bold.ttf"), 24)
    pen = ImageDraw.Draw(image)
    pen.text((198, 408), "40.0", fill=(248, 17, 17), font=font)
    pen.text((198 + pen.textlength("40.0 ", font=font), 408), "µm", fill=(252, 25, 25), font=font)
    assert_read(read(np.array(image)), 40.0, 97.0, within_px=0.2)
