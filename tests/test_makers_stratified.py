"""The stratified maker's geometry and physics against definitions, formulas and published values."""

import math

import numpy as np
import pytest
from makers.stratified import make, process, tone, wear
from makers.stratified.cuts import cuts, places, profile
from makers.stratified.instrument import relative_noise
from scipy.special import ndtri


def test_hone_angle_is_included_between_the_lays_and_bisected_by_the_circumference():
    """semwear.terms: tan(angle / 2) = axial speed / peripheral speed; the stroke is the bore's axis."""
    axial, peripheral, stroke = 18.0, 31.0, math.radians(83)
    for lay, way in zip(process.lays(stroke, 2 * math.atan2(axial, peripheral)), (-1, 1), strict=True):
        along, about = math.cos(lay - stroke), math.sin(lay - stroke)
        assert -way * along / about == pytest.approx(axial / peripheral)


def test_drawn_fields_stay_in_the_trades_ranges():
    """tests/SOURCES.md [M, values from memory]: 30-60 degrees usual, 140-150 helical slide; depth to 10 um, width 5-50 um.
    The spread drawn here is wider, so both ranges must be reached and the depth never passed."""
    rng = np.random.default_rng(3)
    drawn = [process.draw(rng, 0.8, (300, 300)) for _ in range(400)]
    degrees = np.degrees([one.included_rad for one in drawn])
    assert degrees.min() >= 20 and degrees.max() <= 150
    assert ((degrees > 30) & (degrees < 60)).mean() > 0.2 and (degrees > 140).any()
    made = cuts(rng, drawn[0], 0.8, (300, 300)) + cuts(rng, drawn[1], 0.8, (300, 300))
    assert all(0.2 <= one.deepest_um <= 10 and 1.5 <= one.width_um <= 60 for one in made)
    assert all(one.depth_um.max() <= 1.7 * one.deepest_um for one in made)


@pytest.mark.parametrize("degrees", [6, 27, 60])
def test_walls_start_at_their_angle_and_reach_no_deeper_than_the_floor(degrees):
    """Geometry: slope at the rim is tan(wall), steepest there; a V of width w is w/2 tan(wall) deep."""
    half, inside = 10.0, np.linspace(0, 1, 20001)
    depth = profile(inside, half, math.radians(degrees), 3.0, 3.0)
    slope = np.diff(depth) / np.diff(inside * half)
    assert slope[0] == pytest.approx(math.tan(math.radians(degrees)), rel=1e-3)
    assert slope.max() <= slope[0] * (1 + 1e-6)
    assert depth.max() <= min(3.0, half * math.tan(math.radians(degrees)))


def test_grooves_fall_at_random_places():
    """CIRP Annals 51 (2002) 503, in tests/SOURCES.md: grooves placed at random. For a Poisson process gaps are
    exponential: their spread equals their mean; grouped ones spread more."""
    rng = np.random.default_rng(5)
    ratio = {}
    for grouped in (False, True):
        gaps = np.diff(np.sort(places(rng, 4000, 1e5, grouped)))
        ratio[grouped] = gaps.std() / gaps.mean()
    assert ratio[False] == pytest.approx(1, abs=0.06)
    assert ratio[True] > 1.1 * ratio[False]


def test_material_ratio_curve_of_a_two_process_surface_keeps_both_spreads():
    """ISO 13565-3 (from memory): on normal probability axes the material ratio curve of a stratified surface has
    two straight parts, of slope Rpq on the plateau side and Rvq on the valley side."""
    rng = np.random.default_rng(11)
    surface = np.minimum(rng.normal(0, 0.1, 400_000), rng.normal(1.5, 1.5, 400_000))

    def slope(ratios):
        return (wear.level_at(surface, ratios[0]) - wear.level_at(surface, ratios[1])) / (
            ndtri(ratios[1]) - ndtri(ratios[0])
        )

    assert slope((0.05, 0.3)) == pytest.approx(0.1, rel=0.25)
    assert slope((0.97, 0.995)) == pytest.approx(1.5, rel=0.25)


def closed_field(lost_um: float, share: float):
    rng = np.random.default_rng(21)
    drawn = process.draw(rng, 0.6, (300, 300))
    made = cuts(rng, drawn, 0.6, (300, 300))
    worn = np.ones((300, 300), bool)
    lost = np.full((300, 300), lost_um, np.float32)
    return wear.close(rng, made, lost_um=lost, worn=worn, stroke_rad=drawn.stroke_rad, share=share, pixel_size_um=0.6)


def test_truncation_is_no_smear_and_moved_metal_is():
    """semwear.terms: open valley at least 0.5 um below the plateau; smeared only where moved metal closed a groove."""
    new, cut_down, smeared = closed_field(0, 0), closed_field(0.6, 0), closed_field(0, 0.9)
    codes = wear.states(new)
    assert (codes == 1).sum() > 500
    np.testing.assert_array_equal(codes == 1, new.before_um >= 0.5)
    np.testing.assert_array_equal(wear.states(cut_down) == 1, new.before_um - np.float32(0.6) >= 0.5)
    assert not (wear.states(cut_down) == 2).any()
    moved = wear.states(smeared) == 2
    assert moved.sum() > 200
    assert (
        (smeared.after_um[moved] < 0.5).all()
        and (smeared.before_um[moved] >= 0.5).all()
        and (smeared.burnish[moved] > 0).all()
    )


def test_deep_grooves_across_the_stroke_close_first():
    """Wear 271 (2011) 548, in tests/SOURCES.md: folds interrupt the deep grooves most. Across the stroke: common practice,
    no source."""
    rng = np.random.default_rng(2)
    one = next(
        one
        for seed in range(20)
        for one in cuts(rng, process.draw(np.random.default_rng(seed), 0.6, (300, 300)), 0.6, (300, 300))
    )
    deeper = type(one)(**{**one.__dict__, "deepest_um": 2 * one.deepest_um})
    assert wear.energy(deeper, 0.3) > wear.energy(one, 0.3)
    assert wear.energy(one, one.lay_rad + math.pi / 2) > 2 * wear.energy(one, one.lay_rad)


def test_tilt_and_shot_noise_give_the_published_contrast():
    """tests/SOURCES.md [D]: walls of 6-27 degrees give 0.5-12 % by sec(theta); 100 pA for 10 us is 6,242 electrons."""
    low, high = (float(tone.yield_of(np.array(math.tan(math.radians(angle))))) - 1 for angle in (6, 27))
    assert low == pytest.approx(0.0055, abs=0.0002) and high == pytest.approx(0.122, abs=0.002)
    assert relative_noise(100, 10) == pytest.approx(1 / math.sqrt(6242), rel=1e-3)
    assert float(tone.escape(np.array(5.0), 10.0)) == pytest.approx(math.cos(math.pi / 4))


def test_scuffing_runs_along_the_stroke():
    """semwear.terms: scuffed in streaks along the stroke; so code 3 stays alike farther along it than across."""
    ahead, beside = [], []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        stroke = process.draw(rng, 0.7, (240, 240)).stroke_rad
        torn = make(np.random.default_rng(seed), pixel_size_um=0.7, shape=(240, 240)).codes == 3
        if torn.mean() < 0.02:
            continue
        for kept, angle in ((ahead, stroke), (beside, stroke + math.pi / 2)):
            x, y = (int(round(12 * f(angle))) for f in (math.cos, math.sin))
            inner = torn[20:-20, 20:-20]
            kept.append((inner & np.roll(torn, (-y, -x), (0, 1))[20:-20, 20:-20]).sum() / max(inner.sum(), 1))
    assert len(ahead) >= 5
    assert np.mean(ahead) > np.mean(beside) + 0.15
