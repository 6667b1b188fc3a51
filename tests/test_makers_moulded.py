"""What the maker `moulded` claims of its own: metal keeps its volume, flows along the stroke and closes only grooves."""

from functools import cache

import cv2
import numpy as np
import pytest
from makers import moulded
from makers.moulded.flow import flow
from makers.moulded.hone import hone
from makers.moulded.noise import grain
from makers.moulded.transfer import scuff

PIXEL_SIZE_UM = 0.5
SHAPE = (240, 320)


@cache
def runs() -> list:
    """Flows over straight grooves across the stroke, 20 px wide and 2 µm deep, that the ring cuts by 0.4 µm."""
    cols = np.arange(SHAPE[1]) % 80
    groove_um = np.broadcast_to(np.where((cols >= 40) & (cols < 60), 2.0, 0.0), SHAPE).astype(np.float32)
    wear_um = np.full((SHAPE[0], 1), 0.4, np.float32)
    return [flow(np.random.default_rng(seed), groove_um, wear_um, PIXEL_SIZE_UM) for seed in range(18)]


@cache
def fields() -> list:
    return [
        moulded.make(np.random.default_rng(seed), pixel_size_um=size_um, shape=(210, 250))
        for seed, size_um in enumerate(np.geomspace(0.15, 2.0, 40))
    ]


def test_what_lies_in_the_grooves_came_off_the_land():
    """Conservation of volume: laid = removed · (1 − lost), less the crumbs and torn skins that are carried off."""
    shares = []
    for run in runs():
        kept_um3 = run.removed_um.sum() * (1 - run.lost_share)
        assert run.laid_um.sum() <= 1.1 * kept_um3 + 0.01 * run.removed_um.sum()
        if run.lost_share < 0.95:
            shares.append(run.laid_um.sum() / kept_um3)
    assert len(shares) >= 8
    assert np.median(shares) == pytest.approx(0.95, abs=0.15)


def test_each_stroke_line_has_its_own_account():
    """Lines whose land wears three times as deep get more metal; lines that don't wear get none."""
    cols = np.arange(SHAPE[1]) % 80
    groove_um = np.broadcast_to(np.where((cols >= 40) & (cols < 60), 3.0, 0.0), SHAPE).astype(np.float32)
    wear_um = np.repeat(np.array([0.0, 0.2, 0.6], np.float32), SHAPE[0] // 3)[:, None]
    laid = sum(flow(np.random.default_rng(seed), groove_um, wear_um, PIXEL_SIZE_UM).laid_um for seed in range(12))
    none, little, much = (part.sum() for part in np.split(laid, 3))
    assert none == 0
    assert much > 1.5 * little > 0


def test_only_grooves_deeper_than_the_limit_after_truncation_close():
    """Half a micrometre is the limit of semwear.terms; a groove that truncation made shallower is plateau."""
    rows = np.broadcast_to(np.linspace(0, 2, SHAPE[0], dtype=np.float32)[:, None], SHAPE)
    groove_um = np.where(np.arange(SHAPE[1]) % 60 < 20, rows, 0).astype(np.float32)
    closed = 0
    for seed in range(12):
        run = flow(np.random.default_rng(seed), groove_um, np.full((SHAPE[0], 1), 0.5, np.float32), PIXEL_SIZE_UM)
        assert (groove_um[run.closed] - 0.5).min(initial=9) >= 0.5
        assert run.depth_um[run.closed].max(initial=0) <= 0.45001
        closed += run.closed.sum()
    assert closed > 1000


def test_closures_grow_from_the_upstream_wall():
    """Metal rolls over the edge that it leaves (exit burr: Gillespie, Blotter 1976, from memory)."""
    upstream = sum(run.closed[:, 40:45].sum() for run in runs())
    downstream = sum(run.closed[:, 55:60].sum() for run in runs())
    assert upstream > 1.15 * downstream > 0


def test_burrs_stand_on_the_downstream_edge_of_each_land():
    for run in runs():
        assert run.burr_um[:, 36:40].sum() > 0
        assert run.burr_um[:, 40:70].sum() == 0


def test_specimens_range_from_clean_grooves_to_mostly_closed_ones():
    shares = [run.closed.mean() / (20 / 80) for run in runs()]
    assert min(shares) < 0.03
    assert max(shares) > 0.5


def test_scuffing_lies_along_the_stroke():
    """ASTM G40, from memory: scuffing runs in the direction of sliding."""
    for seed in range(10):
        ground, relief_um, _ = scuff(np.random.default_rng(seed), SHAPE, PIXEL_SIZE_UM)
        assert 0 < ground.mean() < 0.6
        along, across = (np.abs(np.diff(relief_um, axis=axis))[1:, 1:].mean() for axis in (1, 0))
        assert across > 1.5 * along
        assert (ground[1:] != ground[:-1]).sum() > 3 * (ground[:, 1:] != ground[:, :-1]).sum()


def test_grooves_lie_at_the_hone_angle_about_the_direction_across_the_stroke():
    """Included angles of 30–60° or 140–150° and depths of at most 10 µm (tests/SOURCES.md, from memory)."""
    for seed in range(12):
        honed = hone(np.random.default_rng(seed), SHAPE, PIXEL_SIZE_UM)
        included_deg = 2 * honed.lays_deg[0]
        assert 30 <= included_deg <= 60 or 140 <= included_deg <= 150
        assert 1 <= len(honed.lays_deg) <= 2 and sum(honed.lays_deg) in (0, honed.lays_deg[0])
        assert honed.groove_um.max() <= 10 and honed.marks_um.max() <= 0.45
        smooth = cv2.GaussianBlur(honed.groove_um, (0, 0), 1.5)
        slope_row, slope_col = np.gradient(smooth)
        steep = np.hypot(slope_row, slope_col)
        lay_deg = (np.degrees(np.arctan2(-slope_row, slope_col)) + 90) % 180 - 90
        away = np.min([np.abs((lay_deg - angle + 90) % 180 - 90) for angle in honed.lays_deg], axis=0)
        assert np.average(away < 10, weights=steep) > 0.6


def test_turning_sends_the_stroke_to_the_angle_on_the_screen():
    """At 90° the stroke runs down the screen and what lay on its right (the lower rows) comes to the left."""
    ramp = np.add.outer(100 * np.arange(64), np.arange(64)).astype(np.float32)
    turned = moulded._turned(ramp, (40, 40), 90.0, cv2.INTER_LINEAR)
    assert np.allclose(np.diff(turned, axis=0), 1, atol=0.05)
    assert np.allclose(np.diff(turned, axis=1), -100, atol=0.05)


def test_most_closures_leave_a_trace_in_the_picture():
    """By grey or by roughness against the land beside them; a share may be almost invisible (common practice)."""
    told = []
    for made in fields():
        closed = made.codes == 2
        beside = (made.codes == 0) & (cv2.dilate(closed.astype(np.uint8), np.ones((21, 21), np.uint8)) > 0)
        if min(closed.sum(), beside.sum()) < 400:
            continue
        grey = cv2.GaussianBlur(made.image.astype(np.float32), (0, 0), 1.0)
        contrast = abs(grey[closed].mean() - grey[beside].mean()) / np.hypot(grey[closed].std(), grey[beside].std())
        told.append(contrast > 0.2 or not 0.8 < grey[closed].std() / grey[beside].std() < 1.25)
    assert len(told) >= 8
    assert np.mean(told) >= 0.75


def test_grains_have_the_size_asked_for():
    """Neighbours within a grain agree, those several grains apart don't."""
    field = grain(np.random.default_rng(0), (300, 300), 4, 30)
    near, far = (np.corrcoef(field[:, :-step].ravel(), field[:, step:].ravel())[0, 1] for step in (5, 90))
    assert near > 0.8 and abs(far) < 0.3
    assert np.corrcoef(field[:-20].ravel(), field[20:].ravel())[0, 1] < 0.3
