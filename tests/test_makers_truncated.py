"""Wear as truncation: what the cut leaves of grooves, by geometry and by published figures; where metal moves and tears."""

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest
from makers import truncated
from makers.truncated.electrons import Beam, secondaries
from makers.truncated.frame import Frame
from makers.truncated.hone import SCRATCH_DEPTH_UM, Groove, cut, draw_hone
from makers.truncated.recipe import draw_recipe
from makers.truncated.scuff import draw_scuff
from makers.truncated.section import Section
from makers.truncated.smear import close_grooves, draw_smear
from makers.truncated.wear import VALLEY_DEPTH_UM, truncate, wear_down

SECTIONS = [
    Section(kind="vee", wall=np.tan(np.radians(12)), depth_um=2.0),
    Section(kind="vee", wall=np.tan(np.radians(20)), depth_um=2.0, skew=0.2),
    Section(kind="arc", wall=np.tan(np.radians(15)), depth_um=2.0),
    Section(kind="floor", wall=np.tan(np.radians(9)), depth_um=2.0, floor_um=6.0),
]


@cache
def recipes(count: int = 120) -> list:
    return [
        draw_recipe(np.random.default_rng(seed), 0.15 * 13 ** ((seed % 20) / 19), (240, 260)) for seed in range(count)
    ]


@cache
def worn_fields() -> list:
    """Recipe, its hone, its cut and its smear, for worn fields with smear."""
    fields = []
    for seed, recipe in enumerate(recipes()):
        if recipe.worn and not recipe.border and recipe.smear > 0.2 and len(fields) < 8:
            rng = np.random.default_rng(seed)
            honed = draw_hone(rng, recipe)
            worn = wear_down(rng, recipe, honed)
            fields.append((recipe, honed, worn, draw_smear(rng, recipe, honed.lays)))
    return fields


def one_groove(section: Section, pixel_size_um: float) -> np.ndarray:
    length = 40
    ground = np.zeros((600, length), np.float32)
    lies = np.full(length, 300.0, np.float32)
    cut(
        ground,
        Groove(section=section, centre=lies, depth_um=np.full(length, section.depth_um, np.float32)),
        pixel_size_um,
    )
    return ground


@pytest.mark.parametrize("section", SECTIONS, ids=lambda section: section.kind)
@pytest.mark.parametrize("taken_um", [0.0, 0.3, 1.0])
def test_width_of_a_worn_groove_at_half_a_micrometre_is_that_of_its_cross_section(section, taken_um):
    """Widths written out by hand, from the geometry of a vee, a chord and a trapezium."""
    pixel, left = 0.05, 2.0 - taken_um - 0.5
    ground = one_groove(section, pixel)
    width = (np.maximum(ground - taken_um, 0) >= VALLEY_DEPTH_UM).sum(0).mean() * pixel
    by_hand = {
        "vee": left / section.wall * (1 / (1 + section.skew) + 1 / (1 - section.skew)),
        "arc": 2 * np.sqrt(2 * (2 * 2.0 / section.wall**2) * left),
        "floor": section.floor_um + 2 * left / section.wall,
    }[section.kind]
    assert width == pytest.approx(by_hand, abs=2 * pixel)
    assert section.width_um(2.0, taken_um + 0.5) == pytest.approx(by_hand, rel=1e-6)


def test_an_arc_keeps_its_wall_slope_at_the_rim():
    section = SECTIONS[2]
    rim = float(section.half_width_um(2.0))
    assert (section.rise(np.array(rim)) - section.rise(np.array(rim - 0.01))) / 0.01 == pytest.approx(
        section.wall, rel=0.01
    )


def test_a_third_of_a_micrometre_off_the_top_narrows_a_groove_by_some_two_micrometres():
    """2·0.3/tan: 1.2–5.7 µm over wall slopes of 27–6° (the laboratory's facts of the trade, walls slope 6–27°)."""
    lost = [section.width_um(2.0) - section.width_um(2.0, 0.3) for section in SECTIONS]
    assert min(lost) > 2 * 0.3 / np.tan(np.radians(27)) and max(lost) < 2 * 0.3 / np.tan(np.radians(6))


def test_valley_area_falls_with_truncation_as_the_bearing_curve_of_the_unworn_hone_says():
    """Abbott curve: area deeper than 0.5 µm below a cut of t is the unworn hone's area deeper than t + 0.5 µm."""
    for recipe in recipes()[:6]:
        honed = draw_hone(np.random.default_rng(3), recipe)
        areas = []
        for taken in (0.0, 0.2, 0.6, 1.2):
            height, depth = truncate(honed, np.full(recipe.shape, taken, np.float32))
            areas.append((depth >= VALLEY_DEPTH_UM).mean())
            assert areas[-1] == pytest.approx((honed.groove_um >= taken + 0.5).mean(), abs=1e-3)
            assert taken == 0 or height.max() <= -taken
        assert all(before >= after for before, after in zip(areas, areas[1:], strict=False))
        assert areas[0] > areas[-1]


def test_a_groove_that_the_cut_alone_made_shallow_is_plateau():
    for recipe in recipes():
        if recipe.worn and not recipe.scuff and not recipe.border:
            recipe = replace(recipe, smear=0.0, cut_um=6.5, load_waviness=0.0, dense=False)
            codes = truncated.make_from(np.random.default_rng(1), recipe).codes
            assert set(np.unique(codes)) <= {0, 255}
            break
    else:
        pytest.fail("no such recipe")


def test_one_hone_unworn_and_worn_keeps_its_grooves():
    """Valleys of the worn field lie inside those of the unworn one, and are narrower."""
    recipe = next(
        recipe for recipe in recipes() if recipe.worn and not recipe.dense and not recipe.scuff and not recipe.border
    )
    recipe = replace(recipe, smear=0.0, cut_um=0.3 * recipe.depth_um)
    fresh, run = (
        truncated.make_from(np.random.default_rng(5), replace(recipe, worn=worn, cut_um=recipe.cut_um * worn))
        for worn in (0, 1)
    )
    before, after = fresh.codes == 1, run.codes == 1
    assert 0 < after.sum() < before.sum()
    assert not (after & ~before & (fresh.codes != 255)).any()


def test_smear_lies_only_where_a_groove_had_been_and_metal_stands_within_half_a_micrometre():
    smeared = 0
    for recipe, honed, worn, smear in worn_fields():
        _, depth, metal = close_grooves(worn, smear)
        closed = (worn.depth_um >= VALLEY_DEPTH_UM) & (depth < VALLEY_DEPTH_UM)
        assert (honed.groove_um[closed] >= VALLEY_DEPTH_UM + recipe.cut_um * (1 - recipe.load_waviness) - 1e-4).all()
        assert metal[closed].all()
        valley = (worn.depth_um >= VALLEY_DEPTH_UM).astype(np.uint8)
        reach = 2 * int(0.5 / recipe.wall / recipe.pixel_size_um + 3) + 1  # a rim's width, from geometry
        assert not (metal & (cv2.dilate(valley, np.ones((reach, reach), np.uint8)) == 0)).any()
        assert (depth[~metal] == worn.depth_um[~metal]).all()
        smeared += closed.sum()
    assert smeared > 1000


def test_closures_leave_a_trace_on_average():
    """The picture changes where metal closed a groove, against the same field without smear, by far more than elsewhere."""
    changes = []
    for recipe, *_ in worn_fields():
        recipe = replace(recipe, scuff=0.0)
        bare, closed = (
            truncated.make_from(np.random.default_rng(2), replace(recipe, smear=s)) for s in (0.0, recipe.smear)
        )
        there = (bare.codes == 1) & (closed.codes == 2)
        edges = cv2.morphologyEx(there.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
        far = cv2.dilate(there.astype(np.uint8), np.ones((9, 9), np.uint8)) == 0
        grey = cv2.GaussianBlur(closed.image.astype(np.float32), (0, 0), 1)
        if there.sum() > 200:
            plateau = far & (closed.codes == 0)
            busy = np.abs(grey - cv2.GaussianBlur(grey, (0, 0), 4))
            changes.append(busy[there | edges].mean() / busy[plateau].mean())
    assert len(changes) >= 4
    assert np.median(changes) > 1.15


def test_hone_angles_are_the_published_ones_and_lie_about_the_direction_across_the_stroke():
    """Included angle 30–60° usual, 140–150° for helical slide honing (from memory, the laboratory's facts of the trade)."""
    angles = np.array([recipe.hone_angle_deg for recipe in recipes()])
    usual, helical = (angles >= 30) & (angles <= 60), (angles >= 140) & (angles <= 150)
    assert 0.5 < usual.mean() < 0.85 and 0.05 < helical.mean() < 0.25
    for recipe in recipes():
        if recipe.lays == 2:
            first, second = recipe.lay_angles_deg
            assert first - second == pytest.approx(recipe.hone_angle_deg)
            assert (first + second) / 2 == pytest.approx(recipe.stroke_deg + 90)


def test_groove_walls_slope_as_published_and_depths_straddle_the_valley_limit():
    """Wall slopes 6–27°; groove depths up to 10 µm, 1 µm and more for the deep ones (the laboratory's facts of the trade)."""
    depths = []
    for seed, recipe in enumerate(recipes(60)):
        for lay in draw_hone(np.random.default_rng(seed), recipe).lays:
            for groove in lay.grooves:
                assert 5.9 <= np.degrees(np.arctan(groove.section.wall)) <= 27.1
                depths.append(float(groove.depth_um.max()))
    depths = np.array(depths)
    assert depths.max() <= 6
    assert 0.1 < (depths < 0.5).mean() < 0.6
    assert 0.15 < ((depths >= 0.5) & (depths < 1)).mean() < 0.7
    assert (depths > 1).mean() > 0.1


def test_dense_finishing_scratches_stay_plateau():
    """Valley is where the grooves alone are deep enough, cut again here without the scratches; none is added by scratches."""
    fields = [(seed, recipe) for seed, recipe in enumerate(recipes()) if recipe.dense]
    assert 0.2 < np.mean([recipe.dense for recipe in recipes(600)]) < 0.3
    scratched = []
    for seed, recipe in fields[:12]:
        honed = draw_hone(np.random.default_rng(seed), recipe)
        grooves = np.zeros(recipe.shape, np.float32)
        for lay in honed.lays:
            ground = np.zeros(lay.frame.size, np.float32)
            for groove in lay.grooves:
                cut(ground, groove, recipe.pixel_size_um)
            np.maximum(grooves, lay.frame.to_screen(ground), out=grooves)
        taken = wear_down(np.random.default_rng(seed), recipe, honed).plateau_um * -1
        valley, own = (depth - taken >= VALLEY_DEPTH_UM for depth in (honed.groove_um, grooves))
        rim = (
            cv2.dilate(own.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        )  # turning onto the screen mixes neighbours there
        assert not (valley & ~rim).any()
        scratched.append((honed.groove_um > grooves + 0.02).mean())
    assert np.median(scratched) > 0.1
    assert SCRATCH_DEPTH_UM < VALLEY_DEPTH_UM


def test_scuffing_runs_along_the_stroke_and_is_wider_than_stroke_marks():
    """Its outline is correlated far longer along the stroke than across it."""
    ratios = []
    for seed, recipe in enumerate(recipes()):
        if recipe.scuff and len(ratios) < 8:
            torn = draw_scuff(np.random.default_rng(seed), recipe).torn
            if not 0.02 < torn.mean() < 0.9:
                continue
            along, across = (Frame(-angle, recipe.shape) for angle in (recipe.stroke_deg, recipe.stroke_deg + 90))
            changed = []
            for frame in (along, across):
                shift = 12 * np.array([np.cos(np.radians(-frame.angle_deg)), np.sin(np.radians(-frame.angle_deg))])
                move = np.array([[1, 0, shift[0]], [0, 1, shift[1]]])
                moved = cv2.warpAffine(torn.astype(np.uint8), move, torn.shape[::-1], borderMode=cv2.BORDER_REPLICATE)
                changed.append((moved != torn).mean())
            ratios.append(changed[1] / max(changed[0], 1e-6))
            thick = cv2.distanceTransform(torn.astype(np.uint8), cv2.DIST_L2, 3).max()
            assert thick > 4
    assert len(ratios) >= 5
    assert np.median(ratios) > 2


def test_grey_follows_slope_and_depth_smoothly():
    """Small steps of wall slope change the signal of the wall by small steps, and tilt alone gives little contrast
    (0.5–12 % for walls of 6–27° by sec θ: the laboratory's facts of the trade)."""
    beam = Beam(power=1, sky=0, side=0, side_deg=0, tilt_deg=0, edge=0, range_um=0.5, floor=0)
    x = np.arange(60, dtype=np.float32)[None].repeat(40, 0) * 0.5
    slopes = np.linspace(6, 27, 22)
    signal = np.array([secondaries(np.tan(np.radians(a)) * x, x * 0, beam, 0.5)[20, 30] for a in slopes])
    assert signal - 1 == pytest.approx(1 / np.cos(np.radians(slopes)) - 1, rel=0.01)
    assert 0.005 < signal[0] - 1 < 0.007 and 0.11 < signal[-1] - 1 < 0.13
    dark = replace(beam, floor=0.5)
    depths = [secondaries(x * 0, x * 0 + d, dark, 0.5)[20, 30] for d in np.linspace(0, 3, 31)]
    assert (np.diff(depths) < 0).all() and np.abs(np.diff(depths)).max() < 0.05


def test_worn_share_and_track_borders_are_as_meant():
    worn = np.mean([recipe.worn for recipe in recipes()])
    assert 0.5 < worn < 0.75
    recipe = replace(next(recipe for recipe in recipes() if recipe.worn), border=True)
    made = truncated.make_from(np.random.default_rng(6), recipe)
    assert 0.1 < made.worn.mean() < 0.9
    assert not np.isin(made.codes[~made.worn], (2, 3)).any()
