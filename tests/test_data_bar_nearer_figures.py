"""Figures nearer to a bar than the only length that was known as a possible label: the drawing says which one labels the bar."""

import numpy as np
import pytest
from drawn_bars import assert_read, picture, read, written


def strip(near: str, far: str) -> np.ndarray:
    """A black strip with a bar of 200 px, one text right above it, and another one at the strip's other end."""
    pixels = picture()
    pixels[410:] = 0
    pixels[460:465, 40:240] = 255
    pixels = written(pixels, near, 430, 100, size=18)
    return written(pixels, far, 440, 420, size=18)


@pytest.mark.parametrize("near", ["400", "13.7 µm"])
def test_a_length_farther_from_the_bar_than_other_figures_is_not_its_label(near):
    """A unit that wasn't read, or a number that no label has: 120 µm is another quantity's."""
    bar = read(strip(near, "120 µm"))
    assert np.isnan(bar.bar_um) and bar.reason == f"{near} stands nearer to the bar than its seeming label 120 µm"


@pytest.mark.parametrize("near", ["WD 12 mm", "15 kV", "SE  1.0 kx", "8.9 mm"])
def test_facts_between_bar_and_label_are_no_figures_of_a_label(near):
    assert_read(read(strip(near, "120 µm")), 120.0, 200)
