"""The maker of steep grooves against definitions and formulas from outside it; the source stands beside each check."""

import numpy as np
import pytest
from makers.steep import make
from makers.steep.closing import covered
from makers.steep.instrument import electrons_per_pixel
from makers.steep.raster import strip
from makers.steep.sections import cut, ground_depth_um, truncate
from makers.steep.tone import Look, starved_escape, wall_grey

LOOK = Look(
    detector_rad=0, wall=0.5, tilt=0.1, rim=0, rim_um=0.3, floor=0, starved=0, rough=0, carbon=0, burnish=0, plug=0,
    seam=0, lip=0, dragged=0, outline=0,
)  # fmt: skip


def groove(angle_deg: float, width_um: float = 10.0, depth_um: float = 3.0):
    return cut(
        np.random.default_rng(1), at_um=(75, 75), angle_rad=np.radians(angle_deg), reach_um=120, pixel_size_um=0.5,
        width_um=width_um, depth_um=depth_um, wall_deg=50, torn=0,
    )  # fmt: skip


@pytest.mark.parametrize("wall_deg", [20, 45, 75])
def test_the_valley_begins_half_a_micrometre_down_the_wall(wall_deg):
    """0.5 µm: semwear.terms; that is 0.5/tan(wall) inside the rim (plane trigonometry)."""
    u = np.linspace(-10, 10, 40001)
    depth = ground_depth_um(u, 10, 10, 3, wall_deg, wall_deg, "flat")
    assert np.ptp(u[depth >= 0.5]) == pytest.approx(20 - 2 * 0.5 / np.tan(np.radians(wall_deg)), abs=2e-3)


def test_walls_that_meet_bound_the_depth():
    """A vee of width w under two like walls is w/2·tan(wall) deep (plane trigonometry)."""
    u = np.linspace(-2, 2, 4001)
    for floor in ("vee", "flat", "round"):
        assert ground_depth_um(u, 2, 2, 100, 30, 30, floor).max() == pytest.approx(2 * np.tan(np.pi / 6), rel=1e-3)


def test_truncation_lowers_the_ground_by_the_wear_and_moves_no_wall():
    """The plateau's level falls, the ground stays; valley depth is from the local plateau (semwear.terms)."""
    cut_one, u = groove(90), np.linspace(-4, 4, 81)

    def across():
        middle = len(cut_one.depth_um) // 2
        parts = (cut_one.left_um, cut_one.right_um, cut_one.depth_um, cut_one.left_wall_deg, cut_one.right_wall_deg)
        return ground_depth_um(u, *(part[middle] for part in parts), "flat")

    before = across()
    truncate(cut_one, np.full(len(cut_one.depth_um), 0.7))
    assert across() == pytest.approx(np.clip(before - 0.7, 0, None), abs=1e-6)


@pytest.mark.parametrize("angle_deg", [0, 30, 60, 90, 135, 200])
def test_a_strip_measures_distance_square_to_the_groove(angle_deg):
    """Distance of a point from a line (analytic geometry)."""
    one = groove(angle_deg)
    one.offset_um[:] = 0
    laid = strip(one, (300, 300), 0.5, 0.3, np.zeros(90000))
    row, column = np.divmod(laid.index, 300)
    angle = np.radians(angle_deg)
    expected = -(column * 0.5 - 75) * np.sin(angle) + (row * 0.5 - 75) * np.cos(angle)
    assert laid.u_um == pytest.approx(expected, abs=0.01)
    assert len(np.unique(laid.index)) == len(laid.index)


def test_metal_is_smear_only_within_half_a_micrometre_of_the_plateau():
    """Code 2: closed to within 0.5 µm of the plateau (semwear.terms)."""
    none = np.zeros(3)
    assert covered(none, none, none, np.array([0.0, 0.49, 0.51])).tolist() == [True, True, False]
    v = np.linspace(-0.99, 0.99, 199)
    assert covered(v, 0.25, 0.25, np.inf).mean() == pytest.approx(0.5, abs=0.01)


def test_floors_of_deep_trenches_starve_as_the_view_factor_says():
    """Strip to sky, from the middle of the floor: sin of half the opening angle, cos(atan(2d/w)) (view-factor formula
    of two-dimensional enclosures, from memory)."""
    for depth, width in [(0, 5), (2, 4), (10, 2)]:
        assert starved_escape(depth, width) == pytest.approx(np.cos(np.arctan(2 * depth / width)))


def test_a_wall_towards_the_detector_outshines_one_away_and_tilt_alone_follows_the_secant():
    """Yield grows as sec θ (exponent of about 1, from memory); the detector's side is common practice, no source."""
    assert wall_grey(50, 1, LOOK) > wall_grey(50, 0, LOOK) > wall_grey(50, -1, LOOK)
    assert wall_grey(60, 0, LOOK) == pytest.approx(LOOK.tilt * (2 - 1))


def test_a_beam_of_100_pa_for_10_us_brings_6242_electrons():
    """N = i·t/e (tests/SOURCES.md)."""
    assert electrons_per_pixel(100, 10) == pytest.approx(6242, abs=1)


def test_metal_moves_in_the_track_only_and_smear_and_scuffing_are_common_there():
    """Track: where the ring ran (semwear.terms); how common: common practice, no source."""
    fields = [make(np.random.default_rng(seed), pixel_size_um=0.7, shape=(220, 220)) for seed in range(24)]
    assert not any(np.isin(made.codes[~made.worn], (2, 3)).any() for made in fields)
    run = [made for made in fields if made.worn.any()]
    assert np.mean([(made.codes == 2).any() for made in run]) > 0.5
    assert np.mean([(made.codes == 3).any() for made in run]) > 0.15
