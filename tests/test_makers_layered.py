"""The layered maker's grooves cover the ground that their widths and lengths say."""

import cv2
import numpy as np
import pytest
from makers.layered_surface import Grooves, Sheet


@pytest.mark.parametrize("pixel_size_um", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 77.0])
def test_a_groove_covers_width_times_length(pixel_size_um, angle_deg):
    """Closed form: the integral along 100 µm of 10 µm · (1 + 0.18 sin(2π s / 37 µm)), the outline's width in µm."""
    bank, one = np.zeros((512, 512), np.float32), np.ones(1)
    sheet = Sheet(rng=np.random.default_rng(0), pixel_size_um=pixel_size_um, shape=(400, 400), bank=bank)
    groove = Grooves(
        angle_deg=angle_deg * one, offset_um=0.3 * one, start_um=-60 * one, end_um=60 * one, width_um=10 * one,
        slope=0 * one, pivot_um=0 * one, bow_per_um=0 * one, wiggle=np.array([[[0, 100, 0.0]] * 2]), taper_um=1e-6 * one,
        lay=np.zeros(1, int),
    )  # fmt: skip
    outline = groove.outline(sheet, np.array([0]), -50 * one, 50 * one, low=-one, high=one, slant=0 * one, former=True)
    drawn = np.zeros(sheet.shape, np.uint8)
    cv2.fillPoly(drawn, list(outline), 1, shift=4)
    assert drawn.sum() * pixel_size_um**2 == pytest.approx(1000, rel=0.03)  # the sine integrates to 0: it is odd
