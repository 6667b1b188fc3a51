"""The crisp maker's geometry and physics against definitions, formulas and the facts of the trade."""

import numpy as np
import pytest
from makers.crisp import make
from makers.crisp.beam import emission
from makers.crisp.grain import cloud, frame
from makers.crisp.hone import Sheet, hone
from makers.crisp.traps import debris
from makers.crisp.wear import LIMIT_UM, marks, smear

SHAPE = (240, 240)


def trough(*, depth_um: float) -> Sheet:
    """One straight groove along the rows, 20 µm wide, at 0.5 µm a pixel."""
    along, across = frame(SHAPE, 0.5, 0.0)
    place = across / 10
    depth = np.where(np.abs(place) < 1, depth_um, 0).astype(np.float32)
    return Sheet(depth, place, along, np.zeros(SHAPE, np.int32), np.zeros(SHAPE, np.float32), 1)


def test_the_limit_of_a_valley_is_half_a_micrometre():
    """Code 1 from 0.5 µm below the local plateau (semwear.terms)."""
    assert LIMIT_UM == 0.5


def test_a_groove_is_no_deeper_than_its_wall_slope_and_the_trade_allow():
    """Depth up to 10 µm (tests/SOURCES.md, from memory there); a 60 µm width and a 27° wall give 30·tan 27°, times the lean."""
    for seed in range(12):
        for sheet in hone(np.random.default_rng(seed), SHAPE, 0.8, 90.0):
            assert sheet.depth.min() >= 0 and sheet.depth.max() <= 10
            assert sheet.rim.max() <= 0.35


def test_the_lays_lie_either_side_of_the_line_across_the_stroke():
    """The hone angle is bisected by the circumference (semwear.terms): the mean lay is across the stroke.
    Each sheet's own error is 1.2° (the maker's own figure); three standard errors of the mean are allowed."""
    leans = []
    for seed in range(60):
        by_side = {-1: [], 1: []}
        for sheet in hone(np.random.default_rng(seed), (40, 40), 1.0, 90.0):
            # stroke along the columns: a sheet's lay is the direction in which its distance along grows
            lay = np.degrees(np.arctan2(sheet.along[1, 0] - sheet.along[0, 0], sheet.along[0, 1] - sheet.along[0, 0]))
            lean = (lay + 90) % 180 - 90
            by_side[1 if lean > 0 else -1].append(lean)
        if by_side[-1] and by_side[1]:
            leans.append((np.mean(by_side[-1]) + np.mean(by_side[1])) / 2)
    assert len(leans) > 50
    assert abs(np.mean(leans)) < 3 * 1.2 / np.sqrt(2 * len(leans))


def test_moved_metal_closes_to_within_the_limit_and_only_in_the_track():
    """Code 2 is a footprint that was 0.5 µm deep and is closed to within 0.5 µm (semwear.terms)."""
    worn = np.zeros(SHAPE, bool)
    worn[:, 120:] = True
    closed = []
    for seed in range(12):
        ground = trough(depth_um=2.0)
        after = smear(np.random.default_rng(seed), ground, ground.depth, worn, 0.8, 0.5)
        assert (after.depth[after.cap] < 0.5).all()
        assert not after.cap[~worn].any()
        assert (after.depth[~after.cap] == ground.depth[~after.cap]).all()
        closed.append(after.cap.sum())
        shallow = trough(depth_um=0.45)
        assert not smear(np.random.default_rng(seed), shallow, shallow.depth, worn, 0.8, 0.5).cap.any()
    assert max(closed) > 1000


def test_running_in_marks_are_part_of_the_plateau():
    """Running-in marks included in the plateau, within 0.5 µm (semwear.terms)."""
    for seed in range(10):
        for pixel in (0.2, 2.0):
            along, across = frame(SHAPE, pixel, 90.0)
            drawn = marks(np.random.default_rng(seed), along, across, 240 * pixel, pixel)
            assert drawn.max() <= 0 and drawn.min() > -0.5


def test_a_slope_facing_the_detector_is_unlike_one_facing_away_and_depth_starves_it():
    """Contrast from the detector's side and starved escape from deep grooves (tests/SOURCES.md)."""
    along, _ = frame(SHAPE, 0.5, 30.0)
    roof = (-0.3 * np.abs(along)).astype(np.float32)
    flat = np.zeros(SHAPE, np.float32)
    for seed in range(8):
        lit = emission(np.random.default_rng(seed), roof, flat, 0.5, True)
        assert abs(lit[along > 5].mean() - lit[along < -5].mean()) > 1e-3
        deep = emission(np.random.default_rng(seed), flat, flat + 5, 0.5, False)
        assert deep.mean() < emission(np.random.default_rng(seed), flat, flat, 0.5, False).mean() == pytest.approx(1.0)


def test_a_particle_is_as_tall_whatever_the_pixel():
    """Height in µm can't depend on the pixel that samples it; no taller than its width of 34 µm (common practice, no source)."""
    tall = [np.mean([debris(np.random.default_rng(s), (600, 600), pixel)[1].max() for s in range(20)]) for pixel in (0.3, 0.6)]
    assert tall[0] == pytest.approx(tall[1], rel=0.35)
    assert max(tall) < 34


def test_noise_has_unit_spread_and_four_fields_in_ten_are_unworn():
    """Spread by definition; the project's own mix of 40 % unworn, three standard errors of a share of 60 (binomial)."""
    along, across = frame(SHAPE, 0.5, 20.0)
    spreads = [cloud(np.random.default_rng(seed), along, across, (4.0, 4.0)).std() for seed in range(6)]
    assert np.mean(spreads) == pytest.approx(1, abs=0.15)
    unworn = [not make(np.random.default_rng(seed), pixel_size_um=0.8, shape=(120, 120)).worn.any() for seed in range(60)]
    assert abs(np.mean(unworn) - 0.4) < 3 * np.sqrt(0.4 * 0.6 / 60)
