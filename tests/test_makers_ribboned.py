"""Claims on the ribboned maker's geometry and physics, against definitions, formulas and published values."""

import numpy as np
import pytest
from makers.ribboned import make
from makers.ribboned.camera import electrons, with_shot_noise
from makers.ribboned.lay import Plan, lays_about
from makers.ribboned.ribbon import Ribbon, closed_of, labelled, strip_of
from makers.ribboned.scuff import scuffed_where
from makers.ribboned.tone import CARBON, IRON, backscatter, electron_range_um, tilt_gain

PIXEL_UM, ROWS, COLS = 0.25, 120, 160


def drawn(depth_um: float, slope_deg: float, *, floor_um: float = 0.0, cover: float = 0.0, side: int = 0, lost_um: float = 0.0):
    """Codes of one straight groove along the rows, worn all over."""
    worn = np.ones((ROWS, COLS), bool)
    tan = float(np.tan(np.deg2rad(slope_deg)))
    ones = np.ones(COLS)
    ribbon = Ribbon(True, 60.0 * ones, 1.0, depth_um * ones, floor_um, tan, (0.0, 1.0), cover * ones, side)
    strip = strip_of(ribbon, worn, lost_um, PIXEL_UM, 1.0)
    codes = np.zeros(worn.shape, np.uint8)
    codes[strip.row, strip.col] = labelled(strip.ground_um, closed_of(ribbon, strip, worn))
    return codes


@pytest.mark.parametrize("hone_angle_deg", [20, 45, 90, 150])
@pytest.mark.parametrize("stroke_deg", [0, 63, 90])
def test_the_circumference_bisects_the_hone_angle(stroke_deg, hone_angle_deg):
    """Included angle between the lays, bisected by the direction across the stroke (semwear.terms)."""
    first, second = np.deg2rad(lays_about(stroke_deg, hone_angle_deg))
    one, two = (np.array([np.cos(turn), np.sin(turn)]) for turn in (first, second))
    around = np.array([-np.sin(np.deg2rad(stroke_deg)), np.cos(np.deg2rad(stroke_deg))])
    one, two = one * np.sign(one @ around), two * np.sign(two @ around)
    middle = (one + two) / np.linalg.norm(one + two)
    assert np.rad2deg(np.arccos(one @ two)) == pytest.approx(hone_angle_deg, abs=1e-6)
    assert middle @ around == pytest.approx(1, abs=1e-9)


@pytest.mark.parametrize(("depth_um", "slope_deg", "floor_um"), [(1.0, 8, 0), (2.0, 15, 0), (3.0, 25, 2.0), (0.8, 12, 1.0)])
def test_an_open_valley_is_as_wide_as_the_groove_half_a_micrometre_down(depth_um, slope_deg, floor_um):
    """Ground at least 0.5 µm below the plateau (semwear.terms): plane walls narrow by 0.5 µm/tan(slope) a side."""
    wide_um = 2 * (floor_um + (depth_um - 0.5) / np.tan(np.deg2rad(slope_deg)))
    seen_um = (drawn(depth_um, slope_deg, floor_um=floor_um) == 1).sum(0) * PIXEL_UM
    assert seen_um == pytest.approx(wide_um, abs=1.01 * PIXEL_UM)


def test_a_groove_worn_or_cut_shallower_than_half_a_micrometre_is_plateau_and_never_smeared():
    """Within 0.5 µm of the local plateau is plateau; smeared asks for moved metal over a footprint (semwear.terms)."""
    assert not drawn(0.45, 10).any()
    assert not drawn(0.45, 10, cover=1.2).any()
    assert (drawn(1.2, 10) == 1).any()
    assert not drawn(1.2, 10, lost_um=0.75).any()
    assert not drawn(1.2, 10, lost_um=0.75, cover=1.2).any()


def test_closed_metal_takes_the_footprint_of_the_groove_no_more_and_no_less():
    """Smeared is the footprint of a groove that moved metal has closed (semwear.terms)."""
    valley = drawn(3.0, 14) == 1
    for side in (-1, 0, 1):
        closed = drawn(3.0, 14, cover=1.2, side=side)
        assert np.array_equal(closed == 2, valley) and not (closed == 1).any()
        partly = drawn(3.0, 14, cover=0.5, side=side)
        assert np.array_equal(np.isin(partly, (1, 2)), valley)
        assert 0.2 < (partly == 2).sum() / valley.sum() < 0.8


def test_electrons_range_in_iron_as_published():
    """Kanaya, Okayama 1972, J. Phys. D 5, 43: 0.16, 0.50, 0.99, 1.60 µm in iron at 5, 10, 15, 20 kV (tests/SOURCES.md)."""
    assert [electron_range_um(kilovolts) for kilovolts in (5, 10, 15, 20)] == pytest.approx([0.16, 0.50, 0.99, 1.60], rel=0.03)


def test_graphite_is_darker_than_iron_by_reuter_and_walls_brighten_as_the_secant():
    """Backscatter coefficients 0.28 and 0.06, tilt contrast 0.5-12 % at 6-27° (both from tests/SOURCES.md)."""
    assert backscatter(IRON[0]) == pytest.approx(0.28, abs=0.005)
    assert backscatter(CARBON[0]) == pytest.approx(0.06, abs=0.005)
    assert [tilt_gain(6), tilt_gain(27)] == pytest.approx([0.0055, 0.122], rel=0.02)


def test_shot_noise_falls_with_the_root_of_the_dose():
    """N = i·t/e: 100 pA for 10 µs is 6,242 electrons (tests/SOURCES.md); Poisson spread over mean is 1/√N."""
    counted = electrons(100e-12, 10e-6)
    assert counted == pytest.approx(6242, rel=1e-3)
    flat = np.ones((300, 300), np.float32)
    for dose in (counted, counted / 16):
        noisy = with_shot_noise(np.random.default_rng(3), flat, dose)
        assert noisy.std() / noisy.mean() == pytest.approx(1 / np.sqrt(dose), rel=0.03)


@pytest.mark.parametrize("stroke_deg", [0.0, 90.0])
def test_torn_streaks_lie_along_the_stroke_inside_the_track(stroke_deg):
    """Scuffed: torn or ploughed, in streaks along the stroke (semwear.terms)."""
    worn = np.zeros((260, 260), bool)
    worn[130:] = True
    plan = Plan(stroke_deg, 50.0, (0.0, 0.0), 1.0, worn, 0.1)
    for seed in range(4):
        torn = scuffed_where(np.random.default_rng(seed), plan, 0.8, 0.3)
        assert torn.any() and not torn[:130].any()
        # borders met per step along the stroke are fewer than across it, in the inner track where its border isn't met
        inner = torn[132:258]
        down, right = (np.count_nonzero(np.diff(inner, axis=axis)) for axis in (0, 1))
        along, across = (right, down) if stroke_deg == 0 else (down, right)
        assert along < 0.5 * across


def test_unworn_fields_are_about_two_in_five_and_worn_ones_move_metal_in_the_track_alone():
    """Metal moves only where the ring ran (semwear.terms: in-track); the share is the plan's, common practice, no source."""
    fields = [make(np.random.default_rng(seed), pixel_size_um=0.7, shape=(200, 200)) for seed in range(120)]
    unworn = np.mean([not field.worn.any() for field in fields])
    assert unworn == pytest.approx(0.4, abs=3.5 * np.sqrt(0.4 * 0.6 / 120))
    assert not any(np.isin(field.codes[~field.worn], (2, 3)).any() for field in fields)
    assert any((field.codes == 2).mean() > 0.05 for field in fields)
