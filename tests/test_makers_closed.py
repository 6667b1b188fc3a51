"""The maker about closed grooves against definitions, formulas and published values, each named beside its check."""

import numpy as np
import pytest
from makers.closed import make
from makers.closed.grooves import draw_depth_and_wall, draw_groove
from makers.closed.lids import LIDS
from makers.closed.microscope import electrons, range_um, tilt_gain
from makers.closed.plan import draw_plan
from makers.closed.relief import close, closing_chance, codes_of, cut, empty

SHAPE = (240, 260)
EVERYWHERE = np.ones(SHAPE, bool)


def one_groove(seed: int, *, depth_above_um: float = 0.0):
    """A groove of 12 to 40 µm, square to the stroke, in pixels of 0.5 µm."""
    rng = np.random.default_rng(seed)
    while True:
        groove = draw_groove(rng, 0.0, (130.0, 120.0), pixel_size_um=0.5, shape=SHAPE, ending=0.0, wavy=0.02, largest_um=40.0)
        if groove.width_um > 12 and groove.depth_um > depth_above_um:
            return rng, groove


def closed(name: str, seed: int, share: float = 1.0, truncation_um: float = 0.0):
    rng, groove = one_groove(seed, depth_above_um=1.5)
    relief = empty(SHAPE)
    cut(relief, groove, np.full(SHAPE, truncation_um, np.float32), 0.2, 1.0)
    relief.depth_um[:] = relief.open_um
    before = codes_of(relief)
    close(relief, groove, LIDS[name](rng, groove, 90.0, 0.5, share), EVERYWHERE)
    return before, codes_of(relief)


def test_walls_slope_by_6_to_27_degrees_mostly_within_the_stated_depth_and_width():
    """Slopes: 0.5–12 % tilt contrast of groove walls, tests/SOURCES.md; depth and width from memory there."""
    drawn = np.array([draw_depth_and_wall(np.random.default_rng(seed), 0.5) for seed in range(400)])
    depth, flat, width = drawn[:, 0], drawn[:, 2], drawn[:, 3]
    slope = np.degrees(np.arctan(2 * depth / (width * (1 - flat))))
    assert np.mean((slope >= 6) & (slope <= 27)) > 0.85
    assert depth.max() <= 10 and width.max() <= 60.001


@pytest.mark.parametrize("name", sorted(LIDS))
def test_moved_metal_turns_valley_into_smear_and_nothing_else(name):
    """Codes 1 and 2 as in semwear.terms: smear is the footprint of a groove that was at least 0.5 µm deep."""
    shares = []
    for seed in range(6):
        before, after = closed(name, seed)
        assert set(np.unique(after[before == 0])) <= {0}
        assert set(np.unique(after[before == 1])) <= {1, 2}
        shares.append(np.mean(after[before == 1] == 2))
    assert np.mean(shares) > 0.1


def test_a_groove_that_wear_alone_made_shallow_is_plateau():
    """semwear.terms: smear needs moved metal; ground within 0.5 µm of the plateau is plateau."""
    _, groove = one_groove(3)
    relief = empty(SHAPE)
    cut(relief, groove, np.full(SHAPE, float(groove.cell_depth_um.max()) - 0.4, np.float32), 0.2, 1.0)
    relief.depth_um[:] = relief.open_um
    relief.lid[:] = True
    assert not codes_of(relief).any()


def test_a_lip_hides_about_half_the_width_on_the_side_that_the_metal_came_from():
    """semwear.terms: the covered part is 2, the open remainder 1; one side only: common practice, no source."""
    for seed in range(5):
        rng, groove = one_groove(seed, depth_above_um=1.5)
        for flow, side in ((90.0, -1), (270.0, 1)):
            lid = LIDS["lip"](rng, groove, flow, 0.5, 1.0)
            inside = lid.cover & (groove.cell_depth_um >= 0.5)
            from_middle = groove.u_um - (groove.right_um - groove.left_um) / 2
            assert np.mean(side * from_middle[inside] > 0) > 0.65


def test_closing_grows_rarer_with_width_and_depth():
    """Common practice, no source."""
    narrow, wide = closing_chance(0.5, 5, 1), closing_chance(0.5, 50, 1)
    shallow, deep = closing_chance(0.5, 10, 1), closing_chance(0.5, 10, 9)
    assert wide < narrow / 2 and deep < shallow / 2
    assert closing_chance(0.0, 5, 1) == 0


def test_the_circumference_bisects_the_hone_angle():
    """semwear.terms, hone angle."""
    for seed in range(50):
        plan = draw_plan(np.random.default_rng(seed))
        first, second = plan.lays_deg
        assert second - first == pytest.approx(plan.hone_angle_deg)
        assert np.cos(np.radians((first + second) / 2 - plan.stroke_deg)) == pytest.approx(0, abs=1e-9)
        assert 20 <= plan.hone_angle_deg <= 150


def test_electrons_follow_the_formulas():
    """Kanaya and Okayama 1972 in iron; 100 pA for 10 µs; sec θ of walls: all in tests/SOURCES.md."""
    assert [round(range_um(energy), 2) for energy in (5, 10, 15, 20)] == [0.16, 0.50, 0.99, 1.60]
    assert electrons(100, 10) == pytest.approx(6242, abs=1)
    contrast = tilt_gain(np.tan(np.radians([6, 27]))) - 1
    assert contrast == pytest.approx([0.0055, 0.122], rel=0.02)


def test_smear_is_drawn_in_most_worn_fields_and_never_in_unworn_ones():
    """Unworn: semwear.terms, out-of-track; the shares are this maker's own."""
    plans = [draw_plan(np.random.default_rng(seed)) for seed in range(600)]
    worn = [plan for plan in plans if plan.worn]
    assert 0.5 < len(worn) / len(plans) < 0.7
    assert 0.68 < np.mean([bool(plan.closures) for plan in worn]) < 0.82
    assert not any(plan.closures or plan.scuff or plan.truncation_um for plan in plans if not plan.worn)
    for seed in range(8):
        made = make(np.random.default_rng(seed), pixel_size_um=0.6, shape=(200, 210))
        assert not np.isin(made.codes[~made.worn], (2, 3)).any()
