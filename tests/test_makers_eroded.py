"""The eroded maker against definitions (semwear.terms), published values and formulas (tests/SOURCES.md)."""

import cv2
import numpy as np
import pytest
from makers.eroded import make, states
from makers.eroded.instrument import counted, electrons
from makers.eroded.lighting import YIELD_CARBON, YIELD_IRON, tilt_gain
from makers.eroded.ring import drag, riding_height, stroke_over
from makers.eroded.stones import Grit, cut, lays_deg


def test_a_sharp_groove_is_open_only_where_half_a_micrometre_deep():
    """semwear.terms: open valley is at least 0.5 µm below the plateau; so a V of width w and wall slope s is open
    over w - 2·0.5/tan(s), geometry."""
    pixel_um, width_um, slope_deg = 0.1, 12.0, 15.0
    ground = np.zeros((300, 200), np.float32)
    cut(ground, Grit(width_um=width_um, slope_deg=slope_deg), lay_deg=0, through=(150, 100), pixel_size_um=pixel_um)
    assert ground.min() == pytest.approx(-width_um / 2 * np.tan(np.radians(slope_deg)), rel=0.02)
    nothing = np.zeros(ground.shape, bool)
    codes = states(ground, np.zeros_like(ground), ground, nothing, nothing, nothing)
    assert (codes[:, 100] == 1).sum() * pixel_um == pytest.approx(
        width_um - 1 / np.tan(np.radians(slope_deg)), abs=2.1 * pixel_um
    )


@pytest.mark.parametrize("included_deg", [30.0, 60.0, 145.0])
def test_the_lays_enclose_the_hone_angle_about_the_circumference(included_deg):
    """semwear.terms: the circumference, across the stroke, bisects the hone angle; tan(angle/2) = axial speed over
    peripheral speed. The rows of the ground go down the stroke."""
    for lay, sign in zip(lays_deg(included_deg), (1, -1), strict=True):
        ground = np.zeros((301, 301), np.float32)
        cut(ground, Grit(width_um=8, slope_deg=20), lay_deg=lay, through=(150, 150), pixel_size_um=1.0)
        rows, cols = np.nonzero(ground < -0.5)
        axial, peripheral = np.linalg.svd(np.c_[rows - rows.mean(), cols - cols.mean()], full_matrices=False)[2][0]
        assert axial / peripheral == pytest.approx(sign * np.tan(np.radians(included_deg / 2)), rel=0.03)


def test_the_ring_rides_where_its_contacts_carry_the_load():
    """Real area of contact = load / hardness whatever the roughness (Bowden and Tabor 1950, from memory): at twice the
    load twice the area touches, and the same at ten times the roughness."""
    heights = np.random.default_rng(1).standard_normal((400, 400))
    for roughness in (0.1, 1.0):
        for share in (0.05, 0.1, 0.4):
            touching = roughness * heights > riding_height(roughness * heights, share)
            assert touching.mean() == pytest.approx(share, rel=0.02)


def test_a_stroke_takes_metal_from_summits_and_none_from_valley_floors():
    """Running-in takes Rpk first, Rvk last (common practice, no source)."""
    ground = np.random.default_rng(2).normal(0, 0.2, (300, 300))
    ground[:, 100:130] -= 3
    taken = stroke_over(ground, np.zeros(300), 0.3, 1.0)
    assert taken[:, 100:130].max() == 0
    assert taken[ground > 0.3].min() > 0
    assert (ground - taken).max() < ground.max()


def test_dragged_metal_is_neither_made_nor_lost():
    """Conservation of mass: what was taken off lies on tongues, was rubbed off as debris, or left the field."""
    rng = np.random.default_rng(3)
    gap = np.where(cv2.blur(rng.random((200, 150)), (9, 9)) < 0.5, 2.0, 0.0)
    supply = rng.uniform(0, 0.2, gap.shape).astype(np.float32)
    cost = rng.uniform(0.1, 0.4, gap.shape).astype(np.float32)
    bridged, debris, carried = drag(gap, supply, cost, np.full(gap.shape, 2, np.float32))
    assert 0.05 < bridged[gap > 0.5].mean() < 1
    assert (bridged * cost).sum() + debris.sum() + carried.sum() == pytest.approx(supply.sum(), rel=1e-4)


def test_metal_closes_a_groove_from_its_upstream_rim_on():
    """semwear.terms: smeared is a footprint that moved metal has closed. Metal dragged down the stroke comes over the
    upstream rim first (common practice, no source): a tongue of length supply / cost, then open ground to the far rim."""
    gap = np.zeros((60, 5), np.float32)
    gap[30:50] = 2
    supply = np.zeros_like(gap)
    supply[:30] = 0.1
    bridged, _, _ = drag(gap, supply, np.full_like(gap, 0.3), np.full_like(gap, 10))
    expected = np.zeros_like(bridged)
    expected[30:40] = True
    assert np.abs(bridged.sum(axis=0) - 10).max() <= 1
    assert not (bridged & ~cv2.dilate(expected.astype(np.uint8), np.ones((3, 3))).astype(bool)).any()


def test_a_groove_worn_shallow_is_plateau_and_only_a_covered_one_is_smeared():
    """semwear.terms: within 0.5 µm of the local plateau is plateau; smeared needs metal moved over the footprint."""
    honed = np.full((2, 4), -1.2)
    level = np.array([[0.0, -0.6, -0.8, -0.6]] * 2)
    covered = np.array([[0, 0, 1, 1], [1, 1, 1, 0]], float)
    ground = np.where(covered > 0, level - 0.2, honed)
    nothing = np.zeros(honed.shape, bool)
    codes = states(ground, level, honed, covered, nothing, ~nothing)
    assert codes.tolist() == [[1, 1, 0, 2], [2, 2, 0, 1]]


def test_tilt_dose_and_carbon_follow_the_published_values():
    """tests/SOURCES.md: walls of 6–27° change the yield by 0.5–12 % (sec θ); 100 pA for 10 µs is 6,242 electrons;
    backscatter coefficients of iron 0.28 and carbon 0.06 (Reuter). Counting noise is the root of the count (Poisson)."""
    low, high = tilt_gain(np.tan(np.radians([6.0, 27.0]))) - 1
    assert (low, high) == (pytest.approx(0.0055, abs=3e-4), pytest.approx(0.122, abs=1e-3))
    assert electrons(100, 10) == pytest.approx(6242, abs=1)
    noisy = counted(np.random.default_rng(4), np.ones((400, 400), np.float32), 400)
    assert noisy.std() == pytest.approx(1 / 20, rel=0.02)
    assert [YIELD_IRON, YIELD_CARBON] == [0.28, 0.06]


def test_fields_show_each_story_and_the_valley_share_of_honed_ground():
    """About 40 % of fields unworn; valley share of honed ground 15–30 % at the lower core limit (from memory), so that the
    middle field of an unworn surface should lie within a factor of two or so of it."""
    made = [make(np.random.default_rng(seed), pixel_size_um=0.6, shape=(200, 200)) for seed in range(40)]
    unworn = [m for m in made if not m.worn.any()]
    assert 8 <= len(unworn) <= 24
    assert 0.07 < np.median([(m.codes == 1).mean() for m in unworn]) < 0.5
    assert any((m.codes == 2).sum() > 200 for m in made) and any((m.codes == 3).sum() > 200 for m in made)
