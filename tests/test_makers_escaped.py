"""The escaped maker's geometry and physics against definitions, formulas and the facts of the trade."""

import numpy as np
import pytest
from makers.escaped import make
from makers.escaped.closing import SHARES, close
from makers.escaped.electrons import edge_excess, range_um, signal, sky
from makers.escaped.frame import Frame, axes
from makers.escaped.hone import LIMIT_UM, Groove, hone, lays_of
from makers.escaped.picture import shot
from makers.escaped.running import run_in
from makers.escaped.scuffing import scuff

SHAPE = (240, 240)
FRAME = Frame.of(SHAPE, 0.5, 90.0)


def trough(depth_um: float, *, half_um: float = 8.0, lay_deg: float = 20.0) -> tuple[Groove, np.ndarray]:
    """A straight groove with upright walls and its depth map, µm."""
    along, across = axes(SHAPE, 0.5, lay_deg)
    inside = np.flatnonzero(np.abs(across) < half_um)
    depth = np.zeros(SHAPE, np.float32)
    depth.flat[inside] = depth_um
    return Groove(inside, across.flat[inside] / half_um, along.flat[inside], half_um, depth_um, lay_deg), depth


def test_the_range_of_electrons_in_iron():
    """0.16, 0.50, 0.99, 1.60 µm at 5, 10, 15, 20 kV (Kanaya and Okayama 1972; tests/SOURCES.md)."""
    assert [round(range_um(voltage), 2) for voltage in (5, 10, 15, 20)] == [0.16, 0.5, 0.99, 1.6]


def test_the_sky_over_the_floor_of_a_trench_and_over_a_plain():
    """Horizon of slope t leaves 1/(1 + t²) = cos² of it: two directions of eight along the trench, two across, four at 45°.
    The steepest ray meets the edge of the plateau 4 px away."""
    height = np.zeros((101, 101), np.float32)
    assert sky(height, 1.0) == pytest.approx(1.0)
    height[:, 47:54] = -6.0
    across, diagonal = (1 / (1 + (6 / (4 * stretch)) ** 2) for stretch in (1, np.sqrt(2)))
    assert sky(height, 1.0)[50, 50] == pytest.approx((2 + 2 * across + 4 * diagonal) / 8, rel=1e-3)
    assert sky(height, 1.0)[50, 50] < sky(height / 3, 1.0)[50, 50] < 1


def test_no_slope_is_shaded_but_rims_are_bright_and_feet_of_walls_dark():
    """A plane misses no metal however steep; near a step of two half planes the blur of the height is its middle (definition).
    Turning the surface round turns the picture round: no side is lit."""
    _, across = axes((81, 81), 0.3, 0.0)
    assert np.abs(edge_excess(0.4 * across, 1.0, 0.3)[20:-20]).max() < 1e-4
    step = np.where(across > 0, 0.0, -2.0).astype(np.float32)
    excess = edge_excess(step, 1.0, 0.3)
    assert excess[42, 40] > 0.5 and excess[39, 40] < -0.5
    ramp = np.clip(0.5 * across, -2, 2)
    plain = np.ones_like(ramp)
    seen, turned = (signal(np.random.default_rng(3), one, plain, 0.3) for one in (ramp, ramp[::-1].copy()))
    assert turned[::-1] == pytest.approx(seen, abs=1e-5)


def test_grooves_lie_on_two_lays_and_walls_are_no_steeper_than_the_trade_allows():
    """The stroke's crosswise line bisects the hone angle (semwear.terms); depth 1–10 µm, width 5–50 µm from memory there, walls
    to 27° (tests/SOURCES.md). From the rim to the ground a wall's mean slope is depth over half width."""
    assert np.mean(lays_of(83.0, 140.0)) - 90 == pytest.approx(83.0)
    for seed in range(12):
        finish, grooves, relief = hone(np.random.default_rng(seed), FRAME)
        apart = relief.lays_deg[1] - relief.lays_deg[0]
        assert 120 < apart < 152 if finish == "helical-slide" else 20 < apart < 65
        assert {groove.lay_deg for groove in grooves} == set(relief.lays_deg)
        assert relief.depth.min() >= 0 and relief.depth.max() <= 10
        for groove in grooves:
            assert 1.25 <= groove.half_um <= 30
            assert np.degrees(np.arctan2(groove.depth_um, groove.half_um)) <= 27 + 1e-6


def test_moved_metal_closes_deep_ground_only_in_the_track_and_leaves_the_rest_as_it_was():
    """Code 2: the footprint of a groove closed to within 0.5 µm of the plateau (semwear.terms). 5 to 70 % of the length is the
    maker's own figure: the mean share of 40 grooves stays inside, no single one has to."""
    assert LIMIT_UM == 0.5
    worn = FRAME.across > -20
    closed_shares = []
    for seed in range(40):
        groove, depth = trough(2.5)
        closed = close(np.random.default_rng(seed), [groove], depth, worn, FRAME, True)
        assert (closed.depth[closed.moved] < LIMIT_UM).all() and (depth[closed.moved] >= LIMIT_UM).all()
        assert (closed.depth[~closed.moved] == depth[~closed.moved]).all()
        assert not closed.moved[~worn].any()
        closed_shares.append(closed.moved.sum() / ((depth > 0) & worn).sum())
    assert SHARES[0] < np.mean(closed_shares) < SHARES[1]
    groove, shallow = trough(0.49)
    assert not close(np.random.default_rng(1), [groove], shallow, worn, FRAME, True).moved.any()


def test_running_in_only_lowers_the_plateau_and_spares_what_lies_outside_the_track():
    """Peaks go first, valleys last (tests/SOURCES.md): no ground gets deeper but a speck that just missed
    the limit."""
    track = np.clip(FRAME.across / 10 + 0.5, 0, 1).astype(np.float32)
    for seed in range(8):
        _, _, relief = hone(np.random.default_rng(seed), FRAME)
        after = run_in(np.random.default_rng(seed + 100), relief, track)
        lost = relief.depth - after.depth
        assert lost.max() < 0.7
        assert (after.depth[lost < 0] == np.float32(1.05 * LIMIT_UM)).all() and (lost < 0).mean() < 0.01
        assert (after.rim <= relief.rim).all()
        assert (lost[track == 0] != 0).mean() < 0.02


def test_scuffing_runs_along_the_stroke_inside_the_track():
    """Torn or ploughed metal lies in streaks along the stroke (semwear.terms): the extent along exceeds that across."""
    longer = []
    worn = FRAME.across > -30
    for seed in range(30):
        mask = scuff(np.random.default_rng(seed), worn, FRAME, True).mask
        assert not mask[~worn].any()
        if mask.any():
            # shared borders counted: a streak along the columns has few neighbours above and below that differ
            longer.append((mask[:, 1:] != mask[:, :-1]).sum() / max((mask[1:] != mask[:-1]).sum(), 1))
    assert len(longer) > 20
    assert np.mean(np.array(longer) > 1.5) > 0.9
    assert not scuff(np.random.default_rng(0), worn, FRAME, False).mask.any()


def test_noise_is_that_of_counting_and_four_fields_in_ten_are_unworn():
    """Counting N electrons spreads by sqrt(N) (Poisson); the project's own mix of 40 %, three standard errors of a share of 80."""
    for level in (0.5, 2.0):
        seen = shot(np.random.default_rng(0), np.full((300, 300), level, np.float32), 400.0)
        assert seen.std() * 400 == pytest.approx(np.sqrt(level * 400), rel=0.02)
    unworn = [not make(np.random.default_rng(seed), pixel_size_um=0.8, shape=(120, 120)).worn.any() for seed in range(80)]
    assert abs(np.mean(unworn) - 0.4) < 3 * np.sqrt(0.4 * 0.6 / 80)
