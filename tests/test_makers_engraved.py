"""Engraved fields against published figures and their own claim: deep grooves may be narrow and steep."""

from functools import cache

import cv2
import numpy as np
import pytest
from makers import engraved
from makers.engraved import beam, moved, trough


@cache
def fields() -> list:
    sizes = np.geomspace(0.15, 2.0, 18)
    return [
        engraved.make(np.random.default_rng(s), pixel_size_um=float(p), shape=(220, 230)) for s, p in enumerate(sizes)
    ]


def population(seed: int, pixel_size_um: float, narrow: bool) -> list[trough.Groove]:
    rng = np.random.default_rng(seed)
    return engraved.population(rng, (0.0, 400 * pixel_size_um), pixel_size_um, 0.2, narrow, 0.0)


@pytest.mark.parametrize("section", trough.SECTIONS)
def test_the_closed_form_width_is_the_width_of_the_section(section):
    groove = trough.Groove(centre_um=0.0, width_um=9.0, depth_um=2.0, section=section)
    across = np.arange(-6, 6, 0.001)
    counted = (groove.depth_at(across) >= 0.5).sum() * 0.001
    assert groove.width_at(0.5) == pytest.approx(counted, abs=0.01)
    assert groove.width_at(2.1) == 0


@pytest.mark.parametrize("pixel_size_um", [0.2, 0.8, 2.2])
def test_open_valley_of_one_groove_is_as_wide_as_its_section_at_the_limit(pixel_size_um, monkeypatch):
    """The limit of 0.5 µm is the measurand's own."""
    groove = trough.Groove(centre_um=0.0, width_um=12 * pixel_size_um, depth_um=3.0, section="round")
    monkeypatch.setattr(engraved, "hone_angle", lambda rng: 40.0)
    rows, columns = np.indices((300, 300), np.float32) * pixel_size_um
    rows, columns = rows - rows.mean(), columns - columns.mean()
    widths = []
    for seed in range(8):
        cuts = iter([[groove]])
        monkeypatch.setattr(engraved, "population", lambda *given, cuts=cuts: next(cuts, []))
        unworn = np.zeros((300, 300), bool)
        depth = engraved.engrave(
            np.random.default_rng(seed), (columns, rows), rows, unworn, (0.0, pixel_size_um, 0.0, 0.0)
        )[0]
        widths.append(np.median((depth >= 0.5).sum(1)) * np.cos(np.radians(20)) * pixel_size_um)
    assert np.median(widths) == pytest.approx(groove.width_at(0.5), rel=0.06)


@pytest.mark.parametrize("pixel_size_um", [0.12, 0.3, 0.7, 1.2, 2.2])
def test_a_narrow_deep_groove_stays_darker_than_a_shallow_scratch(pixel_size_um):
    width = max(1.5, 3 * pixel_size_um)
    deep = trough.Groove(centre_um=20 * pixel_size_um + 0.3, width_um=width, depth_um=min(8, width * 0.6), section="v")
    shallow = trough.Groove(centre_um=60 * pixel_size_um, width_um=3 * pixel_size_um, depth_um=0.35, section="v")
    made = trough.trace([deep, shallow], (0.0, 80 * pixel_size_um), pixel_size_um, 0.0, np.zeros(5))
    half = made.dark.size // 2
    assert made.dark[:half].max() > 2 * made.dark[half:].max() > 0


def test_a_groove_of_three_pixels_keeps_its_signal_wherever_it_falls_on_the_grid():
    sums = []
    for shift in np.linspace(0, 1, 9):
        groove = trough.Groove(centre_um=20 + shift, width_um=3.0, depth_um=1.5, section="v")
        made = trough.trace([groove], (0.0, 40.0), 1.0, 0.0, np.zeros(5))
        sums.append(made.dark[:: trough.SAMPLES].sum())
    assert np.ptp(sums) < 0.03 * np.mean(sums)


def test_groove_depths_widths_and_slopes_are_those_of_honed_liners():
    """Depth 1–10 µm and width 5–50 µm are usual, here widened to 0.6–8 and 1.5–60; slopes 10–60° (from memory)."""
    grooves = [g for seed in range(30) for g in population(seed, 0.2 + 0.06 * seed, seed % 2 == 0)]
    assert all(0.6 <= g.depth_um <= 8 and 1.5 <= g.width_um <= 60 for g in grooves)
    slopes = np.array([g.wall_slope_deg for g in grooves])
    assert slopes.max() < 61 and np.percentile(slopes, 90) > 40 and (slopes > 9).mean() > 0.9


def test_narrow_populations_are_narrow_and_steep():
    narrow = population(3, 1.0, True)
    assert np.median([g.width_um for g in narrow]) < 6 and np.median([g.wall_slope_deg for g in narrow]) > 30


def test_hone_angles_are_usual_ones():
    """Included angles 30–60°, and 140–150° of helical slide honing (from memory)."""
    angles = np.array([engraved.hone_angle(np.random.default_rng(s)) for s in range(200)])
    assert np.all((angles >= 30) & (angles <= 60) | (angles >= 140) & (angles <= 150))
    assert 0.05 < (angles > 100).mean() < 0.4


def test_metal_closes_only_what_had_been_a_groove():
    """Folds interrupt grooves, the deep ones most (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548)."""
    rows, columns = np.indices((220, 220), np.float32)
    worn = np.ones((220, 220), bool)
    shares = []
    for seed in range(6):
        open_, none = (
            engraved.engrave(np.random.default_rng(seed), (columns, rows), rows, here, (0.0, 1.0, 0.2, 0.5))
            for here in (worn, ~worn)
        )
        assert not none[1].any()
        assert not (open_[1] & (open_[0] >= 0.5)).any()
        assert (none[0] > 0.5)[open_[1]].all()
        shares.append(open_[1].mean())
    assert np.mean(shares) > 0.01


def test_wear_alone_smears_nothing():
    rows, columns = np.indices((200, 200), np.float32)
    before, after = (
        engraved.engrave(
            np.random.default_rng(1), (columns, rows), rows, np.ones((200, 200), bool), (0.0, 1.0, worn, 0.0)
        )
        for worn in (0.0, 0.0001)
    )
    assert not after[1].any() and not before[1].any()
    assert (before[0] >= 0.5).sum() >= (after[0] >= 0.5).sum() > 0


def test_scuffing_runs_along_the_stroke():
    across, along = np.indices((300, 300), np.float32)
    elongations = []
    for seed in range(6):
        mask, _, _ = moved.streaks(np.random.default_rng(seed), along, across, 1.0)
        _, _, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
        largest = stats[1:][stats[1:, cv2.CC_STAT_AREA].argmax()]
        elongations.append(largest[cv2.CC_STAT_WIDTH] / largest[cv2.CC_STAT_HEIGHT])
    assert np.median(elongations) > 1.5


def test_noise_grows_with_the_signal():
    """Shot noise: spread as the root of the signal (Poisson)."""
    seen = beam.Setting(dark=0, rim=0, side=0, grey=100, noise=8, blur_px=0.5, gamma=1, tilt_deg=0)
    signal = np.repeat(np.float32([[50, 200]]), 100, 1).repeat(200, 0)
    ratios = []
    for seed in range(5):
        fine = beam.expose(np.random.default_rng(seed), signal, seen).astype(float)
        rough = fine[:, 1:] - fine[:, :-1]
        ratios.append(rough[:, 110:190].std() / rough[:, 10:90].std())
    assert 1.6 < np.median(ratios) < 2.4


def test_closures_leave_a_trace_on_average():
    apart = []
    for made in fields():
        smeared = made.codes == 2
        if smeared.sum() < 150:
            continue
        beside = (made.codes == 0) & (cv2.dilate(smeared.astype(np.uint8), np.ones((9, 9), np.uint8)) > 0)
        grey = cv2.GaussianBlur(made.image.astype(np.float32), (0, 0), 1)
        apart.append(abs(grey[smeared].mean() - grey[beside].mean()) / grey[beside].std())
    assert len(apart) >= 3 and np.mean(apart) > 0.2
