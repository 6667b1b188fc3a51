"""The scanning maker's electrons, grooves and moved metal against formulas, handbook values and the masks' definitions."""

import numpy as np
import pytest
from makers.scanned import beam, grooves, metal, scan


@pytest.mark.parametrize(("energy_kev", "expected_um"), [(5, 0.16), (10, 0.50), (15, 0.99), (20, 1.60)])
def test_electrons_range_in_iron_as_kanaya_and_okayama_have_it(energy_kev, expected_um):
    """Kanaya, Okayama, J. Phys. D 5 (1972) 43, as worked out for iron in tests/SOURCES.md."""
    assert beam.range_um(energy_kev) == pytest.approx(expected_um, abs=0.006)


def test_iron_sends_back_more_electrons_than_carbon_so_graphite_is_dark():
    """Iron 0.28, carbon about 0.06 (Reuter's polynomial, tests/SOURCES.md)."""
    assert beam.backscattered(26) == pytest.approx(0.28, abs=0.01)
    assert beam.backscattered(6) == pytest.approx(0.06, abs=0.01)


@pytest.mark.parametrize(("slope_deg", "gain"), [(6, 0.0055), (27, 0.122)])
def test_tilt_of_walls_alone_gives_half_a_percent_to_twelve(slope_deg, gain):
    """sec θ − 1 for walls of 6° and 27° (tests/SOURCES.md); the wall falls to the right, then to the bottom."""
    for axis in (0, 1):
        height = -np.indices((30, 30))[axis].astype(np.float32) * 0.4 * np.float32(np.tan(np.radians(slope_deg)))
        yields = beam.secant(*beam.gradient(height, 0.4))[5:-5, 5:-5]
        assert yields == pytest.approx(1 + gain, rel=1e-3)


def test_a_step_shades_as_far_as_its_height_over_the_tangent_of_the_detectors_elevation():
    """Geometry of straight rays: 6 µm high, detector to the right and 30° up, 10.4 µm of shadow on the left only."""
    height = np.zeros((40, 120), np.float32)
    height[:, 60:] = 6
    blocked = beam.shadow(height, 0.5, 0, 30, reach_px=60)[20]
    assert blocked[:60].sum() * 0.5 == pytest.approx(6 / np.tan(np.radians(30)), rel=0.25)
    assert blocked[60:].max() == 0


def test_a_pixels_electrons_and_the_spread_of_their_count():
    """100 pA for 10 µs is 6,242 electrons (tests/SOURCES.md); counts spread as Poisson's law has it: √N."""
    dose = scan.electrons(100e-12, 10e-6)
    assert dose == pytest.approx(6242, abs=1)
    counts = scan.counted(np.random.default_rng(1), np.full((300, 300), 0.5, np.float32), dose) * dose
    assert counts.mean() == pytest.approx(dose / 2, rel=1e-3)
    assert counts.std() == pytest.approx(np.sqrt(dose / 2), rel=0.02)


def test_the_circumference_bisects_the_hone_angle():
    """Directions as semwear.terms defines them: the bisector lies across the stroke, the angle is the included one."""
    for stroke, included in ((90, 45), (3, 145), (60, 20)):
        first, second = grooves.lays_deg(stroke, included)
        assert second - first == pytest.approx(included)
        assert ((first + second) / 2 - stroke) % 180 == pytest.approx(90)


def test_grooves_are_as_deep_wide_and_steep_as_honing_cuts_them():
    """Walls 6–27°, depth to 10 µm (tests/SOURCES.md); lean and floor spread single walls, the middle must keep."""
    y, x = np.mgrid[:300, :300] * 0.3
    for seed in range(6):
        band = grooves.band(np.random.default_rng(seed), x, y, 35.0, 0.25, 0.3)
        slope = np.degrees(np.arctan(np.hypot(*beam.gradient(band.depth_um, 0.3))))
        wall = (band.depth_um > 0.2) & (slope > 3)
        assert 6 <= np.median(slope[wall]) <= 27
        assert 0.2 < band.depth_um.max() <= 11
        assert set(np.unique(band.width_um[band.groove >= 0]) >= 1.99) == {True}


def test_codes_follow_the_masks_definitions():
    """semwear.terms: open from 0.5 µm down; smeared where moved metal closed a groove that was that deep."""
    before = np.array([[0.0, 0.49, 0.5, 4.0, 4.0, 4.0]])
    after = np.array([[0.0, 0.49, 0.5, 0.2, 0.7, 0.2]])
    torn = np.array([[False] * 5 + [True]])
    assert metal.truth(before, after, torn).tolist() == [[0, 0, 1, 2, 1, 3]]
    # Smeared needs moved metal: a groove of 1.2 µm is plateau once 0.8 µm is worn off.
    left = metal.truncated(np.array([[1.2, 3.0]], np.float32), 0.8)
    assert metal.truth(left, left, np.zeros((1, 2), bool)).tolist() == [[0, 1]]


def test_torn_streaks_run_along_the_stroke_in_the_track_only():
    """semwear.terms: scuffed metal lies in streaks along the stroke; here the stroke is down the picture."""
    y, x = (np.mgrid[:300, :300] * 0.5).astype(np.float32)
    worn = x > 60
    torn, height = metal.torn_metal(np.random.default_rng(3), y, x, worn, 0.5, 0.2)
    assert torn.any() and not torn[~worn].any()
    ends = [(np.diff(torn.astype(int), axis=axis) != 0).sum() for axis in (0, 1)]
    assert ends[1] > 2 * ends[0]
    assert height.std() > 0.1
