"""Physics of the galled maker against published figures, and its own claims about scuffing and what only looks like it."""

from functools import cache

import cv2
import numpy as np
import pytest
from makers import galled
from makers.galled import honing, microscope, running, scuffing
from makers.galled.frame import Frame

SHAPE = (240, 260)
PIXEL_SIZES_UM = np.geomspace(0.15, 2.0, 60)


@cache
def grounds() -> list:
    """(frame, height in um, codes, worn, name) of sixty fields."""
    made = []
    for seed, pixel_um in enumerate(PIXEL_SIZES_UM):
        rng = np.random.default_rng(seed)
        frame = Frame(SHAPE, float(pixel_um), float(rng.uniform(0, np.pi)))
        height, _, codes, worn, name = galled.ground(rng, frame)
        made.append((frame, height, codes, worn, name))
    return made


def roughness(field: np.ndarray, mask: np.ndarray, grain: float = 4.0) -> float:
    """Root mean square about the surroundings, within the mask."""
    fine = field - cv2.GaussianBlur(field, (0, 0), grain)
    return float(np.sqrt(np.mean(fine[mask] ** 2)))


def scuffed_grounds() -> list:
    return [made for made in grounds() if (made[2] == 3).sum() > 300]


def test_hone_angles_are_those_of_the_trade():
    """Mostly 30-60 degrees, 140-150 for helical slide honing (from memory, trade practice)."""
    angles = np.array([honing.hone_angle(np.random.default_rng(seed)) for seed in range(400)])
    assert np.mean((angles >= 30) & (angles <= 60)) > 0.65
    assert 0.05 < np.mean((angles > 135) & (angles < 155)) < 0.25
    assert angles.min() > 15 and angles.max() < 155


def test_lays_lie_evenly_about_the_direction_across_the_stroke():
    """The included angle is bisected by the circumference: tan(angle/2) is axial over peripheral speed."""
    pairs = []
    for seed in range(12):
        frame = Frame((200, 200), 0.6, 0.3 * seed)
        lays = honing.hone(np.random.default_rng(seed), frame).lays
        if len(lays) == 2:
            pairs.append(np.mean(lays) - frame.stroke)
    assert len(pairs) >= 8
    assert pairs == pytest.approx([np.pi / 2] * len(pairs))


def test_grooves_run_along_their_lay():
    frame = Frame((240, 240), 0.7, 0.4)
    depth, _ = honing.band(np.random.default_rng(3), frame, 1.1, 0.2, 12, (1, 6))
    along = np.abs(depth - frame.shifted(depth, 1.1, 6))[20:-20, 20:-20].mean()
    across = np.abs(depth - frame.shifted(depth, 1.1 + np.pi / 2, 6))[20:-20, 20:-20].mean()
    assert across > 4 * along


def test_open_valley_lies_half_a_micrometre_below_the_plateau():
    """The contract's limit; groove depth 1-10 um (from memory)."""
    valleys = np.concatenate([height[codes == 1] for _, height, codes, *_ in grounds()])
    plateau = np.concatenate([height[codes == 0] for _, height, codes, *_ in grounds()])
    assert np.mean(valleys < -0.4) > 0.95
    assert 0.7 < -np.median(valleys) < 6
    assert np.mean(np.abs(plateau) < 0.5) > 0.95


def test_metal_closes_only_grooves_that_truncation_left_deep_and_fills_them_to_the_plateau():
    closed_share = []
    for seed in range(14):
        rng = np.random.default_rng(seed)
        frame = Frame(SHAPE, 0.5, 0.2 * seed)
        depth = honing.hone(rng, frame).depth
        worn = frame.axes(frame.stroke)[1] > 0
        moved = running.smear(rng, frame, depth, worn)
        assert not (moved.closed & ~((depth >= 0.5) & worn)).any()
        assert moved.level[moved.closed].min(initial=0) > -0.5
        closed_share.append(moved.closed.sum() / max(((depth >= 0.5) & worn).sum(), 1))
    assert min(closed_share) == 0 and 0.25 < max(closed_share) < 1


def test_about_three_fifths_of_worn_fields_and_no_unworn_ground_are_scuffed():
    small = [
        galled.make(np.random.default_rng(seed), pixel_size_um=0.7, shape=(100, 100)) for seed in range(1000, 1160)
    ]
    scuffed = ["scuffed" in made.kind for made in small if made.worn.any()]
    assert len(scuffed) > 70 and 0.45 < np.mean(scuffed) < 0.75
    assert not any((codes[~worn] == 3).any() for _, _, codes, worn, _ in grounds())
    shares = [(codes == 3).mean() for _, _, codes, *_ in scuffed_grounds()]
    assert max(shares) <= 0.36 and max(shares) > 0.15 and min(shares) < 0.04


def test_scuffed_ground_is_drawn_out_along_the_stroke():
    """Second moments of each scuffed part, weighted by its area."""
    along, across, areas = [], [], []
    for frame, _, codes, *_ in scuffed_grounds():
        u, v = frame.axes(frame.stroke)
        count, labels = cv2.connectedComponents((codes == 3).astype(np.uint8))
        for part in range(1, count):
            mask = labels == part
            along.append(u[mask].var())
            across.append(v[mask].var())
            areas.append(mask.sum())
    ratio = np.sqrt(np.array(along) / np.array(across))
    assert np.average(ratio > 1, weights=areas) > 0.95
    assert np.median(ratio) > 2


def test_scuffed_ground_is_rougher_than_the_plateau_of_its_field():
    """Sq in height; scuffed liners are rougher than run-in ones (common practice, no source)."""
    ratio = [roughness(h, codes == 3) / roughness(h, codes == 0) for _, h, codes, *_ in scuffed_grounds()]
    assert np.median(ratio) > 2
    assert np.mean(np.array(ratio) > 1) > 0.85


@pytest.mark.parametrize("seed", range(6))
def test_nothing_of_the_damage_is_drawn_outside_its_border(seed):
    rng = np.random.default_rng(seed)
    frame = Frame(SHAPE, 0.6, 0.5 * seed)
    inside, form = scuffing.where_destroyed(rng, frame, np.ones(SHAPE, bool), 0.3)
    relief, weight, grey, _ = scuffing.destroy(rng, frame, inside, form)
    assert (inside > 0).any()
    for drawn in (relief, weight, grey):
        assert not drawn[inside <= 0].any()
    assert weight[inside > 0].min() > 0.1


@pytest.mark.parametrize("name", sorted(scuffing.TEXTURES))
def test_every_kind_of_damage_has_relief_and_ploughing_follows_the_stroke(name):
    frame = Frame(SHAPE, 0.6, 0.7)
    relief = scuffing.TEXTURES[name](np.random.default_rng(1), frame)
    assert relief.std() > 0.5
    if name == "ploughed":
        along = np.abs(relief - frame.shifted(relief, frame.stroke, 5))[10:-10, 10:-10].mean()
        across = np.abs(relief - frame.shifted(relief, frame.stroke + np.pi / 2, 5))[10:-10, 10:-10].mean()
        assert across > 1.3 * along


def test_roughest_places_of_unscuffed_run_plateaus_look_like_faint_scuffing():
    """Dense stroke marks, torn lay, grainy films and graphite: roughness of grey alone must not tell scuffing."""
    scuffed, plateau = [], []
    for seed in range(90):
        made = galled.make(np.random.default_rng(seed), pixel_size_um=0.6, shape=(180, 180))
        grey = made.image.astype(np.float32)
        fine = grey - cv2.GaussianBlur(grey, (0, 0), 4)
        local = np.sqrt(cv2.GaussianBlur(fine * fine, (0, 0), 4))
        land = cv2.erode((made.codes == 0).astype(np.uint8), np.ones((17, 17), np.uint8)) > 0
        if (made.codes == 3).sum() > 300:
            scuffed.append(np.median(local[made.codes == 3]))
        elif made.worn.all() and land.sum() > 300:
            plateau.append(np.quantile(local[land], 0.9))
    assert len(scuffed) > 20 and len(plateau) > 12
    assert np.quantile(plateau, 0.75) > np.quantile(scuffed, 0.25)
    assert np.median(scuffed) > 1.1 * np.median(plateau)


@pytest.mark.parametrize(("kilovolts", "um"), [(5, 0.16), (10, 0.50), (15, 0.99), (20, 1.60)])
def test_electrons_go_as_deep_into_iron_as_published(kilovolts, um):
    """Kanaya and Okayama 1972: 0.0276 A E^1.67 / (Z^0.89 density)."""
    assert microscope.range_um(kilovolts) == pytest.approx(um, abs=0.015)


def test_flat_ground_gives_an_even_signal_and_a_step_does_not():
    frame = Frame((200, 200), 0.5, 0.0)
    flat, step = np.zeros(frame.shape, np.float32), np.zeros(frame.shape, np.float32)
    step[:, 100:] = 1.0
    spread = [microscope.secondaries(np.random.default_rng(2), frame, h, flat).std() for h in (flat, step)]
    assert spread[0] < 1e-4 and spread[1] > 0.01
