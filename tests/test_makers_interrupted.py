"""Claims of the maker whose closures only context tells, checked against the project's definitions and plain geometry."""

from dataclasses import replace

import numpy as np
import pytest
from makers.interrupted.ground import Ground, draw, honed
from makers.interrupted.lifeline import LifeLine
from makers.interrupted.picture import tone_of
from makers.interrupted.ring import Surface, run
from makers.interrupted.story import Story, tell

PIXEL_UM = 0.5
SHAPE = (240, 260)


def groove(half_px: float = 20, depth_um: float = 4, wall_deg: float = 45, left: float = 0, right: float = 0) -> LifeLine:
    count = 400
    flat = np.ones(count, np.float32)
    return LifeLine(
        centre=0 * flat, left=half_px * flat, right=half_px * flat, depth=depth_um * flat, cover_left=left * flat,
        cover_right=right * flat, ghost=0.5 * flat, wall_deg=wall_deg, skew=0.0,
        ends=0 * flat,
    )


def a_story(**changes) -> Story:
    """A field worn all over without truncation, strips or scuffing, unless told otherwise."""
    story = tell(np.random.default_rng(1), 120, PIXEL_UM, 240)
    plain = {
        "wear": "worn", "truncation_um": 0.0, "strips": 0, "scuff": 0.0, "scene": "clean", "smear": 0.8, "width_um": 8.0,
        "depth_um": 3.0, "wall_deg": 45.0, "valley_share": 0.5, "closure": "long", "weak_band": 0.9, "included_deg": 60.0,
    }
    return replace(story, **plain | changes)


def one_groove(line: LifeLine, story: Story, angle_deg: float = 30) -> Surface:
    ground = Ground.blank(SHAPE)
    draw(ground, line, np.radians(angle_deg), 0.0, PIXEL_UM)
    return run(np.random.default_rng(3), ground, PIXEL_UM, story)


@pytest.mark.parametrize("included_deg", [25, 60, 145])
def test_the_circumference_bisects_the_included_angle(included_deg):
    """semwear.terms, "hone angle": between the two lays, bisected by the direction across the stroke."""
    story = a_story(included_deg=included_deg, stroke_deg=13.0)
    first, second = story.lays_deg
    assert second - first == pytest.approx(included_deg)
    assert (first + second) / 2 == pytest.approx(story.stroke_deg + 90)


@pytest.mark.parametrize("angle_deg", [0, 35, 90, 140])
@pytest.mark.parametrize("wall_deg", [20, 45])
def test_a_groove_has_the_area_that_the_geometry_of_its_walls_gives(angle_deg, wall_deg):
    """0.5 µm below the plateau the rims have come in by 0.5 µm / tan(wall) each (plane geometry; the limit is that of
    semwear.terms); a straight band's area is its width times its length in the picture."""
    codes = one_groove(groove(wall_deg=wall_deg), a_story(), angle_deg).codes
    width_px = 2 * (20 - 0.5 / np.tan(np.radians(wall_deg)) / PIXEL_UM)
    along = {0: 260, 90: 240}.get(angle_deg)
    # Oblique bands are measured on the middle row, which they cross by width / sin(angle).
    measured = (codes == 1).sum() / along if along else (codes == 1)[120].sum() * np.sin(np.radians(angle_deg))
    assert measured == pytest.approx(width_px, abs=1.1)


def test_a_lip_over_one_side_leaves_the_rest_of_the_width_open():
    """semwear.terms: smeared is the footprint that moved metal closed, open valley what still lies between the rims."""
    codes = one_groove(groove(wall_deg=75, left=0.4), a_story(), 0).codes
    smeared, still = ((codes == code)[:, 130].sum() for code in (2, 1))
    assert smeared / (smeared + still) == pytest.approx(0.4, abs=0.06)


def test_truncation_alone_turns_a_shallow_groove_into_plateau_and_smears_nothing():
    """semwear.terms: valley from 0.5 µm below the local plateau; smeared only where moved metal closed it."""
    shallow = one_groove(groove(depth_um=0.9), a_story(truncation_um=3.0))
    untouched = one_groove(groove(depth_um=0.9), a_story())
    assert (untouched.codes == 1).sum() > 5 * (shallow.codes == 1).sum()
    assert not (shallow.codes == 2).any()
    covered = one_groove(groove(depth_um=0.45, left=1.1), a_story())
    assert not covered.codes.any()


@pytest.mark.parametrize("closure", ["short", "long", "lips", "whole", "mixed"])
def test_codes_keep_to_half_a_micrometre(closure):
    """semwear.terms, table of pixel states: the ground at least 0.5 µm down where open, within 0.5 µm elsewhere."""
    story = a_story(closure=closure, strips=2, truncation_um=0.1)
    for seed in range(4):
        rng = np.random.default_rng(seed)
        surface = run(rng, honed(rng, SHAPE, PIXEL_UM, story), PIXEL_UM, story)
        assert (surface.below[surface.codes == 1] >= 0.5).all()
        assert (surface.below[surface.codes != 1] < 0.5).all()
        assert (surface.codes == 2).any() or closure == "lips"


def test_a_later_open_groove_runs_on_through_a_closed_one():
    """The deeper of two crossing cuts sets the ground (plane geometry); an open valley is what lies 0.5 µm down
    (semwear.terms)."""
    ground = Ground.blank(SHAPE)
    draw(ground, groove(left=1.1), 0.0, 0.0, PIXEL_UM)
    draw(ground, groove(half_px=10, depth_um=2), np.pi / 2, 0.0, PIXEL_UM)
    codes = run(np.random.default_rng(0), ground, PIXEL_UM, a_story()).codes
    assert (codes[:, 130] == 1).all()
    assert codes[120, 20] == codes[120, 240] == 2


def test_torn_streaks_run_along_the_stroke():
    """semwear.terms: scuffed is torn in streaks along the stroke. The long axis is that of the structure tensor
    (Bigun and Granlund 1987, from memory)."""
    for stroke_deg in (10.0, 75.0, 120.0):
        story = a_story(scuff=0.2, stroke_deg=stroke_deg)
        tensor = np.zeros(3)
        for seed in range(3):
            torn = run(np.random.default_rng(seed), Ground.blank(SHAPE), PIXEL_UM, story).torn
            gy, gx = np.gradient(torn.astype(float))
            tensor += (gx * gx).sum(), (gy * gy).sum(), (gx * gy).sum()
        across_deg = np.degrees(0.5 * np.arctan2(2 * tensor[2], tensor[0] - tensor[1]))
        off = (across_deg - 90 - stroke_deg + 90) % 180 - 90
        assert abs(off) < 8


def test_closures_differ_less_from_plateau_than_open_valleys_do():
    """The maker's own point: context decides (common practice, no source)."""
    nearer = []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        story = a_story(depth_um=3.5)
        surface = run(rng, honed(rng, SHAPE, PIXEL_UM, story), PIXEL_UM, story)
        tone = tone_of(rng, surface, story, PIXEL_UM)
        mean = {code: np.median(tone[surface.codes == code]) for code in (0, 1, 2) if (surface.codes == code).sum() > 300}
        if len(mean) == 3:
            nearer.append(abs(mean[2] - mean[0]) < abs(mean[1] - mean[0]))
    assert len(nearer) >= 6
    assert np.mean(nearer) >= 0.75
