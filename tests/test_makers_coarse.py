"""The coarse maker's geometry and physics against sources outside it, each named beside its check."""

import numpy as np
import pytest
from makers.coarse import make
from makers.coarse.buffers import LEVELS_UM, deeper, relief
from makers.coarse.grooves import DEPTH_UM, SLOPE_DEG, WIDTH_UM, Groove, two_bands
from makers.coarse.instrument import electron_range_um, topography
from makers.coarse.metal import closures, scuffed, smeared

CANVAS_UM = 0.25


def straight(*, width_um=40.0, depth_um=4.0, slope_deg=20.0, x_px=200.0) -> Groove:
    """A groove down the canvas, its first rim towards +x."""
    along = np.arange(-50.0, 460.0, 10.0)
    ones = np.ones(len(along))
    return Groove(points=np.stack([x_px * ones, along], axis=1), normal=np.array([1.0, 0.0]), rims=0.5 * width_um * np.stack([ones, ones]),
                  depth=depth_um * ones, slopes=(np.radians(slope_deg),) * 2, canvas_um=CANVAS_UM)


@pytest.mark.parametrize("slope_deg", [10.0, 18.0, 26.0])
def test_open_valley_is_narrower_than_the_rims_by_what_the_walls_need_for_half_a_micrometre(slope_deg):
    """Open valley begins 0.5 µm below the plateau (semwear.terms); a wall of slope a needs 0.5/tan(a) for that (trigonometry)."""
    open_ = deeper([straight(slope_deg=slope_deg)], (400, 400), 0.5)
    width_um = open_[200].sum() * CANVAS_UM
    assert width_um == pytest.approx(40.0 - 2 * 0.5 / np.tan(np.radians(slope_deg)), abs=2 * CANVAS_UM)


def test_a_groove_shallower_than_half_a_micrometre_is_plateau_and_so_is_one_that_wear_made_shallow():
    """Plateau lies within 0.5 µm of the local level (semwear.terms); worn ground isn't moved metal, so it isn't smeared."""
    shape = (400, 400)
    assert not deeper([straight(depth_um=0.45)], shape, 0.5).any()
    before, worn_off_um = deeper([straight(depth_um=1.0)], shape, 0.5), 0.6
    left = deeper([straight(depth_um=1.0)], shape, 0.5 + worn_off_um)
    assert before.any() and not left.any()
    covered = np.logical_or.reduce([
        closures(np.random.default_rng(seed), [straight(depth_um=1.0)], shape, share=0.9, worn_off_um=0.0)[0] for seed in range(8)
    ])
    assert smeared(before, covered).any() and not smeared(left, covered).any()


def test_closures_grow_with_the_share_asked_for_and_metal_hardly_spreads_beyond_the_rims():
    """Smeared is the footprint of a groove (semwear.terms), so moved metal is drawn there and not on the plateau around."""
    groove = straight(width_um=10.0, depth_um=1.5)
    open_ = deeper([groove], (400, 400), 0.5)
    found = {
        share: np.mean([
            smeared(open_, closures(np.random.default_rng(seed), [groove], (400, 400), share=share, worn_off_um=0.0)[0])[open_].mean()
            for seed in range(40)
        ])
        for share in (0.1, 0.9)
    }
    assert found[0.1] < 0.25 and found[0.9] > 0.45
    for seed in range(10):
        covered, _, _ = closures(np.random.default_rng(seed), [groove], (400, 400), share=0.9, worn_off_um=0.0)
        across = np.flatnonzero(covered.any(axis=0)) * CANVAS_UM - 200 * CANVAS_UM
        assert np.abs(across).max(initial=0) < 1.0 * 10.0
        assert np.median(np.abs(np.nonzero(covered)[1] * CANVAS_UM - 200 * CANVAS_UM)) < 5.0


def test_lays_are_bisected_by_the_direction_across_the_stroke_and_grooves_keep_to_published_sizes():
    """Hone angle: semwear.terms. Depth up to 10 µm, width up to some 50 µm: handbook values from memory; wall slopes of
    6 to 27 degrees: tests/SOURCES.md."""
    for seed in range(12):
        rng = np.random.default_rng(seed)
        stroke, included = rng.uniform(0, 180), rng.uniform(30, 150)
        look = ("survey", "close")[seed % 2]
        grooves = two_bands(rng, look=look, shape=(600, 600), canvas_um=CANVAS_UM, stroke_deg=stroke, included_deg=included)
        from_across = [
            (np.degrees(np.arctan2(*(groove.points[-1] - groove.points[0])[::-1])) - stroke - 90 + 90) % 180 - 90 for groove in grooves
        ]
        off = np.abs(np.abs(from_across) - included / 2)
        assert np.median(off) < 2.5
        assert np.median([np.median(groove.rims.sum(axis=0)) for groove in grooves]) >= WIDTH_UM[0]
        for groove in grooves:
            assert groove.depth.max() <= DEPTH_UM[1] and 2 * np.median(groove.rims) <= 1.2 * WIDTH_UM[1]
            assert all(SLOPE_DEG[0] - 1e-9 <= np.degrees(slope) <= SLOPE_DEG[1] + 1e-9 for slope in groove.slopes)


def test_the_deeper_groove_keeps_its_depth_at_a_crossing():
    """Ground that one tool has cut can't be filled by another cut (geometry: the union of two cuts is the deeper of the two)."""
    deep, shallow = straight(depth_um=5.0), straight(depth_um=1.2, width_um=30.0)
    turned = Groove(points=shallow.points[:, ::-1].copy(), normal=np.array([0.0, 1.0]), rims=shallow.rims, depth=shallow.depth,
                    slopes=shallow.slopes, canvas_um=CANVAS_UM)
    levels = LEVELS_UM["close"]
    for order in ([deep, turned], [turned, deep]):
        depth = relief(order, (400, 400), 0.0, levels).depth
        assert depth[200, 200] == pytest.approx(5.0, abs=0.4)
        assert depth[200, 40] == pytest.approx(1.2, abs=0.2)


def test_the_wall_that_faces_the_detector_is_bright_and_tilt_alone_stays_within_a_few_percent():
    """sec(slope) gives 0.5 to 12 % at 6 to 27 degrees (tests/SOURCES.md); the detector's side does the rest."""
    shaped = relief([straight(depth_um=5.0)], (400, 400), 0.0, LEVELS_UM["close"])
    row = dict(kilovolt=10, canvas_um=CANVAS_UM, starved=0.0, edge=0.0)
    picture = topography(shaped.depth, shaped.lean, side=0.5, **row)[200]
    left_wall, right_wall = picture[130:150].mean(), picture[250:270].mean()
    assert left_wall > 1.1 and right_wall < 0.95
    alone = topography(np.zeros((2, 2)), np.tan(np.radians([[6.0, 27.0], [0.0, 27.0]])), side=0.0, **row)
    assert alone.ravel() == pytest.approx([1.0055, 1.122, 1.0, 1.122], abs=0.002)


@pytest.mark.parametrize(("kilovolt", "range_um"), [(5, 0.16), (10, 0.50), (15, 0.99), (20, 1.60)])
def test_electrons_reach_as_far_into_iron_as_published(kilovolt, range_um):
    """Kanaya and Okayama 1972, numbers in tests/SOURCES.md."""
    assert electron_range_um(kilovolt) == pytest.approx(range_um, abs=0.012)


def test_scuffing_runs_along_the_stroke():
    """Scuffed metal lies in streaks along the stroke (semwear.terms)."""
    for seed, stroke_deg in enumerate((0.0, 35.0, 90.0, 140.0)):
        rng = np.random.default_rng(seed)
        rows, cols = np.nonzero(scuffed(rng, (600, 600), canvas_um=0.4, stroke_deg=stroke_deg, heavy=False))
        along = np.array([np.cos(np.radians(stroke_deg)), np.sin(np.radians(stroke_deg))])
        runs = np.round(-along[1] * cols + along[0] * rows).astype(int)
        lengths = np.bincount(runs - runs.min())
        at = np.round(along[0] * cols + along[1] * rows).astype(int)
        breadths = np.bincount(at - at.min())
        assert lengths.max() > 1.2 * breadths.max()


def test_about_two_fields_in_five_are_unworn_and_show_no_moved_metal():
    """Out-of-track ground was never touched (semwear.terms); the share is the maker's own aim."""
    fields = [make(np.random.default_rng(seed), pixel_size_um=0.8, shape=(200, 200)) for seed in range(60)]
    unworn = [field for field in fields if not field.worn.any()]
    assert 0.2 < len(unworn) / len(fields) < 0.6
    assert not any(np.isin(field.codes, (2, 3)).any() for field in unworn)
