"""Claims of the maker whose surface is replayed stroke by stroke and event by event."""

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest
from makers import replayed
from makers.replayed.detectors import draw_setting, signal
from makers.replayed.grits import Grit, cut, draw_path
from makers.replayed.honing import draw_finish, hone
from makers.replayed.kinematics import Head, draw_head, hone_angle
from makers.replayed.picture import look
from makers.replayed.smears import chords, flake, fold, lip, rub, tear_open
from makers.replayed.surface import COVERED, SCUFFED, SMEARED, VALLEY, Surface, codes, height, plane, tear
from makers.replayed.wear import Run, draw_grains, draw_run, replay, scuff_field

SIZE = 240
RUN = Run(planed=0.1, smeared=0.5, scuffed=0.1, strength=0.9, kinds=(0.25, 0.25, 0.25, 0.25), marks_um=0.05)


def generator(seed: int = 0) -> np.random.Generator:
    return np.random.default_rng(seed)


def one_groove(depth_um: float = 2.0) -> Surface:
    """A groove of 40 px straight across the stroke."""
    groove = np.zeros((SIZE, SIZE), np.float32)
    groove[:, 100:140] = depth_um
    return Surface.honed(groove, np.zeros_like(groove), np.ones(groove.shape, bool))


def honed(seed: int, pixel_size_um: float = 0.5) -> Surface:
    rng = generator(seed)
    finish = draw_finish(rng, pixel_size_um, (SIZE, SIZE))
    groove, land = hone(rng, SIZE, pixel_size_um, draw_head(rng), finish)
    return Surface.honed(groove, land, np.ones(groove.shape, bool))


@cache
def fields() -> list:
    return [
        replayed.make(generator(seed), pixel_size_um=float(np.geomspace(0.15, 2, 44)[seed]), shape=(190, 200))
        for seed in range(44)
    ]


@pytest.mark.parametrize(("axial", "peripheral"), [(15.0, 50.0), (25.0, 50.0), (60.0, 20.0)])
def test_grooves_lie_at_the_angle_of_the_heads_speeds(axial, peripheral):
    """tan(angle/2) = axial speed / peripheral speed [semwear.terms], half of it on either side of across."""
    head = Head(axial_speed=axial, peripheral_speed=peripheral)
    rng = generator(3)
    finish = replace(draw_finish(rng, 0.6, (600, 600)), width_um=4.0, share=0.3, chatter=0.0)
    groove, _ = hone(rng, 600, 0.6, head, finish)
    smooth = cv2.GaussianBlur(groove, (0, 0), 1.5)[30:-30, 30:-30]
    gx, gy = np.gradient(smooth, axis=1), np.gradient(smooth, axis=0)
    lay = np.degrees(np.arctan2(gy, gx)) % 180 - 90
    weight = gx**2 + gy**2
    from_across = np.where(lay < 0, lay + 90, lay - 90)
    half = np.degrees(np.arctan(axial / peripheral))
    for side in (-1, 1):
        near = np.abs(from_across - side * half) < 12
        assert np.average(from_across[near], weights=weight[near]) == pytest.approx(side * half, abs=2)
    assert weight[np.abs(np.abs(from_across) - half) < 12].sum() > 0.8 * weight.sum()


def test_hone_angles_are_the_usual_ones_and_some_helical():
    """30–60° usual, 140–150° helical [trade facts, from memory]."""
    angles = np.degrees([hone_angle(draw_head(generator(seed))) for seed in range(300)])
    assert np.mean((angles >= 30) & (angles <= 60)) > 0.55
    assert np.any((angles >= 140) & (angles <= 150))
    assert angles.min() > 20 and angles.max() < 150.1


def test_grooves_are_of_the_published_depth():
    """1–10 µm [trade facts, from memory]; median of each field's deepest ground along its grooves."""
    deepest = [honed(seed, 1.0).groove.max() for seed in range(12)]
    assert 1 < np.median(deepest) < 10 and max(deepest) < 16


def test_a_grit_of_three_points_leaves_three_parallel_grooves():
    groove = np.zeros((60, 100), np.float32)
    grit = Grit(knots=np.array([-1, -0.6, -0.3, 0, 0.3, 0.6, 1]), depths=np.array([0, 1, 0.4, 0.9, 0.4, 1, 0]))
    path = draw_path(generator(), 100, 30.0, 30.0, 2.0, chatter=0.0, ends=0.0)
    cut(groove, np.zeros_like(groove), grit, path, 0.0)
    section = groove[:, 5]
    minima = (section[1:-1] > section[:-2]) & (section[1:-1] >= section[2:]) & (section[1:-1] > 0.8)
    assert minima.sum() == 3


def test_a_burr_stands_beside_its_groove_and_a_later_groove_cuts_it():
    groove, burr = np.zeros((60, 100), np.float32), np.zeros((60, 100), np.float32)
    grit = Grit(knots=np.array([-1.0, 0, 1]), depths=np.array([0.0, 1, 0]))
    for row in (25.0, 36.0):
        cut(groove, burr, grit, draw_path(generator(1), 100, row, 18.0, 3.0, chatter=0.0, ends=0.0), 0.5)
        assert burr.max() > 0.3
    assert not burr[groove > 0.9].any()


def test_a_groove_planed_shallow_is_plateau_not_smeared():
    surface = one_groove(0.9)
    assert (codes(surface) == VALLEY).any()
    plane(surface, 0.5)
    assert not codes(surface).any()


def test_planing_spares_the_groove_under_a_cover():
    surface, grains = one_groove(0.9), draw_grains(generator(5), SIZE, 1.0)
    fold(surface, grains, chords(surface.groove), (120, 120), (60, 40), 0.5, 1.0, 0.1, 1.0)
    before = codes(surface) == SMEARED
    plane(surface, 0.5)
    assert before.any() and np.array_equal(codes(surface) == SMEARED, before)


def test_a_lip_starts_at_the_grooves_edge_and_ends_within_the_groove():
    surface, grains = one_groove(), draw_grains(generator(), SIZE, 1.0)
    lip(surface, grains, chords(surface.groove), (120, 110), (60, 30), 0.4, True, 1.0, 0.1)
    found = codes(surface)
    rows = np.flatnonzero((found == SMEARED).any(axis=1))
    assert len(rows) > 20
    assert np.all(found[rows, 138] == VALLEY)
    assert np.mean(found[rows, 100] == SMEARED) > 0.9
    assert not (found[:, :100] == SMEARED).any()


def test_later_events_win():
    surface, grains = one_groove(), draw_grains(generator(1), SIZE, 1.0)
    fold(surface, grains, chords(surface.groove), (120, 120), (60, 40), 0.5, 1.0, 0.1, 1.0)
    folded = codes(surface)
    assert folded[120, 120] == SMEARED
    tear_open(surface, grains, (120, 120), (8, 8))
    assert codes(surface)[120, 120] == VALLEY
    assert height(surface)[120, 120] == pytest.approx(-2)
    flake(generator(2), surface, grains, (120, 120), (20, 14), 1.0, 1.0, 0.1)
    assert codes(surface)[120, 120] == SMEARED
    assert height(surface)[120, 120] > -0.5
    window = (slice(115, 126), slice(0, SIZE))
    tear(surface, window, np.ones((11, SIZE), bool), np.zeros((11, SIZE), np.float32), fill_um=99)
    assert (codes(surface)[window] == SCUFFED).all()
    flake(generator(3), surface, grains, (120, 120), (20, 14), 1.0, 1.0, 0.1)
    assert (codes(surface)[window] == SCUFFED).all()


def test_rubbing_makes_covers_flush_and_moves_no_border():
    surface, grains = one_groove(), draw_grains(generator(4), SIZE, 1.0)
    fold(surface, grains, chords(surface.groove), (120, 120), (60, 40), 0.5, 1.0, 0.2, 1.0)
    before, rough = codes(surface), surface.top[surface.state == COVERED].std()
    rub(surface, grains, (120, 120), (200, 200))
    assert np.array_equal(codes(surface), before)
    assert surface.top[surface.state == COVERED].std() < 0.6 * rough


def test_shallow_scuffing_leaves_deep_grooves_open():
    surface = one_groove(4.0)
    whole = (slice(0, SIZE), slice(0, SIZE))
    tear(surface, whole, np.ones((SIZE, SIZE), bool), np.zeros((SIZE, SIZE), np.float32), fill_um=1)
    found = codes(surface)
    assert (found[:, 100:140] == VALLEY).all() and (found[:, :100] == SCUFFED).all()


@pytest.mark.parametrize("seed", range(4))
def test_smear_lies_only_where_an_open_groove_had_been_and_is_closed_to_half_a_micrometre(seed):
    """0.5 µm [semwear.terms]."""
    surface = honed(seed)
    before = codes(surface)
    replay(generator(seed), surface, draw_grains(generator(seed), SIZE, 0.5), replace(RUN, scuffed=0.0))
    after = codes(surface)
    assert (after == SMEARED).sum() > 100
    assert (before[after == SMEARED] == VALLEY).all()
    assert (before[after == VALLEY] == VALLEY).all()
    assert np.abs(height(surface)[after == SMEARED]).max() < 0.5


def test_marks_of_the_stroke_on_ungrooved_metal_are_plateau():
    surface = one_groove(0.0)
    replay(generator(), surface, draw_grains(generator(), SIZE, 0.5), replace(RUN, scuffed=0.0, marks_um=0.22))
    assert surface.land.std() > 0.05
    assert not codes(surface).any()


def test_nothing_happens_outside_the_track():
    surface = honed(8)
    surface.worn[: SIZE // 2] = False
    before = codes(surface), height(surface)
    replay(generator(8), surface, draw_grains(generator(8), SIZE, 0.5), RUN)
    outside = ~surface.worn
    assert np.array_equal(codes(surface)[outside], before[0][outside])
    assert np.array_equal(height(surface)[outside], before[1][outside])
    assert not surface.crack[outside].any() and not surface.glow[outside].any()
    assert np.isin(codes(surface)[surface.worn], (SMEARED, SCUFFED)).any()


def test_scuffing_runs_along_the_stroke():
    surface = honed(5)
    scuff_field(generator(5), surface, draw_grains(generator(5), SIZE, 0.5), replace(RUN, scuffed=0.15))
    torn = (codes(surface) == SCUFFED).astype(np.float32)
    assert torn.mean() > 0.03
    along, across = (np.abs(np.diff(torn, axis=axis)).mean() for axis in (1, 0))
    assert across > 3 * along


def test_films_change_the_picture_and_no_truth():
    surface = honed(6)
    replay(generator(6), surface, draw_grains(generator(6), SIZE, 0.5), RUN)
    before = codes(surface), height(surface)
    none = np.zeros((SIZE, SIZE), np.float32)
    changed = 0
    for seed in range(4):
        bare, filmed = (
            look(generator(seed), surface, none, none, 0.3, 0.5, (160, 160), films=films)[0] for films in (0.0, 4.0)
        )
        changed += np.abs(bare.astype(int) - filmed).mean() > 2
    assert changed >= 1
    assert np.array_equal(codes(surface), before[0]) and np.array_equal(height(surface), before[1])


def test_opposite_detectors_differ_by_the_sign_of_the_slope_only():
    hill = 3 * cv2.GaussianBlur(generator().standard_normal((80, 80)).astype(np.float32), (0, 0), 4)
    setting = replace(draw_setting(generator(), 0.5), tilt=0.0, azimuth=0.4, difference=1.0)
    one, other = (signal(hill, 0.5, replace(setting, azimuth=azimuth)) for azimuth in (0.4, 0.4 + np.pi))
    none = signal(hill, 0.5, replace(setting, difference=0.0))
    assert np.allclose((one + other) / 2, none, atol=1e-3)
    assert np.abs(one - other).max() > 0.1


def test_flat_ground_gives_no_signal_at_any_tilt():
    for seed in range(5):
        assert np.abs(signal(np.zeros((40, 40), np.float32), 0.3, draw_setting(generator(seed), 0.3))).max() < 1e-5


def test_specimens_range_from_hardly_to_much_smeared_and_some_scuff():
    runs = [draw_run(generator(seed)) for seed in range(300)]
    smeared = np.array([run.smeared for run in runs])
    assert np.mean(smeared < 0.03) > 0.1 and np.mean(smeared > 0.4) > 0.2
    assert 0.2 < np.mean([run.scuffed > 0 for run in runs]) < 0.45


def test_most_closures_leave_a_trace_in_the_picture():
    """By mean grey, roughness or edges against the plateau beside (common practice, no source)."""
    told = []
    for made in fields():
        smeared = made.codes == 2
        beside = (made.codes == 0) & (cv2.dilate(smeared.astype(np.uint8), np.ones((25, 25), np.uint8)) > 0)
        if min(smeared.sum(), beside.sum()) < 250:
            continue
        grey = cv2.GaussianBlur(made.image.astype(np.float32), (0, 0), 1)
        rough = np.abs(grey - cv2.GaussianBlur(grey, (0, 0), 4))
        told.append(
            max(abs(map_[smeared].mean() - map_[beside].mean()) / map_[beside].std() for map_ in (grey, rough)) > 0.25
        )
    assert len(told) >= 10
    assert np.mean(told) >= 0.75


def test_some_six_of_ten_fields_are_worn():
    worn = np.mean([made.worn.any() for made in fields()])
    assert 0.4 < worn < 0.8
