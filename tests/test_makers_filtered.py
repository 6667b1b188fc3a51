"""The filtered maker's geometry and physics against definitions, formulas and facts of the trade."""

import numpy as np
import pytest
from makers.filtered import make
from makers.filtered.camera import shots
from makers.filtered.closing import KINDS, LIMIT_UM, close
from makers.filtered.detector import RANGE_UM, escape, tilt_yield, tones
from makers.filtered.grain import cloud, frame
from makers.filtered.ground import truth
from makers.filtered.hone import Sheet, finish, hone
from makers.filtered.lookalikes import scratches
from makers.filtered.scuff import scuff

SHAPE = (240, 260)


def trough(*, depth_um: float, width_um: float = 20.0, pixel_um: float = 0.5) -> Sheet:
    """One straight flat-floored groove along the rows."""
    along, across = frame(SHAPE, pixel_um, 0.0)
    place = across / (width_um / 2)
    depth = np.where(np.abs(place) < 1, depth_um, 0).astype(np.float32)
    return Sheet(depth, np.zeros(SHAPE, np.int64), place, along, width_um, 0.0, 1)


def closed(seed: int, sheet: Sheet, *, kind: str, share: float = 0.5, worn=None):
    mix = np.array([kind == name for name in KINDS], float)
    worn = np.ones(SHAPE, bool) if worn is None else worn
    return close(np.random.default_rng(seed), sheet, worn, frame(SHAPE, 0.5, 90.0), 90.0, 0.5, share, mix)


def test_truth_is_by_the_half_micrometre_limit():
    """Code 1 from 0.5 µm below the plateau; 2 what moved metal closed to within that; 3 torn; 255 debris (semwear.terms)."""
    before = np.array([[0.0, 0.49, 0.5, 3.0, 3.0, 3.0, 0.3, 3.0, 3.0]])
    after = np.array([[0.0, 0.49, 0.5, 0.3, 0.6, 3.0, 0.1, 0.3, 3.0]])
    cover = np.array([[0, 0, 0, 1, 1, 0, 1, 0, 1]], bool)
    torn, dirt = np.zeros((2, 1, 9), bool)
    torn[0, 5], dirt[0, 8] = True, True
    assert LIMIT_UM == 0.5
    assert truth(before, after, cover, torn, dirt).tolist() == [[0, 0, 1, 2, 1, 3, 0, 0, 255]]


@pytest.mark.parametrize("kind", KINDS)
def test_moved_metal_closes_to_within_the_limit_in_the_track_only(kind):
    """Code 2 is a groove's footprint closed to within 0.5 µm (semwear.terms); a mark shallower than that can't be closed."""
    worn = np.zeros(SHAPE, bool)
    worn[:, 130:] = True
    areas = []
    for seed in range(6):
        groove = trough(depth_um=2.0)
        after = closed(seed, groove, kind=kind, worn=worn)
        assert (after.depth[after.cover] < 0.5).all()
        assert (after.depth[~after.cover] == groove.depth[~after.cover]).all()
        assert not after.cover[~worn].any() and not after.cover[groove.depth == 0].any()
        assert not closed(seed, trough(depth_um=0.45), kind=kind, worn=worn).cover.any()
        areas.append(after.cover.sum())
    assert max(areas) > 200


def test_closures_differ_in_kind_as_their_names_say():
    """A bridge is shorter than a cap; a lip leaves one side open; a flush strip lies flatter, its edges fainter, than a cap.
    Folds interrupt grooves (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548); sizes are common practice, no source."""
    groove, many = trough(depth_um=2.0), range(8)
    runs = {}
    for kind in ("cap", "bridge"):
        lines = [np.r_[0, closed(seed, groove, kind=kind, share=0.3).cover[120].astype(int), 0] for seed in many]
        runs[kind] = sum(line.sum() for line in lines) / sum((np.diff(line) == 1).sum() for line in lines)
    assert runs["bridge"] < 0.75 * runs["cap"]
    for seed in many:
        lip = closed(seed, groove, kind="lip", share=0.6).cover
        floor = np.abs(groove.place[:, 0]) < 0.9
        whole = lip[floor].all(axis=0)
        assert whole.mean() < 0.1
        flush, cap = closed(seed, groove, kind="flush"), closed(seed, groove, kind="cap")
        assert flush.depth[flush.cover].mean() < cap.depth[cap.cover].mean()
        assert flush.edge[flush.edge > 0].mean() < 0.6 * cap.edge[cap.edge > 0].mean()


def test_grooves_are_as_deep_wide_and_steep_as_the_trade_says():
    """Depth up to 10 µm, width up to 60 µm here; walls slope by at most 27° (tests/SOURCES.md, from memory there): mean slope from
    rim to floor, with the maker's own ripple of up to 40 % in depth and a wander across of 10 % of the width allowed."""
    for seed in range(14):
        rng = np.random.default_rng(seed)
        for sheet in hone(rng, finish(rng), SHAPE, 0.6, 90.0):
            assert sheet.depth.min() >= 0 and sheet.depth.max() <= 1.4 * 10
            for groove in np.unique(sheet.index):
                inside = sheet.index == groove
                half = np.ptp(frame(SHAPE, 0.6, sheet.lay_deg)[1][inside]) / max(np.ptp(sheet.place[inside]), 1e-6)
                assert sheet.depth[inside].max() <= 1.4 * np.tan(np.radians(27)) * min(half * 1.35, 30) + 0.05


def test_the_two_lays_enclose_the_hone_angle_about_the_line_across_the_stroke():
    """The hone angle is bisected by the circumference (semwear.terms); 30–60° usual, 140–150° helical (tests/SOURCES.md).
    Each lay's own error is 1.0° (the maker's figure): √2 of it for the angle; four standard deviations are allowed."""
    angles = []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        plan = finish(rng)
        angles.append((plan["name"], plan["angle"]))
        lean = [(sheet.lay_deg - 180 + 90) % 180 - 90 for sheet in hone(rng, plan, (30, 30), 1.0, 90.0)]
        assert max(lean) - min(lean) == pytest.approx(plan["angle"], abs=4 * 1.5)
        assert max(lean) + min(lean) == pytest.approx(0, abs=4 * 1.5)
    assert all(140 <= angle <= 150 for name, angle in angles if name == "helical")
    assert np.mean([30 <= angle <= 60 for name, angle in angles if name != "helical"]) > 0.5


def test_scuffs_and_scratches_run_along_the_stroke():
    """Scuffing in streaks along the stroke; scratches along it are another family than grooves (semwear.terms)."""
    stroke, worn = frame(SHAPE, 0.5, 90.0), np.zeros(SHAPE, bool)
    worn[:, :200] = True
    down, over = [], []
    for seed in range(10):
        torn = scuff(np.random.default_rng(seed), worn, stroke, 0.5, 0.25)
        assert not torn.where[~worn].any() and (torn.relief[~torn.where] == 0).all()
        assert torn.where.sum() == pytest.approx(0.25 * worn.sum(), rel=0.3)
        marks = scratches(np.random.default_rng(seed), stroke, 0.5, 4)
        for map_ in (torn.where.astype(np.float32), marks):
            down.append(np.abs(np.diff(map_[:, :200], axis=0)).sum())
            over.append(np.abs(np.diff(map_[:, :200], axis=1)).sum())
    assert sum(over) > 2 * sum(down)


def test_the_lens_detector_has_no_side_and_follows_the_formulas():
    """Yield sec θ (from memory in tests/SOURCES.md): 1/cos 27° on a 27° wall whichever way it faces; edges bright, hollows starved;
    Kanaya and Okayama's range for iron (Z 26, A 55.85, ρ 7.87)."""
    along, _ = frame(SHAPE, 0.5, 35.0)
    roof = (-np.tan(np.radians(27)) * np.abs(along)).astype(np.float32)
    bright = tilt_yield(roof, 0.5)[2:-2, 2:-2]
    inner = along[2:-2, 2:-2]
    assert bright[inner > 5].mean() == pytest.approx(1 / np.cos(np.radians(27)), rel=1e-3)
    assert bright[inner < -5].mean() == pytest.approx(bright[inner > 5].mean(), rel=1e-3)
    step = np.where(along > 0, 1.0, 0.0).astype(np.float32)
    seen = escape(step, 0.5, 1.0)
    assert seen[(along > 0) & (along < 1)].mean() > 0.1 and seen[(along < 0) & (along > -1)].mean() < -0.1
    for kilovolts, reach in RANGE_UM.items():
        assert reach == pytest.approx(0.0276 * 55.85 * kilovolts**1.67 / (26**0.89 * 7.87), rel=0.02)


def test_noise_is_of_shots_and_closed_metal_lies_nearer_to_plateau_than_a_valley_of_its_sign():
    """Spread √(signal / electrons) of counted electrons (Poisson); unit spread of the clouds by definition."""
    flat = np.full((400, 400), 0.64, np.float32)
    assert shots(np.random.default_rng(1), flat, 400).std() == pytest.approx(np.sqrt(0.64 / 400), rel=0.02)
    spreads = [cloud(np.random.default_rng(seed), *frame(SHAPE, 0.5, 20.0), (3.0, 3.0)).std() for seed in range(8)]
    assert np.mean(spreads) == pytest.approx(1, abs=0.12)
    drawn = [tones(np.random.default_rng(seed)) for seed in range(60)]
    for tone in drawn:
        for name in ("skin", "flush"):
            assert tone[name] * tone["valley"] < 0 or abs(tone[name]) <= 0.6 * abs(tone["valley"])
    assert len({np.sign(tone["valley"]) for tone in drawn}) == 2


def test_four_fields_in_ten_are_unworn_and_kinds_say_what_the_truth_shows():
    """The project's own mix of 40 %, three standard errors of a share of 80 (binomial)."""
    made = [make(np.random.default_rng(seed), pixel_size_um=0.8, shape=(200, 200)) for seed in range(80)]
    assert abs(np.mean([not field.worn.any() for field in made]) - 0.4) < 3 * np.sqrt(0.4 * 0.6 / 80)
    for field in made:
        assert ("unworn" in field.kind) == (not field.worn.any())
        assert ("scuffed" in field.kind) == (field.codes == 3).any()
        assert ("smeared" in field.kind) >= (field.codes == 2).any()
