"""The woven maker's geometry and physics against definitions, formulas and the facts of the trade."""

import numpy as np
import pytest
from makers.woven import LIMIT_UM, make
from makers.woven.camera import shoot
from makers.woven.dress import join
from makers.woven.ribbons import Band, Habit, cut
from makers.woven.streaks import torn
from makers.woven.weave import Frame

SHAPE = (200, 220)


def band(*, depth_um: float, shut: float = 0.0, rise_um: float = 3.0) -> Band:
    """A band of one depth everywhere."""
    whole = np.ones((4, 4), np.float32)
    return Band(rise=whole * rise_um, wall=whole * 0.2, depth=whole * depth_um, shut=whole * shut, seam=whole * 0, brush=whole * 0)


def below(one: Band, two: Band, worn_off: float):
    frames = [Frame(30.0, (4, 4)), Frame(-30.0, (4, 4))]
    return join([one, two], frames, np.array([1.0, 0.0]), np.ones((4, 4), bool), worn_off)


def test_the_limit_of_a_valley_is_half_a_micrometre():
    """Code 1 from 0.5 µm below the local plateau (semwear.terms)."""
    assert LIMIT_UM == 0.5


def test_depth_counts_from_the_plateau_of_today():
    """Local plateau (semwear.terms): a groove of 1.2 µm on ground worn by 0.9 µm is 0.3 µm deep, and plateau."""
    assert below(band(depth_um=1.2), band(depth_um=0.0), 0.9).below == pytest.approx(0.3)
    assert (below(band(depth_um=0.4), band(depth_um=0.0), 0.9).below == 0).all()


def test_the_deeper_of_two_crossing_grooves_says_how_deep_the_ground_is():
    """The ground left by two cuts is the lower of both (geometry), whichever rim is farther."""
    for one, two in ((2.0, 0.7), (0.7, 2.0)):
        crossing = below(band(depth_um=one, rise_um=3.0), band(depth_um=two, rise_um=5.0), 0.0)
        assert crossing.below == pytest.approx(2.0)


def test_groove_walls_slope_between_6_and_27_degrees_and_depths_stay_under_10_um():
    """Walls of 6 to 27°, depth up to 10 µm (tests/SOURCES.md, the depth from memory there)."""
    for seed in range(10):
        habit = Habit(width=20.0, tangent=0.1 + 0.05 * seed, share=0.4, closed=0.0, closure=10.0, wave=0.02, fade=0.3)
        drawn = cut(np.random.default_rng(seed), Frame(0.0, SHAPE), habit, 0.5)
        slopes = np.degrees(np.arctan(np.abs(drawn.wall).max()))
        assert slopes + 0.1 >= 6 and slopes <= 27.1
        assert drawn.depth.min() >= 0 and 0.5 < drawn.depth.max() <= 10


def test_a_frame_lays_its_rows_along_its_angle():
    """A line at the angle a counter-clockwise from the row has direction (cos a, -sin a) with rows downwards (trigonometry)."""
    for angle in (0.0, 35.0, 90.0, 140.0):
        laid = Frame(angle, SHAPE)
        sheet = np.zeros((laid.side, laid.side), np.float32)
        sheet[:, laid.side // 2 - 2 : laid.side // 2 + 2] = 1
        rows, cols = np.nonzero(laid.lay(sheet) > 0.5)
        values, vectors = np.linalg.eigh(np.cov(cols, rows))
        line = vectors[:, np.argmax(values)]
        assert abs(line @ [np.cos(np.radians(angle)), -np.sin(np.radians(angle))]) > 0.999


def test_scuffing_runs_along_the_stroke():
    """Torn in streaks along the stroke (semwear.terms): longer that way than across it."""
    for seed in range(8):
        where = torn(np.random.default_rng(seed), Frame(90.0, (300, 300)), False)
        down, over = (np.abs(np.diff(where.astype(int), axis=axis)).sum() for axis in (0, 1))
        assert where.any() and down < 0.6 * over


def test_metal_is_moved_only_where_grooves_were_and_the_ring_ran():
    """Code 2 is the footprint of a groove, in the track (semwear.terms); shares of 60 within three standard errors of 40 %
    unworn (the project's own mix, binomial)."""
    unworn = []
    for seed in range(60):
        made = make(np.random.default_rng(seed), pixel_size_um=0.8, shape=(120, 120))
        assert not np.isin(made.codes[~made.worn], (2, 3)).any()
        unworn.append(not made.worn.any())
    assert abs(np.mean(unworn) - 0.4) < 3 * np.sqrt(0.4 * 0.6 / 60)


def test_a_brighter_scene_stays_brighter_in_the_picture():
    """More electrons, more signal: the knobs keep the order of grey levels (common practice, no source)."""
    step = np.full(SHAPE, 90, np.float32)
    step[:, 110:] = 190
    for seed in range(8):
        shot = shoot(np.random.default_rng(seed), step)
        assert shot[:, 125:].mean() > shot[:, :95].mean() + 10
