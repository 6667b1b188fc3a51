"""The surveyed maker against published figures of honing, wear and the electron beam, and against its own claims."""

import cv2
import numpy as np
import pytest
from makers import surveyed
from makers.surveyed import running
from makers.surveyed.beam import range_um
from makers.surveyed.frames import Frame
from makers.surveyed.honed import FINISHES, HONE_ANGLES_DEG, honed
from makers.surveyed.scuffing import bands

SHAPE = (320, 320)


def rng(seed: int) -> np.random.Generator:
    return np.random.default_rng(seed)


def bearing_parameters(heights: np.ndarray) -> tuple[float, float, float]:
    """Rpk, Rk and Rvk of a set of heights by the flattest 40 % secant of its bearing curve (ISO 13565-2)."""
    curve = np.sort(heights.ravel())[::-1]
    curve = curve[np.linspace(0, curve.size - 1, 1001).astype(int)]
    start = int(np.argmin(curve[:-400] - curve[400:]))
    slope = (curve[start + 400] - curve[start]) / 400
    top, bottom = curve[start] - slope * start, curve[start] + slope * (1000 - start)
    peaks, valleys = np.clip(curve - top, 0, None), np.clip(bottom - curve, 0, None)
    mr1, mr2 = (peaks > 0).mean(), (valleys > 0).mean()
    return 2 * peaks.mean() / max(mr1, 1e-9), top - bottom, 2 * valleys.mean() / max(mr2, 1e-9)


def test_a_straight_bearing_curve_has_a_core_only():
    rpk, rk, rvk = bearing_parameters(np.linspace(0, 2.0, 5001))
    assert (rpk, rk, rvk) == pytest.approx((0, 2.0, 0), abs=0.01)


def test_plateau_finish_keeps_within_a_published_liner_specification():
    """Rpk ≤ 0.64, Rk 0.05–1.8, Rvk 0.15–3.3 µm: US patent 7,059,290."""
    grounds = [honed(rng(seed), SHAPE, 0.7, "plateau") for seed in range(12)]
    rpk, rk, rvk = np.transpose([bearing_parameters(ground.texture - ground.depth) for ground in grounds])
    assert np.mean(rpk <= 0.64) >= 0.9
    assert np.mean((rk >= 0.05) & (rk <= 1.8)) >= 0.75
    assert np.mean((rvk >= 0.15) & (rvk <= 3.3)) >= 0.75


def test_single_stage_finish_is_rougher_on_top_than_a_plateau():
    """Plateaued surfaces have lost the peaks of one-process ones: Grabon, Pawlus, Sep, Tribol. Int. 43 (2010) 1882."""
    spreads = {
        finish: np.median([honed(rng(seed), SHAPE, 0.7, finish).texture.std() for seed in range(6)])
        for finish in FINISHES
    }
    assert spreads["single"] > 1.5 * spreads["plateau"] > 1.5 * spreads["fine"]


def test_grooves_run_at_the_published_hone_angles_about_the_direction_across_the_stroke():
    """30–60° usual, 140–150° helical slide honing [from memory]; measured on the depth map by its gradients."""
    helical = 0
    for seed in range(10):
        ground = honed(rng(seed), SHAPE, 0.6)
        assert any(low <= ground.hone_angle_deg <= high for low, high in HONE_ANGLES_DEG)
        helical += ground.hone_angle_deg > 90
        gy, gx = np.gradient(cv2.GaussianBlur(ground.depth, (0, 0), 1.0))
        turn = np.rad2deg(np.arctan2(gy, gx) + np.pi / 2 - ground.stroke - np.pi / 2)
        off = np.abs((turn + 90) % 180 - 90)
        power = np.hypot(gx, gy)
        assert power[np.abs(off - ground.hone_angle_deg / 2) < 5].sum() > 0.65 * power.sum()
    assert helical < 6


def test_plateau_texture_alone_is_never_as_deep_as_a_valley():
    for seed in range(6):
        assert honed(rng(seed), SHAPE, 0.5, "single").texture.min() > -running.VALLEY_DEPTH_UM


def test_metal_closes_only_what_was_a_groove_and_only_where_the_ring_ran(monkeypatch):
    monkeypatch.setattr(running, "closed_share", lambda _: 0.6)
    closed = 0
    for seed in range(6):
        ground = honed(rng(seed), SHAPE, 0.6)
        worn = Frame(SHAPE, ground.stroke).across > 0
        ran = running.run(rng(seed + 50), ground, worn, 0.6)
        smeared = (ran.depth >= 0.5) & (ran.after < 0.5)
        assert ground.depth[smeared].min(initial=9) >= 0.5
        assert (ran.after <= ran.depth + 1e-5).all()
        assert (smeared & ~cv2.dilate(worn.astype(np.uint8), np.ones((21, 21))).astype(bool)).sum() == 0
        closed += smeared.sum() / max((ran.depth[worn] >= 0.5).sum(), 1)
    assert 0.4 < closed / 6 < 0.75


def test_truncation_alone_smears_nothing(monkeypatch):
    monkeypatch.setattr(running, "closed_share", lambda _: 0.0)
    made = [surveyed.make(rng(seed), pixel_size_um=0.6, shape=(220, 220)) for seed in range(10)]
    assert any(one.worn.any() for one in made)
    assert not any((one.codes == 2).any() for one in made)


def test_scuffing_is_long_along_the_stroke_and_no_fine_mark():
    """Streaks along the stroke, wide enough to see (the definition of the state)."""
    ratios, widths = [], []
    for seed in range(8):
        frame = Frame(SHAPE, rng(seed).uniform(0, 6.3))
        mask = bands(rng(seed), frame, np.ones(SHAPE, bool))
        assert 0 <= mask.mean() < 0.4
        if mask.sum() < 200:
            continue
        soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 1.5)
        gy, gx = np.gradient(soft)
        along = np.abs(gx * np.cos(frame.angle) + gy * np.sin(frame.angle)).sum()
        across = np.abs(gy * np.cos(frame.angle) - gx * np.sin(frame.angle)).sum()
        ratios.append(across / along)
        widths.append(2 * cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 3).max())
    assert len(ratios) >= 5
    assert np.median(ratios) > 3
    assert min(widths) >= 7


def test_a_track_border_runs_along_the_stroke():
    frame = Frame(SHAPE, 0.4)
    shares = []
    for seed in range(300):
        worn = surveyed._track(rng(seed), frame)
        shares.append(worn.mean())
        if 0 < shares[-1] < 1:
            assert frame.across[worn].min() >= frame.across[~worn].max()
    shares = np.array(shares)
    assert 0.5 < (shares > 0).mean() < 0.72
    assert 0.01 < ((shares > 0) & (shares < 1)).mean() < 0.1


@pytest.mark.parametrize(("kilovolts", "micrometres"), [(5, 0.16), (10, 0.50), (15, 0.99), (20, 1.60)])
def test_range_of_electrons_in_iron(kilovolts, micrometres):
    """Kanaya, Okayama, J. Phys. D 5 (1972) 43."""
    assert range_um(kilovolts) == pytest.approx(micrometres, rel=0.04)


def test_most_closures_leave_a_trace_in_the_picture(monkeypatch):
    """Grey or roughness over the closed groove differs from the plateau beside it."""
    monkeypatch.setattr(running, "closed_share", lambda _: 0.5)
    told = []
    for seed in range(40):
        made = surveyed.make(rng(seed), pixel_size_um=0.6, shape=(220, 220))
        smeared = made.codes == 2
        beside = (made.codes == 0) & (cv2.dilate(smeared.astype(np.uint8), np.ones((21, 21), np.uint8)) > 0)
        if min(smeared.sum(), beside.sum()) < 300:
            continue
        grey = cv2.GaussianBlur(made.image.astype(np.float32), (0, 0), 1.5)
        apart = abs(grey[smeared].mean() - grey[beside].mean()) / np.hypot(grey[smeared].std(), grey[beside].std())
        told.append(apart > 0.12 or not 0.8 < grey[smeared].std() / grey[beside].std() < 1.25)
    assert len(told) >= 10
    assert np.mean(told) > 0.75
