"""The maker that follows a liner through its life: geometry and wear against published or agreed figures."""

from functools import cache

import cv2
import numpy as np
import pytest
from makers import worked
from makers.worked.liner import Frame, hone
from makers.worked.stages import STAGES, VALLEY_DEPTH_UM, live

SHAPE = (240, 260)


@cache
def surface(seed: int, stage: str, pixel_size_um: float = 0.7):
    rng = np.random.default_rng(seed)
    liner = hone(rng, Frame(SHAPE, pixel_size_um, float(rng.uniform(0, np.pi))))
    return live(liner, stage, np.full(SHAPE, stage != "as honed"), rng.integers(2**63, size=len(STAGES)))


def strongest_direction(picture: np.ndarray) -> float:
    """Direction along which a picture varies least, from its structure tensor."""
    down, right = np.gradient(cv2.GaussianBlur(picture.astype(float), (0, 0), 1.0))
    return 0.5 * np.arctan2(2 * (right * down).sum(), (right**2 - down**2).sum()) + np.pi / 2


def apart(first: float, second: float) -> float:
    """Angle between two undirected lines, degrees."""
    return float(np.degrees(abs((first - second + np.pi / 2) % np.pi - np.pi / 2)))


@pytest.mark.parametrize("stage", ["as honed", "run in", "polished"])
def test_truncation_alone_smears_nothing(stage):
    """A groove that truncation made shallow is plateau: semwear.terms."""
    for seed in range(8):
        now = surface(seed, stage)
        assert set(np.unique(now.codes)) <= {0, 1}
        np.testing.assert_array_equal(now.now, now.before)


def test_polishing_loses_some_grooves_to_plateau():
    lost = [np.mean((surface(s, "as honed").codes == 1) & (surface(s, "polished").codes == 0)) for s in range(8)]
    assert min(lost) > 0.002


def test_valley_area_falls_from_stage_to_stage():
    """Valleys only lose: running-in takes peaks, then core, then valleys (common practice, no source)."""
    for seed in range(7):
        *areas, mild, scuffed = (int((surface(seed, stage).codes == 1).sum()) for stage in STAGES)
        assert areas == sorted(areas, reverse=True)
        assert areas[0] > areas[1] > areas[2] and max(mild, scuffed) <= areas[-1]


def test_smear_lies_only_where_a_groove_had_been_deep():
    """Footprint of a closed groove, 0.5 µm: semwear.terms."""
    smeared = 0
    for seed in range(7):
        honed, deformed = surface(seed, "as honed"), surface(seed, "deformed")
        where = deformed.codes == 2
        smeared += where.sum()
        assert (honed.now[where] >= VALLEY_DEPTH_UM).all() and (deformed.now[where] < VALLEY_DEPTH_UM).all()
    assert smeared > 1000


def test_specimens_range_from_hardly_any_smear_to_most_grooves_closed():
    shares = []
    for seed in range(18):
        codes = surface(seed, "deformed").codes
        shares.append((codes == 2).sum() / np.isin(codes, (1, 2)).sum())
    assert min(shares) < 0.06 and max(shares) > 0.6


def test_truncation_narrows_a_groove_by_its_wall_slope():
    """Walls of 6-27° (tests/SOURCES.md), some to 45°: a V of wall slope m loses 2·T/m of width for T of depth."""
    rng = np.random.default_rng(3)
    frame = Frame((400, 400), 0.25, 0.0)
    slopes = []
    for _ in range(12):
        for groove in (groove for band in hone(rng, frame).grooves for groove in band):
            slopes.append(np.degrees(np.arctan(groove.depth_um / (groove.width_um / 2 * (1 - groove.floor)))))
            if groove.power != 1 or groove.ragged > 0.05 or groove.width_um < 6:
                continue
            depth, _ = groove.depth(frame, np.arange(groove.place_px - 200, groove.place_px + 200))
            cut = 0.3 * groove.depth_um
            narrowed = ((depth > 0).sum(0) - (depth > cut).sum(0)).mean() * frame.pixel_size_um
            assert narrowed == pytest.approx(2 * cut / np.tan(np.radians(slopes[-1])), rel=0.15, abs=0.3)
    assert min(slopes) >= 5.99 and max(slopes) <= 45.01
    assert np.mean(np.array(slopes) <= 27) > 0.6


def test_lays_mirror_about_the_direction_across_the_stroke_at_a_usual_hone_angle():
    """Included angle 30-60°, or 140-150° for helical slide honing (from memory; tests/SOURCES.md)."""
    lays = [0, 0]
    for seed in range(40):
        liner = surface(seed, "as honed").liner
        lays[len(liner.lays) - 1] += 1
        if len(liner.lays) == 1:
            continue
        first, second = liner.lays
        assert apart((first + second) / 2, liner.frame.stroke) == pytest.approx(90)
        included = np.degrees(second - first)
        assert 30 <= included <= 60 or 140 <= included <= 150
    assert lays[1] > 4 * lays[0] > 0


def test_drawn_grooves_run_along_their_lay():
    found = 0
    for seed in range(40):
        honed = surface(seed, "as honed")
        if len(honed.liner.lays) == 1:
            assert apart(strongest_direction(honed.now), honed.liner.lays[0]) < 3
            found += 1
    assert found


def test_scuffing_runs_along_the_stroke():
    """Streaks along the stroke: semwear.terms."""
    off = [apart(strongest_direction(s.scuff), s.liner.frame.stroke) for s in (surface(i, "scuffed") for i in range(7))]
    assert np.median(off) < 8


def test_an_unworn_side_keeps_its_honed_state():
    rng = np.random.default_rng(5)
    frame = Frame(SHAPE, 0.7, float(rng.uniform(0, np.pi)))
    liner, seeds = hone(rng, frame), rng.integers(2**63, size=len(STAGES))
    worn = frame.across_um() > 0
    honed = live(liner, "as honed", np.zeros(SHAPE, bool), seeds)
    scuffed = live(liner, "scuffed", worn, seeds)
    np.testing.assert_array_equal(scuffed.codes[~worn], honed.codes[~worn])
    assert (scuffed.codes[worn] != honed.codes[worn]).any()


def test_what_is_smeared_can_be_seen_in_most_pictures():
    """Of closed grooves against plateau, by grey or by its local spread (common practice, no source)."""
    told = []
    for seed in range(12):
        made = worked.make(np.random.default_rng(seed), pixel_size_um=0.5, shape=SHAPE, stage="deformed")
        smear, plateau = made.codes == 2, made.codes == 0
        if smear.sum() < 400:
            continue
        grey = cv2.GaussianBlur(made.image.astype(np.float32), (0, 0), 1.0)
        rough = np.abs(grey - cv2.GaussianBlur(grey, (0, 0), 3.0))
        told.append(
            max(abs(map_[smear].mean() - map_[plateau].mean()) / map_[plateau].std() for map_ in (grey, rough)) > 0.25
        )
    assert len(told) > 5 and np.mean(told) >= 0.7
