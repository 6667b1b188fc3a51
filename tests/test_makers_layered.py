"""The layered maker of training fields: its truth holds by its own contract, at every pixel size and shape."""

import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "training"))
from makers.layered import make  # noqa: E402
from makers.layered_surface import Grooves, Sheet  # noqa: E402


@pytest.mark.parametrize(("pixel_size_um", "shape"), [(0.12, (200, 260)), (0.5, (240, 180)), (2.2, (160, 200))])
def test_a_field_follows_from_its_seed(pixel_size_um, shape):
    first, again, other = (
        make(np.random.default_rng(seed), pixel_size_um=pixel_size_um, shape=shape) for seed in (7, 7, 8)
    )
    assert first.image.shape == first.codes.shape == first.worn.shape == shape
    assert first.image.dtype == first.codes.dtype == np.uint8
    assert np.array_equal(first.image, again.image)
    assert np.array_equal(first.codes, again.codes)
    assert not np.array_equal(first.image, other.image)


def test_only_mask_codes_appear_and_wear_only_where_the_ring_ran():
    seen, unworn = set(), 0
    for seed in range(40):
        made = make(np.random.default_rng(seed), pixel_size_um=0.8, shape=(160, 160))
        seen |= set(np.unique(made.codes).tolist())
        assert not np.isin(made.codes[~made.worn], (2, 3)).any()
        unworn += not made.worn.any()
    assert seen == {0, 1, 2, 3, 255}
    assert 0 < unworn < 40


def test_an_open_groove_differs_from_the_plateau_beside_it():
    """Where much valley is drawn, its grey or its grain differs from the band of plateau around it (common practice)."""
    found, fields = 0, 0
    for seed in range(40):
        made = make(np.random.default_rng(seed), pixel_size_um=0.6, shape=(200, 200))
        valley = made.codes == 1
        beside = (cv2.dilate(valley.astype(np.uint8), np.ones((9, 9))) > 0) & (made.codes == 0)
        if valley.mean() < 0.02:
            continue
        fields += 1
        inside, outside = made.image[valley].astype(float), made.image[beside].astype(float)
        found += (
            abs(inside.mean() - outside.mean()) > 0.35 * outside.std() or not 0.7 < inside.std() / outside.std() < 1.4
        )
    assert fields > 15
    assert found > 0.75 * fields


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
