"""Claims of the maker whose grooves lie in bundles: depths, widths, ridges, shallow look-alikes, moved metal."""

import time
from dataclasses import replace

import cv2
import numpy as np
import pytest
from makers import bundled
from makers.bundled import finish, picture, scuff, strands, wear
from makers.bundled.frame import turned

SHAPE = (240, 260)


def rng(seed: int = 0) -> np.random.Generator:
    return np.random.default_rng(seed)


def direction_deg(values: np.ndarray) -> float:
    """The direction that lines run along, by the structure tensor of the middle."""
    dy, dx = np.gradient(cv2.GaussianBlur(values.astype(np.float32), (0, 0), 1.5)[10:-10, 10:-10])
    return (np.rad2deg(0.5 * np.arctan2(2 * (dx * dy).mean(), (dx**2 - dy**2).mean())) + 90) % 180


def apart_deg(one: float, other: float) -> float:
    return abs((one - other + 90) % 180 - 90)


@pytest.mark.parametrize("form", ["vee", "bowl", "trough"])
@pytest.mark.parametrize("angle_deg", [0.0, 37.0])
def test_open_area_is_the_strands_widths_at_the_limit(form, angle_deg):
    """Width at 0.5 µm from the cross-section's formula; the run wavers by some 6 % of the half width and 12 % of depth."""
    frame = turned(SHAPE, angle_deg)
    cuts = [strands.Strand(centre=c, half_width=9.0, depth=2.0, form=form) for c in (-60.0, 0.0, 60.0)]
    depth = strands.drawn(rng(), cuts, frame).depth
    for cut in cuts:
        beside = np.abs(frame.across - cut.centre) < 20
        width = 40 * (depth[beside] >= wear.LIMIT_UM).mean()
        assert width == pytest.approx(cut.width_at(0.5), rel=0.08)


def test_strands_narrower_than_four_pixels_keep_their_area():
    frame = turned(SHAPE, 23.0)
    cut = strands.Strand(centre=0.0, half_width=2.5, depth=2.5, form="bowl")
    depth = strands.drawn(rng(), [cut], frame).depth
    assert 20 * (depth[np.abs(frame.across) < 10] >= 0.5).mean() == pytest.approx(cut.width_at(0.5), rel=0.12)


def test_ridges_stand_where_neighbours_meet_and_count_only_below_the_limit():
    """Two walls of the same slope meet at depth · (1 − half pitch / half width)."""
    frame = turned(SHAPE, 0.0)
    for pitch, counts in ((12.0, True), (18.0, False)):
        cuts = [strands.Strand(centre=c, half_width=10.0, depth=2.4, form="vee") for c in (-pitch / 2, pitch / 2)]
        depth = strands.drawn(rng(1), cuts, frame).depth
        ridge = depth[np.abs(frame.across) < 0.6]
        assert ridge.mean() == pytest.approx(2.4 * (1 - pitch / 20), abs=0.25)
        assert depth.max() < 2.41
        assert (ridge.mean() >= wear.LIMIT_UM) == counts


@pytest.mark.parametrize("pixel_size_um", [0.12, 0.7, 2.2])
def test_shallow_bundles_never_count(pixel_size_um):
    for seed in range(3):
        chosen = replace(finish.chosen(rng(seed)), shallow_share=0.7)
        frame = turned(SHAPE, 20.0)
        depth = strands.drawn(rng(seed), finish.scratches(rng(seed), chosen, pixel_size_um, frame.reach), frame).depth
        assert 0.05 < depth.max() < wear.LIMIT_UM


def test_hone_angles_are_those_of_the_trade():
    """30–60° usual, 140–150° for helical slide honing (from memory; about the circumference)."""
    chosen = [finish.chosen(rng(seed)) for seed in range(300)]
    assert all(140 <= c.hone_angle_deg <= 150 if c.name == "helical" else 30 <= c.hone_angle_deg <= 60 for c in chosen)
    assert {c.name for c in chosen} == {"single-stage", "plateau", "fine", "helical"}
    assert 0.02 < np.mean([c.lays == 1 for c in chosen]) < 0.2


@pytest.mark.parametrize("angle_deg", [12.0, 71.0, 133.0])
def test_a_lay_runs_along_its_frame(angle_deg):
    frame = turned((300, 300), angle_deg)
    depth = strands.drawn(rng(3), finish.grooves(rng(3), finish.chosen(rng(3)), 0.8, frame.reach), frame).depth
    assert apart_deg(direction_deg(depth), angle_deg) < 2.5


@pytest.mark.parametrize("pixel_size_um", [0.12, 0.5, 2.2])
def test_walls_slope_no_more_than_published_and_depths_are_within_range(pixel_size_um):
    """Slopes to 27°; depth 1–10 µm usual (from memory), here from 0.68 µm for very fine finishes."""
    cuts = []
    for seed in range(12):
        cuts += finish.grooves(rng(seed), finish.chosen(rng(seed)), pixel_size_um, 300.0)
    slopes = [
        np.rad2deg(np.arctan(strands.SHARPNESS[cut.form] * cut.depth / cut.half_width / pixel_size_um)) for cut in cuts
    ]
    assert np.median(slopes) > 3 and max(slopes) < finish.SLOPES_DEG[1] + 0.1
    assert all(0.67 < cut.depth <= 10 for cut in cuts)
    assert np.corrcoef([cut.depth for cut in cuts], [cut.half_width for cut in cuts])[0, 1] > 0.15


def test_a_deeper_bundle_casts_more_shadow_than_a_shallow_one():
    frame = turned(SHAPE, 30.0)
    contrast = []
    for depth_um in (0.3, 1.5):
        half = finish.half_width_px(depth_um, 15, "vee", 0.5)
        cuts = [strands.Strand(centre=2 * half * k, half_width=half, depth=depth_um, form="vee") for k in range(-2, 3)]
        depth = strands.drawn(rng(5), cuts, frame).depth
        detector = replace(picture.settings(rng(5)), starved=0.5, floors=0.0, sided=0.5)
        light = picture.signal(-depth, depth, 0.5, detector)
        contrast.append(1 - light[depth > 0.6 * depth_um].mean())
    assert contrast[1] > 2 * contrast[0] > 0


def ground(seed: int, amount: float) -> tuple[np.ndarray, wear.Ground, np.ndarray]:
    stroke = turned(SHAPE, 60.0)
    frame = turned(SHAPE, 130.0)
    depth = strands.drawn(rng(seed), finish.grooves(rng(seed), finish.chosen(rng(seed)), 0.8, frame.reach), frame).depth
    worn = stroke.across > 0
    return depth, wear.moved(rng(seed), depth, np.zeros_like(depth), stroke, worn, amount, 0.8), worn


def test_metal_closes_only_grooves_and_only_in_the_track():
    for seed in range(6):
        before, after, worn = ground(seed, 0.6)
        closed = after.groove & (after.depth < wear.LIMIT_UM)
        assert closed[worn].mean() > 0.002
        assert (before[closed] >= wear.LIMIT_UM).all()
        assert (after.depth <= before + 1e-5).all()
        assert (after.depth[~worn & after.groove] >= wear.LIMIT_UM).mean() > 0.97


def test_no_metal_moved_leaves_every_groove_open():
    before, after, _ = ground(1, 0.0)
    assert np.array_equal(before, after.depth)


def test_truncation_takes_shallow_bundles_first_and_smears_nothing():
    """Peaks go first, valleys last (common practice, no source)."""
    depth = np.tile(np.float32([0.3, 0.7, 3.0]), (120, 40))
    stroke = turned(depth.shape, 0.0)
    left = wear.truncated(rng(), depth, stroke, np.ones(depth.shape, bool), 0.4)
    ratio = (left / depth)[:, :3].mean(0)
    assert ratio[0] < 0.15 < ratio[1] < 0.65 < 0.8 < ratio[2] < 1


@pytest.mark.parametrize("angle_deg", [0.0, 48.0, 120.0])
def test_scuffing_runs_along_the_stroke(angle_deg):
    stroke = turned((300, 300), angle_deg)
    seen = 0
    for seed in range(8):
        marks = scuff.scuffed(rng(seed), stroke, np.ones((300, 300), bool), 0.8)
        if 0.01 < marks.where.mean() < 0.5:
            seen += 1
            assert apart_deg(direction_deg(marks.where), angle_deg) < 12
    assert seen >= 4


def test_truth_of_whole_fields_keeps_metal_to_the_track_and_half_are_worn():
    made = [bundled.make(rng(seed), pixel_size_um=0.9, shape=(200, 200)) for seed in range(36)]
    assert 0.35 < np.mean([field.worn.any() for field in made]) < 0.85
    assert not any(np.isin(field.codes[~field.worn], (2, 3)).any() for field in made)
    assert np.mean([(field.codes == 1).mean() > 0.01 for field in made]) > 0.85


def test_a_field_takes_less_than_half_a_second():
    start = time.process_time()
    for seed in range(3):
        bundled.make(rng(seed), pixel_size_um=(0.15, 0.6, 2.0)[seed], shape=(560, 560))
    assert (time.process_time() - start) / 3 < 0.5
