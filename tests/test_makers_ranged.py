"""The ranged maker against formulas, published figures and the contract of mask codes."""

import dataclasses

import numpy as np
import pytest
from makers.ranged import grooves, instrument, look, make, setting, truth
from makers.ranged.profiles import FAMILY, depth_um, section


def scene(seed: int, **changes) -> setting.Setting:
    chosen = setting.choose(np.random.default_rng(seed), 0.4, (240, 240))
    return dataclasses.replace(chosen, **({"width_um": 20.0, "cover": (0.3, 0.3)} | changes))


def ploughed(seed: int, worn: bool, **changes) -> grooves.Ground:
    track = np.full((240, 240), worn)
    return grooves.plough(np.random.default_rng(seed), scene(seed, **changes), track, 0.4)


@pytest.mark.parametrize("angle_deg", [20, 47, 145])
@pytest.mark.parametrize("stroke_deg", [0, 90, 31])
def test_hone_angle_is_bisected_by_the_circumference(stroke_deg, angle_deg):
    """semwear.terms: tan(angle / 2) = axial speed / peripheral speed."""
    stroke = np.array([np.cos(np.deg2rad(stroke_deg)), np.sin(np.deg2rad(stroke_deg))])
    around = np.array([-stroke[1], stroke[0]])
    for lay in setting.lays(stroke_deg, angle_deg):
        path = np.array([np.cos(np.deg2rad(lay)), np.sin(np.deg2rad(lay))])
        assert abs(path @ stroke) / abs(path @ around) == pytest.approx(np.tan(np.deg2rad(angle_deg / 2)))


@pytest.mark.parametrize("lay_deg", [25.0, 70.0, 115.0, 160.0])
def test_grooves_lie_along_their_lay_on_the_picture(lay_deg):
    """semwear.terms: the lay is the direction of a family of grooves; here by the structure tensor of the depths."""
    plain = {"extent": "unworn", "truncation_um": 0.0, "smear": 0.0, "width_um": 7.0, "lays_deg": (lay_deg, lay_deg)}
    slopes = [np.gradient(ploughed(seed, False, **plain).depth) for seed in range(3)]
    down, right = np.concatenate(slopes, axis=1)
    steepest = 0.5 * np.arctan2(2 * (down * right).sum(), (right**2).sum() - (down**2).sum())
    off = (np.rad2deg(steepest) + 90 - lay_deg + 90) % 180 - 90
    assert abs(off) < 4


def test_wall_slopes_and_depths_are_those_of_honed_liners():
    """tests/SOURCES.md: walls slope 6–27°; depth 1–10 µm (from memory there, widened to 0.2 µm)."""
    rng = np.random.default_rng(0)
    for family in FAMILY:
        for width in (4.0, 12.0, 55.0):
            slopes = [grooves.slope_deg(rng, width) for _ in range(40)]
            assert min(slopes) >= 6 and max(slopes) <= 27
            assert 0.2 <= depth_um(width, min(slopes), family) <= depth_um(width, max(slopes), family) <= 10
    # A V of 20 µm whose walls slope 15° is 10·tan 15° = 2.68 µm deep.
    wall = depth_um(20, 15, "v") * section("v")
    assert wall.max() == pytest.approx(2.679, abs=1e-3)
    assert np.rad2deg(np.arctan(np.gradient(wall, 20 / (len(wall) - 1))[40])) == pytest.approx(15, abs=0.1)


def test_open_valley_is_ground_half_a_micrometre_below_the_plateau():
    """semwear.terms, codes 0 and 1: at least 0.5 µm below the local plateau."""
    depth = np.array([[0.0, 0.49, 0.5, 6.0]], np.float32)
    ground = grooves.Ground(cut=depth, depth=depth, rim=0 * depth, fold=0 * depth)
    assert truth.states(ground).tolist() == [[0, 0, 1, 1]]


def test_truncation_makes_plateau_and_only_moved_metal_makes_smear():
    """semwear.terms, code 2: the footprint of a groove that moved metal closed to within 0.5 µm of the plateau."""
    fresh = ploughed(5, False, extent="unworn", truncation_um=0.0, smear=0.0)
    rubbed = ploughed(5, True, extent="track", truncation_um=1.0, smear=0.0)
    assert not (truth.states(rubbed) == 2).any()
    assert 0 < (truth.states(rubbed) == 1).mean() < (truth.states(fresh) == 1).mean()
    moved = ploughed(6, True, extent="track", truncation_um=0.2, smear=5.0)
    codes = truth.states(moved)
    assert (codes == 2).mean() > 0.03
    assert moved.depth[codes == 2].max() < 0.5 <= moved.cut[codes == 2].min()
    untouched = ploughed(6, False, extent="track", truncation_um=0.2, smear=5.0)
    assert not (truth.states(untouched) == 2).any()


def test_a_coarse_pixel_has_the_state_of_most_of_its_area():
    """Counting by area, as ASTM E562 and E1245 estimate area fractions (semwear.terms)."""
    fine = np.array([[1, 1, 0, 0, 2, 2], [1, 0, 0, 3, 2, 1]], np.uint8)
    assert truth.majority(fine, 2).tolist() == [[1, 0, 2]]


def test_electrons_range_dose_and_composition_agree_with_published_figures():
    """Kanaya and Okayama 1972 for iron at 5, 10, 15, 20 kV; i·t/e; Reuter's backscatter (all in tests/SOURCES.md)."""
    for kv, micrometres in ((5, 0.16), (10, 0.50), (15, 0.99), (20, 1.60)):
        assert look.electron_range_um(kv) == pytest.approx(micrometres, rel=0.03)
    assert instrument.electrons(100, 10) == pytest.approx(6242, rel=1e-3)
    assert look.ETA["carbon"] / look.ETA["iron"] == pytest.approx(0.06 / 0.28)


@pytest.mark.parametrize("slope_deg", [6, 15, 27])
def test_tilt_alone_gives_the_contrast_of_the_secant_and_walls_that_face_the_detector_are_brighter(slope_deg):
    """Yield grows as the secant of tilt: 0.5–12 % at 6–27° (tests/SOURCES.md)."""
    right = np.arange(60, dtype=np.float32)[None] * np.ones((20, 1), np.float32)
    falls_right = -0.3 * right * np.float32(np.tan(np.deg2rad(slope_deg)))
    even = look.tilt_signal(falls_right, 0.3, 0.0, 0.0)[10, 30]
    assert even == pytest.approx(1 / np.cos(np.deg2rad(slope_deg)), rel=1e-3)
    assert look.tilt_signal(falls_right, 0.3, 0.0, 0.5)[10, 30] > even > look.tilt_signal(falls_right, 0.3, 180.0, 0.5)[10, 30]


def test_two_fields_in_five_are_unworn_and_scuffing_runs_along_the_stroke():
    """Shares of the training plan (common practice, no source); code 3 in streaks along the stroke (semwear.terms)."""
    scenes = [setting.choose(np.random.default_rng(seed), 0.7, (300, 300)) for seed in range(400)]
    assert 0.33 < np.mean([one.extent == "unworn" for one in scenes]) < 0.47
    assert not any(one.smear or one.scuff or one.truncation_um for one in scenes if one.extent == "unworn")
    seen = 0
    for seed in range(400):
        one = scenes[seed]
        if not (0.1 < one.scuff < 0.5 and one.extent == "track") or seen == 6:
            continue
        torn = (make(np.random.default_rng(seed), pixel_size_um=0.7, shape=(300, 300)).codes == 3).astype(float)
        down, right = np.gradient(torn)
        cos, sin = np.cos(np.deg2rad(one.stroke_deg)), np.sin(np.deg2rad(one.stroke_deg))
        assert np.abs(right * cos + down * sin).sum() < 0.6 * np.abs(down * cos - right * sin).sum()
        seen += 1
    assert seen >= 3
