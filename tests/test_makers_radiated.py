"""Physics of beam, detector and ground behind the radiated fields, against published figures and first principles."""

from functools import cache

import cv2
import numpy as np
import pytest
from makers.radiated import make
from makers.radiated.column import electrons_a_pixel
from makers.radiated.contact import ground_and_closures, scuffing
from makers.radiated.electrons import IRON, Setting, collected, range_um, signal, tilt_yield
from makers.radiated.hone import choose_finish

SHAPE, PIXEL_UM = (260, 260), 0.6


def setting(**changed) -> Setting:
    plain = {"energy_kev": 10.0, "power": 1.0, "detector": 0.0, "sidedness": 0.0, "starvation": 1.0, "edge": 0.0}
    rest = {"background": 0.0, "tilt": 0.0, "tilt_azimuth": 0.0, "floor": 0.0, "skin": 0.0}
    return Setting(**{**plain, **rest, **changed})


def trench(depth_px: float, width_px: int = 21) -> np.ndarray:
    """A groove down the middle of 101 columns, walls over 3 px."""
    away = np.abs(np.arange(101) - 50)
    profile = -depth_px * np.clip((width_px / 2 + 1.5 - away) / 3, 0, 1)
    return np.tile(profile.astype(np.float32), (101, 1))


@cache
def finishes() -> list:
    return [choose_finish(np.random.default_rng(seed), PIXEL_UM, SHAPE) for seed in range(200)]


@pytest.mark.parametrize(("energy_kev", "expected_um"), [(5, 0.16), (10, 0.50), (15, 0.99), (20, 1.60)])
def test_electron_range_of_iron(energy_kev, expected_um):
    """Kanaya, Okayama, J. Phys. D 5 (1972) 43."""
    assert range_um(energy_kev, **IRON) == pytest.approx(expected_um, rel=0.03)


def test_yield_at_60_degrees_is_twice_that_at_normal_incidence():
    """Secant law with n = 1 (Reimer, from memory), by formula and on a slope of 60° in a picture."""
    assert tilt_yield(np.cos(np.radians(60)), 1.0) == pytest.approx(2.0)
    slope = np.tile(np.arange(60, dtype=np.float32) * np.tan(np.radians(60)), (60, 1))
    flat = np.zeros((60, 60), np.float32)
    one = np.ones_like(flat)
    free = setting(starvation=0.0)
    ratio = signal(slope, one, 0 * one, 1.0, free)[30, 30] / signal(flat, one, 0 * one, 1.0, free)[30, 30]
    assert ratio == pytest.approx(2.0, rel=0.02)


def test_current_and_dwell_give_the_electrons_of_a_pixel():
    """N = i·t/e: 100 pA for 10 µs."""
    assert electrons_a_pixel(100e-12, 10e-6) == pytest.approx(6242, abs=1)


def test_floors_darken_with_depth_over_width():
    """Solid angle left open by the walls, which shrinks as the groove deepens (geometry)."""
    floors = [collected(trench(depth), setting(sidedness=0.8))[50, 50] for depth in (0, 2, 5, 10)]
    assert floors[0] == pytest.approx(1.0, abs=0.01)
    assert all(a > b + 0.02 for a, b in zip(floors, floors[1:], strict=False))


def test_a_side_detector_shades_one_wall_and_a_symmetric_one_none():
    """The wall that faces the detector gives more (geometry); azimuth 0 is to the right, so the left wall faces it."""
    left, right = 50 - 10, 50 + 10
    side = collected(trench(4), setting(sidedness=1.0))[50]
    even = collected(trench(4), setting(sidedness=0.0))[50]
    assert side[left] > 1.3 * side[right]
    assert even[left] == pytest.approx(even[right], rel=0.05)


def test_rims_brighten_on_both_sides():
    lit = signal(trench(4), np.ones((101, 101), np.float32), np.zeros((101, 101), np.float32), 1.0, setting(edge=2.0))[
        50
    ]
    assert min(lit[36:41].max(), lit[60:65].max()) > 1.05 * lit[5]


def test_graphite_is_darker_than_iron_by_the_backscatter_ratio_in_the_background():
    """0.06 / 0.28 (Reuter), where hardly any but background signal counts."""
    flat, one = np.zeros((60, 60), np.float32), np.ones((60, 60), np.float32)
    told = signal(flat, one, one, 1.0, setting(background=1e6)) / signal(
        flat, one, 0 * one, 1.0, setting(background=1e6)
    )
    assert told[30, 30] == pytest.approx(0.06 / 0.28, rel=0.01)


def test_hone_angles_lie_in_the_usual_ranges_about_the_direction_across_the_stroke():
    """30–60°, helical slide honing 140–150° (from memory)."""
    angles = np.degrees([finish.hone_angle for finish in finishes()])
    assert all(30 <= angle <= 60 or 140 <= angle <= 150 for angle in angles)
    assert 0 < np.mean(angles > 100) < 0.3
    for finish in (finish for finish in finishes() if len(finish.lays) == 2):
        middle = np.mean(finish.lays) - finish.stroke
        assert middle == pytest.approx(np.pi / 2)
        assert finish.lays[1] - finish.lays[0] == pytest.approx(finish.hone_angle)


def test_metal_closes_ground_only_where_a_deep_groove_had_been():
    """Folds interrupt the deep grooves (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548): the same ground, run and unrun."""
    smeared = 0
    for seed in range(12):
        made = make(np.random.default_rng(seed), pixel_size_um=PIXEL_UM, shape=SHAPE)
        smeared += (made.codes == 2).mean() > 0.005
        if not made.worn.any():
            assert not np.isin(made.codes, (2, 3)).any()
    assert smeared >= 2
    rng, finish = np.random.default_rng(5), finishes()[3]
    closed = ground_and_closures(rng, finish, SHAPE, PIXEL_UM, np.zeros(SHAPE, np.float32), 1.0)
    covered = closed.cover > 0.5
    assert covered.mean() > 0.01
    assert np.abs(closed.lid[covered]).max() < 0.5
    beside = cv2.dilate((closed.ground > 0.05).astype(np.uint8), np.ones((15, 15), np.uint8)) > 0
    assert beside[covered].mean() > 0.99


def test_truncation_alone_makes_plateau():
    finish = finishes()[3]
    cut = np.full(SHAPE, 20, np.float32)
    closed = ground_and_closures(np.random.default_rng(5), finish, SHAPE, PIXEL_UM, cut, 1.0)
    assert closed.ground.max() == 0 and closed.cover.max() == 0


def test_scuffing_runs_along_the_stroke():
    """Direction of least change of the mask, from its structure tensor."""
    off = []
    for seed, finish in enumerate(finishes()[:12]):
        mask = scuffing(np.random.default_rng(seed), finish, SHAPE, PIXEL_UM)[0]
        soft = cv2.GaussianBlur(mask, (0, 0), 2)
        gy, gx = np.gradient(soft)
        across = 0.5 * np.arctan2(2 * (gx * gy).sum(), (gx**2 - gy**2).sum())
        off.append(np.abs((across - finish.stroke) % np.pi - np.pi / 2))
    assert np.degrees(np.median(off)) < 6
