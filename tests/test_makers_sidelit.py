"""The sidelit maker's geometry and physics against definitions, formulas and the facts of the trade."""

from dataclasses import replace

import numpy as np
import pytest
from makers.sidelit.beam import signal
from makers.sidelit.blemish import debris
from makers.sidelit.frame import Frame
from makers.sidelit.ground import LIMIT_UM, unrun
from makers.sidelit.hone import finish
from makers.sidelit.moved import move
from makers.sidelit.torn import streaks
from makers.sidelit.track import run

from semwear.terms import VALLEY_DEPTH_UM

SHAPE = (240, 240)


def frame(seed: int, pixel_um: float = 0.7) -> Frame:
    return Frame(np.random.default_rng(seed), pixel_um, SHAPE)


def honed(seed: int):
    field = frame(seed)
    hone = finish(field.rng)
    return field, hone, unrun(field, hone)


def test_the_lays_measured_on_the_grooves_are_bisected_by_the_circumference():
    """The hone angle is bisected by the circumference and is 30–60°, 140–150° for helical slide honing (semwear.terms;
    tests/SOURCES.md, from memory there). Single grooves err by 1.3° (the maker's own figure): three standard errors."""
    middles = []
    for seed in range(12):
        field, hone, ground = honed(seed)
        sides = {1: [], -1: []}
        for groove in ground.grooves:
            core = groove.near[np.abs(groove.rel) < 0.2]
            if np.ptp(groove.t) < 0.7 * SHAPE[0] * field.px or core.size < 50:
                continue
            # principal direction of the groove's middle, in the frame of the circumference and the stroke
            points = np.stack([field.along(0).ravel()[core], field.along(np.pi / 2).ravel()[core]])
            along = np.linalg.eigh(np.cov(points))[1][:, 1]
            lay = np.degrees(np.arctan(along[1] / along[0]))
            sides[1 if groove.angle > 0 else -1].append(lay)
        if all(sides.values()):
            one, other = np.mean(sides[1]), np.mean(sides[-1])
            middles.append((one + other) / 2)
            assert 26 < one - other < 66 if hone.name != "helical" else 128 < one - other < 154
    assert len(middles) > 8
    assert abs(np.mean(middles)) < 3 * 1.3 / np.sqrt(2 * len(middles))


def test_grooves_are_as_deep_wide_and_steep_as_the_trade_has_them():
    """1–10 µm deep, walls of 6–27°, 2·depth/width being the mean slope of two walls; width 5–50 µm for most (tests/SOURCES.md)."""
    cut = [groove for seed in range(12) for groove in honed(seed)[2].grooves]
    depth, width = (np.array([getattr(groove, name) for groove in cut]) for name in ("depth", "width"))
    assert depth.min() >= 1 and depth.max() <= 10
    assert np.mean((width >= 5) & (width <= 50)) > 0.8
    assert 6 < np.degrees(np.arctan(2 * np.median(depth / width))) < 27


def test_running_in_lowers_grooves_in_the_track_only_and_open_ground_lies_half_a_micrometre_down():
    """Code 1 from 0.5 µm below the plateau, running-in marks within it (semwear.terms)."""
    assert LIMIT_UM == VALLEY_DEPTH_UM
    for seed in range(6):
        field, _, ground = honed(seed)
        contact = np.zeros(SHAPE, np.float32)
        contact[:, 120:] = 1
        surface = run(field, ground, contact)
        assert (surface.height[surface.footprint] <= -0.5).all()
        assert (surface.height[~surface.footprint] > -0.5).all() and surface.height.max() < 0.8
        lost = ground.depth - surface.depth
        assert np.abs(lost[:, :120][surface.footprint[:, :120]]).max() == 0
        assert lost[:, 120:][surface.footprint[:, 120:]].min() >= 0.1 and lost[surface.footprint].max() <= 0.4501


def test_moved_metal_closes_to_within_the_limit_in_the_track_and_deep_grooves_lose_most():
    """Code 2 is closed to within 0.5 µm (semwear.terms); folds interrupt the deep grooves most (Dimkovski, Ohlsson, Rosén 2011,
    tests/SOURCES.md): the same grooves lose more when they count as 8 µm deep than as 1.5 µm."""
    lost = []
    for seed in range(12):
        contact = np.zeros(SHAPE, np.float32)
        contact[:, 40:] = 1
        for depth in (1.5, 8.0):
            field, _, ground = honed(seed)
            surface = run(field, ground, contact)
            moved = move(field, [replace(groove, depth=depth) for groove in ground.grooves], surface, contact, True)
            assert (moved.height[moved.codes == 2] > -0.5).all() and (moved.height[moved.codes == 1] <= -0.5).all()
            assert not (moved.codes[:, :40] == 2).any() and (surface.footprint == (moved.codes > 0)).all()
            lost.append((moved.codes == 2).sum() / (surface.footprint[:, 40:]).sum())
    assert np.mean(lost[1::2]) > 1.2 * np.mean(lost[::2]) > 0.05


def test_scuff_lies_in_streaks_along_the_stroke_in_the_track():
    """Torn or ploughed in streaks along the stroke (semwear.terms): fewer borders met along the stroke than across it."""
    for seed in range(8):
        field = frame(seed, 1.0)
        contact = np.zeros(SHAPE, np.float32)
        contact[:, 60:] = 1
        mask = streaks(field, contact, 0.3)
        assert not mask[:, :60].any()
        inner = mask[:, 60:]
        assert inner.mean() == pytest.approx(0.3, abs=0.1)
        assert (inner[1:] != inner[:-1]).sum() < 0.6 * (inner[:, 1:] != inner[:, :-1]).sum()


def test_a_slope_towards_the_detector_is_unlike_one_away_from_it_and_depth_starves_escape():
    """Contrast from the detector's side; starved escape from deep grooves (tests/SOURCES.md)."""
    plain = np.ones(SHAPE, np.float32)
    for seed in range(6):
        field = frame(seed)
        differences = []
        for turn in (0.0, np.pi / 2):  # a side that sees one pair of slopes alike tells the other pair apart
            roof = -0.3 * np.abs(field.along(turn))
            twin = Frame(np.random.default_rng(seed), field.px, SHAPE)
            level = Frame(np.random.default_rng(seed), field.px, SHAPE)
            lit = signal(twin, roof, plain) / signal(level, 0 * roof, plain)
            there = np.abs(field.along(turn)) > 8
            up = field.along(turn) > 0
            differences.append(abs(np.median(lit[there & up]) - np.median(lit[there & ~up])))
        assert max(differences) > 0.02
        pit = np.where(np.hypot(field.x, field.y) < 6, -5, 0).astype(np.float32)
        floor = np.hypot(field.x, field.y) < 3
        lit = [signal(Frame(np.random.default_rng(seed), field.px, SHAPE), ground, plain) for ground in (pit, 0 * pit)]
        assert lit[0][floor].mean() < 0.95 * lit[1][floor].mean()


def test_noise_has_the_spread_of_its_interpolation_and_fades_where_pixels_can_not_hold_it():
    """Cubic convolution w with a = -3/4 keeps a variance of ∫w² a direction: 6/7, so 1.4 · 6/7 = 1.2 for both (by integration).
    A pixel averages what is finer than itself (sampling theorem)."""
    spreads = [frame(seed).noise(14, 5).std() for seed in range(8)]
    assert np.mean(spreads) == pytest.approx(1.2, abs=0.06)
    assert frame(1, 2.0).noise(1.0, 0.3).std() < 0.2


def test_a_particle_is_as_large_whatever_the_pixel():
    """Area in µm² can't depend on the pixel that samples it: mean over seeds, particles that the field cuts included."""
    areas = []
    for pixel_um, shape in ((0.25, (800, 800)), (0.5, (400, 400))):
        hidden = []
        for seed in range(12):
            field = Frame(np.random.default_rng(seed), pixel_um, shape)
            field.rng = np.random.default_rng(seed + 100)
            field.noise = lambda *_, shape=shape, **__: np.zeros(shape, np.float32)
            codes = np.zeros(shape, np.uint8)
            debris(field, np.zeros(shape, np.float32), np.ones(shape, np.float32), codes)
            assert set(np.unique(codes)) <= {0, 255}
            hidden.append((codes == 255).sum() * pixel_um**2)
        areas.append(np.mean(hidden))
    assert areas[0] > 20 and areas[1] == pytest.approx(areas[0], rel=0.05)
