"""The backscattered maker's own geometry and physics against definitions, formulas and the facts of the trade."""

import numpy as np
import pytest
from makers.backscattered import make
from makers.backscattered.beam import CARBON, IRON, escape_blur, halves, range_um, through_film, yield_of
from makers.backscattered.closure import LIMIT_UM, close, covered
from makers.backscattered.hone import Finish, ground, hone, lays
from makers.backscattered.scuff import torn_streaks
from makers.backscattered.texture import Grid
from makers.backscattered.traps import fine_marks, scratches

GRID = Grid((240, 240), 0.5)
PLATEAU = Finish(45.0, 16.0, 3.0, 0.25)


def test_ranges_and_yields_are_the_published_ones():
    """Kanaya and Okayama in iron at 5, 10, 15, 20 kV; Reuter for iron and carbon (tests/SOURCES.md)."""
    assert [range_um(kilovolt) for kilovolt in (5, 10, 15, 20)] == pytest.approx([0.16, 0.50, 0.99, 1.60], abs=0.006)
    assert yield_of(26) == pytest.approx(0.28, abs=0.005)
    assert yield_of(6) == pytest.approx(0.06, abs=0.005)


def test_a_film_shows_its_own_yield_when_thick_and_is_seen_through_at_a_high_voltage():
    """Definition of a yield relative to bare iron; the range grows with the voltage (Kanaya and Okayama, tests/SOURCES.md)."""
    assert through_film(0.0, 10, CARBON) == pytest.approx(1)
    assert through_film(50.0, 10, CARBON) == pytest.approx(yield_of(6) / yield_of(26))
    seen = [through_film(0.3, kilovolt, CARBON) for kilovolt in (5, 10, 15, 20)]
    assert seen == sorted(seen) and seen[-1] - seen[0] > 0.3


def test_two_half_detectors_share_a_level_and_their_difference_turns_with_the_slope():
    """Sum for composition and difference for relief: swapping the halves leaves the one and turns the
    sign of the other (by symmetry); matter scales both (yield is a share of the beam)."""
    level, iron = np.zeros(GRID.shape, np.float32), np.ones(GRID.shape, np.float32)
    assert np.allclose(halves(level, iron, GRID, 30), 0.5)
    slope = (0.2 * GRID.axes(30)[0]).astype(np.float32)
    left, right = (half[20:-20, 20:-20] for half in halves(slope, iron, GRID, 30))
    swapped = [half[20:-20, 20:-20] for half in halves(slope, iron, GRID, 210)]
    assert np.allclose(left + right, sum(swapped), atol=1e-4) and np.allclose(left, swapped[1], atol=1e-3)
    assert right.mean() - left.mean() > 0.1  # rising towards the left half's side, it faces the right one
    assert (left + right).mean() > 1  # a tilt yields more (Arnal and others 1969, from memory)
    assert np.allclose(halves(slope, 0.5 * iron, GRID, 30)[0], 0.5 * halves(slope, iron, GRID, 30)[0])


def test_a_higher_voltage_blurs_an_edge_more():
    """The range of electrons grows as E^1.67 (tests/SOURCES.md), and with it the region that they come from."""
    edge = np.zeros(GRID.shape, np.float32)
    edge[:, 120:] = 1
    steepest = [np.diff(escape_blur(edge, kilovolt, 0.1, Grid(GRID.shape, 0.1)), axis=1).max() for kilovolt in (5, 10, 15, 20)]
    assert steepest == sorted(steepest, reverse=True) and steepest[-1] < 0.6 * steepest[0]
    assert escape_blur(edge, 10, 0.1, GRID).mean() == pytest.approx(edge.mean(), abs=1e-3)
    assert range_um(10, CARBON) > range_um(10, IRON)


def test_grooves_lie_at_half_the_hone_angle_about_the_circumference_and_keep_to_the_trade():
    """Hone angle bisected by the circumference (semwear/terms.py); depth to 10 µm and width to 60 µm (tests/SOURCES.md, from memory
    there, with the finest of 5 to 60 µm). A groove's direction scatters by less than 3° here."""
    for seed in range(10):
        found = hone(np.random.default_rng(seed), GRID, PLATEAU, 80.0)
        assert found
        for each in found:
            lean = (each.lay_deg - 170.0 + 90) % 180 - 90
            assert abs(abs(lean) - PLATEAU.hone_angle_deg / 2) < 3
            assert 2 <= 2 * each.half_um <= 60
        assert 1 < ground(GRID, found).max() <= 10
    one, other = lays(PLATEAU, 80.0)
    assert (one + other) / 2 == 170 and other - one == PLATEAU.hone_angle_deg


def test_moved_metal_closes_to_within_the_limit_in_the_track_and_over_the_share_asked_for():
    """Code 2 is ground once 0.5 µm deep that moved metal closed to within 0.5 µm (semwear/terms.py)."""
    worn = GRID.axes(0.0)[0] + np.zeros(GRID.shape) > 0
    closed_shares = {0.15: [], 0.6: []}
    for seed in range(14):
        for asked, got in closed_shares.items():
            grooves = hone(np.random.default_rng(seed), GRID, PLATEAU, 90.0)
            depth = ground(GRID, grooves)
            after, cap, _ = close(np.random.default_rng(seed), GRID, grooves, worn, 90.0, asked)
            assert (after[cap] < LIMIT_UM).all() and (depth[cap] >= LIMIT_UM).all()
            assert not cap[~worn].any()
            assert (after[~cap] == depth[~cap]).all()
            got.append(cap.sum() / max((depth[worn] >= LIMIT_UM).sum(), 1))
    low, high = (np.mean(got) for got in closed_shares.values())
    assert 0.03 < low < 0.3 and 0.3 < high < 0.75 and LIMIT_UM == 0.5


def test_closures_differ_in_kind_as_their_names_say():
    """A bridge joins both rims and a lip leaves one open; a tongue narrows on its way over (definitions)."""
    t, place = np.meshgrid(np.linspace(-1.3, 1.3, 261), np.linspace(-0.98, 0.98, 99))
    left_open = narrower = 0
    for seed in range(12):
        drawn = {
            kind: covered(np.random.default_rng(seed), kind, t, place, 1) for kind in ("bridge", "lip", "tongue", "flush", "cap")
        }
        for kind in ("bridge", "flush", "cap"):
            assert drawn[kind].any(axis=1).all()
        left_open += not drawn["lip"][:3].any()
        narrower += drawn["tongue"][20:40].sum() < drawn["tongue"][-20:].sum()
        assert drawn["lip"][-5:].any()
    assert left_open >= 10 and narrower == 12


def test_scuffing_and_scratches_run_along_the_stroke_and_marks_stay_within_the_plateau():
    """Scuffing in streaks along the stroke, marks within 0.5 µm of the plateau (semwear/terms.py); scratches told from
    grooves by their direction (Dimkovski and others 2011, tests/SOURCES.md)."""
    along, across = (axis + np.zeros(GRID.shape) for axis in GRID.axes(70.0))
    worn = across > 5
    longer = []
    for seed in range(16):
        torn = torn_streaks(np.random.default_rng(seed), GRID, 70.0, worn)
        assert not torn[~worn].any()
        if torn.sum() > 500:
            # both axes of the square field spread alike, so that a patch without direction gives 1
            longer.append(along[torn].std() / across[torn].std())
        marks = fine_marks(np.random.default_rng(seed), GRID, [10.0, 70.0], 0.09)
        assert np.abs(marks).max() < 0.5
        cut = scratches(np.random.default_rng(seed), GRID, 70.0)
        assert cut.max() <= 0
        down, right = np.gradient(cut)
        angle = np.radians(70.0)
        assert (
            np.abs(right * np.cos(angle) + down * np.sin(angle)).sum()
            <= np.abs(down * np.cos(angle) - right * np.sin(angle)).sum() / 2
        )
    assert len(longer) > 8 and np.median(longer) > 1.3


def test_four_fields_in_ten_are_unworn_and_nothing_is_moved_in_them():
    """The project's own mix of 40 %, three standard errors of a share of 80 (binomial); metal moves in the track only."""
    made = [make(np.random.default_rng(seed), pixel_size_um=0.8, shape=(200, 200)) for seed in range(80)]
    unworn = [each for each in made if not each.worn.any()]
    assert abs(len(unworn) / 80 - 0.4) < 3 * np.sqrt(0.4 * 0.6 / 80)
    assert all(each.kind == "unworn" and not np.isin(each.codes, (2, 3)).any() for each in unworn)
