"""Letters made of dots, as character generators draw them: the expected label and length are the drawing's."""

import numpy as np
import pytest
from drawn_bars import FONTS, assert_read, picture, read
from PIL import Image, ImageDraw, ImageFont


def dotted(text: str, *, dot_px: int) -> np.ndarray:
    """Text of dots (bool): every pixel of a small font without shades of grey becomes a square dot with a blank beside it."""
    font = ImageFont.truetype(str(FONTS / "DejaVuSansMono.ttf"), 11)
    left, top, right, below = font.getbbox(text)
    image = Image.new("1", (right + 1, below + 1))
    ImageDraw.Draw(image).text((0, 0), text, fill=1, font=font)
    small = np.array(image)[top:, left:]
    dot = np.zeros((dot_px + 1, dot_px + 1), bool)
    dot[:dot_px, :dot_px] = True
    return np.kron(small, dot).astype(bool)


def strip(text: str, *, dot_px: int, ground: int, ink: int) -> np.ndarray:
    """A picture above a strip with a fact, a label of dots and, below it, a line of 300 px."""
    pixels = picture()
    pixels[400:] = ground
    for col, words in ((20, "15 kV SE"), (380, text)):
        letters = dotted(words, dot_px=dot_px)[:50, : 340 if col == 20 else 250]
        pixels[410 : 410 + letters.shape[0], col : col + letters.shape[1]][letters] = ink
    pixels[462:465, 320:620] = ink
    return pixels


@pytest.mark.parametrize(("ground", "ink"), [(0, 255), (30, 205), (225, 20)])
@pytest.mark.parametrize("length", [10, 50])
def test_a_label_of_dots_is_read_and_its_bar_measured_as_drawn(ground, ink, length):
    assert_read(read(strip(f"{length} um", dot_px=2, ground=ground, ink=ink)), float(length), 300)


def test_a_label_of_large_dots_is_read_with_its_decimal_point():
    assert_read(read(strip("0.5 mm", dot_px=3, ground=0, ink=255)), 500.0, 300)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("2.5 um", "a figure before the bar's label 2.5 µm may be missing"),
        ("20 um", "a figure before the bar's label 20 µm may be missing"),
        ("500 nm", "the bar's label reads as 500 nm and as 50 nm"),
    ],
)
def test_a_label_of_large_dots_is_refused_where_a_figure_may_be_missing(text, said):
    """A column of dots that stands apart may be a figure of its own; none of these is read with another value."""
    bar = read(strip(text, dot_px=3, ground=0, ink=255))
    assert np.isnan(bar.bar_um) and said in bar.reason
