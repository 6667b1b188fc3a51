"""Same spot before and after: poses recovered from drawn patterns with known rotation and shift, fates from known masks.

All truths are closed-form: straight lines drawn at known places, turned and shifted by a known amount.
"""

import math

import numpy as np
import pytest

from semwear.compare.registration import register
from semwear.compare.spots import follow_spot, grooves_of_lay
from semwear.terms import MaskCode

LAYS_DEG = (25.0, 155.0)


def drawn_codes(shape, *, turn_deg=0.0, centre=(0.0, 0.0), pixel_um=1.0, seed=3, lines=44):
    """Return mask codes of lines drawn in specimen coordinates, seen by a picture that is turned and shifted.

    centre: (down, right) µm of the picture's centre on the specimen; turn_deg: the picture's content is turned by this,
    anticlockwise on the screen.
    """
    rng = np.random.default_rng(seed)
    rows, cols = np.indices(shape, dtype=float)
    right, up = (cols - (shape[1] - 1) / 2) * pixel_um, -(rows - (shape[0] - 1) / 2) * pixel_um
    back = math.radians(-turn_deg)
    x = right * math.cos(back) - up * math.sin(back) + centre[1]
    y = right * math.sin(back) + up * math.cos(back) - centre[0]
    codes = np.zeros(shape, np.uint8)
    for number in range(lines):
        direction = math.radians(LAYS_DEG[number % 2])
        offset, half_width = rng.uniform(-420, 420), rng.uniform(3, 7)
        distance = np.abs(-x * math.sin(direction) + y * math.cos(direction) - offset)
        codes[distance < half_width] = MaskCode.OPEN_VALLEY
    return codes


@pytest.mark.parametrize(
    ("turn_deg", "centre"), [(0.0, (0.0, 0.0)), (12.0, (30.0, -40.0)), (-95.0, (-25.0, 10.0)), (180, (5, 60))]
)
def test_rotation_and_shift_are_recovered_with_the_right_sense(turn_deg, centre):
    first = drawn_codes((300, 400)) == MaskCode.OPEN_VALLEY
    second = drawn_codes((320, 380), turn_deg=turn_deg, centre=centre) == MaskCode.OPEN_VALLEY
    found = register(first, second, first_pixel_um=1.0, second_pixel_um=1.0)
    assert found.is_believed, found.reason
    assert (found.rotation_deg - turn_deg + 180) % 360 - 180 == pytest.approx(0, abs=0.3)
    assert found.shift_um == pytest.approx(centre, abs=1.0)


def test_pictures_of_different_pixel_size_are_laid_on_each_other():
    first = drawn_codes((300, 400), pixel_um=1.0) == MaskCode.OPEN_VALLEY
    second = drawn_codes((420, 560), pixel_um=0.6, turn_deg=-6.0, centre=(12.0, 20.0)) == MaskCode.OPEN_VALLEY
    found = register(first, second, first_pixel_um=1.0, second_pixel_um=0.6)
    assert found.is_believed, found.reason
    assert found.rotation_deg == pytest.approx(-6.0, abs=0.3)
    assert found.shift_um == pytest.approx((12.0, 20.0), abs=1.0)


@pytest.mark.parametrize("seed", [11, 12])
def test_pictures_of_different_places_are_not_believed(seed):
    first = drawn_codes((300, 400), seed=3) == MaskCode.OPEN_VALLEY
    second = drawn_codes((300, 400), seed=seed) == MaskCode.OPEN_VALLEY
    found = register(first, second, first_pixel_um=1.0, second_pixel_um=1.0)
    assert not found.is_believed and found.reason and math.isnan(found.rotation_deg)


def test_grooves_are_told_apart_by_their_lay():
    codes = drawn_codes((300, 400), lines=12) == MaskCode.OPEN_VALLEY
    own, wrong = grooves_of_lay(codes, LAYS_DEG[0], 1.0), grooves_of_lay(codes, 90.0, 1.0)
    assert (own > 0).sum() > 5 * (wrong > 0).sum()
    one_lay = drawn_codes((300, 400), lines=1, seed=1) == MaskCode.OPEN_VALLEY
    assert (grooves_of_lay(one_lay, LAYS_DEG[0], 1.0) > 0).sum() > 0.95 * one_lay.sum()
    assert not grooves_of_lay(one_lay, LAYS_DEG[1], 1.0).any()


def test_each_groove_gets_the_fate_that_it_was_given():
    shape, pixel_um = (300, 400), 1.0
    before = np.zeros(shape, np.uint8)
    after = np.zeros(shape, np.uint8)
    rng = np.random.default_rng(1)
    # Short level bars of 8 µm width that don't touch, at irregular places: a regular pattern would fit in many ways.
    expected = dict.fromkeys(("survived", "narrowed", "smeared over", "gone"), 0)
    areas = dict.fromkeys(expected, 0)
    row = 6
    while row < 285:
        col = int(rng.integers(4, 40))
        while col < 330:
            fate = list(expected)[int(rng.integers(4))]
            length = int(rng.integers(35, 65))
            expected[fate] += 1
            areas[fate] += 8 * length
            bar = np.s_[row : row + 8, col : col + length]
            before[bar] = MaskCode.OPEN_VALLEY
            start, col = col, col + length + int(rng.integers(8, 40))
            if fate == "survived":
                after[bar] = MaskCode.OPEN_VALLEY
            elif fate == "narrowed":
                after[row : row + 4, start : start + length] = MaskCode.OPEN_VALLEY
            elif fate == "smeared over":
                after[bar] = MaskCode.SMEARED
        row += int(rng.integers(13, 30))
    found = follow_spot(before, after, pixel_before_um=pixel_um, pixel_after_um=pixel_um, lays_deg=(0.0,))
    assert not found.reason
    assert {fate: found.count(fate) for fate in expected} == expected
    exact = (areas["survived"] + areas["narrowed"] / 2) / sum(areas.values())
    assert found.retention == pytest.approx(exact, abs=0.02)
    assert found.smeared_after_um2 == pytest.approx(areas["smeared over"], rel=0.02)


def test_a_place_without_open_valleys_or_fit_gives_a_reason_and_no_number():
    empty = np.zeros((200, 300), np.uint8)
    found = follow_spot(empty, empty, pixel_before_um=1, pixel_after_um=1, lays_deg=())
    assert "no open valley before" in found.reason and math.isnan(found.retention)
    elsewhere = follow_spot(
        drawn_codes((300, 400), seed=3),
        drawn_codes((300, 400), seed=21),
        pixel_before_um=1,
        pixel_after_um=1,
        lays_deg=(),
    )
    assert elsewhere.reason and math.isnan(elsewhere.retention) and elsewhere.grooves == ()
