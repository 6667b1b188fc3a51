"""A second scale bar or text over the picture, beside a data bar. Results got by different ways are compared (ISO/IEC
17025:2017, 7.7.1, from memory); the limit of 5 % is this project's own."""

import numpy as np
import pytest
from drawn_bars import ROWS, assert_read, picture, read, written

STRIP_PX = 40


def with_strip(second: str = "", *, length_px: int = 150) -> np.ndarray:
    """A picture with a data bar of 100 µm over 200 px below it, and a second label and bar over it."""
    pixels = picture()
    pixels[-STRIP_PX:] = 0
    pixels[-18:-14, 400:600] = 255
    pixels = written(pixels, "100 µm", ROWS - 28, 310, size=16)
    if second:
        pixels = written(pixels, second, 40, 60, stroke_width=2, stroke_fill=0)
        pixels[74:82, 58 : 62 + length_px] = 0
        pixels[76:80, 60 : 60 + length_px] = 255
    return pixels


def test_a_second_bar_that_contradicts_the_first_is_a_reason_to_refuse():
    bar = read(with_strip("100 µm", length_px=150))
    assert np.isnan(bar.bar_um)
    assert "two scale bars contradict each other: 100 µm over 200.0 px and 100 µm over 150.0 px" in bar.reason
    assert bar.contradicted_um == pytest.approx(0.5, rel=0.002)


def test_a_second_bar_that_says_nonsense_makes_the_first_doubtful():
    """5 nm over 150 px: 0.03 nm a pixel, finer than any micrograph of a machined surface (common practice, no source)."""
    assert "two scale bars contradict each other" in read(with_strip("5 nm", length_px=150)).reason


def test_a_second_bar_that_agrees_is_covered_and_the_first_counts():
    bar = read(with_strip("50 µm", length_px=100))
    assert_read(bar, 100.0, 200.0)
    assert bar.marks[76:80, 60:160].all()
    assert bar.marks[45:55, 60:110].mean() > 0.5


def test_text_over_the_picture_is_covered_beside_a_data_bar_too():
    bar = read(written(with_strip(), "Section 4", 100, 200, stroke_width=2, stroke_fill=0))
    assert_read(bar, 100.0, 200.0)
    assert bar.marks[100:120, 205:285].mean() > 0.5
    assert not bar.marks[150:430].any()


@pytest.mark.parametrize(("length_px", "agrees"), [(144, True), (156, True), (141, False), (160, False)])
def test_bars_within_five_per_cent_agree(length_px, agrees):
    """75 µm over 144, 156, 141, 160 px: 4.2, -3.8, 6.4 and -6.3 % off 0.5 µm a pixel."""
    assert (read(with_strip("75 µm", length_px=length_px)).reason == "") is agrees


@pytest.mark.parametrize(("short_px", "is_read"), [(40, True), (52, False)])
def test_two_bars_side_by_side_on_a_strip_count_where_their_figures_agree(short_px, is_read):
    """200 µm over 200 px; 40 µm over 40 px says the same, over 52 px it doesn't."""
    pixels = picture()
    pixels[-56:] = 0
    for first, last in ((430, 630), (370 - short_px, 370)):
        pixels[-12:-10, first : last + 1] = 255
        pixels[-16:-6, [first, last]] = 255
    pixels = written(written(pixels, "200 µm", ROWS - 46, 500, size=16), "40 µm", ROWS - 46, 330, size=16)
    bar = read(pixels)
    if is_read:
        assert_read(bar, 200.0, 200.0)
    else:
        assert np.isnan(bar.bar_um) and "compete" in bar.reason
