"""Claims of the maker whose smeared metal has a body: closures over grooves only, fronts downstream, lays as honed."""

from functools import cache

import numpy as np
import pytest
from makers import overlaid
from makers.overlaid.bodies import Bodies, close_groove
from makers.overlaid.specimen import CLOSURES, draw_specimen
from makers.overlaid.surface import VALLEY_DEPTH_UM, draw_surface
from scipy import ndimage

SHAPE = (200, 220)


@cache
def grounds() -> list:
    drawn = []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        specimen = draw_specimen(rng, (0.3, 0.6, 1.2)[seed % 3], SHAPE)
        drawn.append((specimen, draw_surface(rng, specimen, SHAPE)))
    return drawn


def a_specimen(kind: str):
    """A worn one whose bodies are all of one kind."""
    for seed in range(99):
        specimen = draw_specimen(np.random.default_rng(seed), 0.5, SHAPE)
        if specimen.worn and specimen.closed > 0.2:
            object.__setattr__(specimen, "closures", np.array([float(name == kind) for name in CLOSURES]))
            object.__setattr__(specimen, "stretch", 3.0)
            return specimen
    raise AssertionError("no worn specimen")


def closed_band(kind: str, closed: float, seed: int, stroke=(0.0, 1.0), size: int = 400, half: float = 10.0) -> Bodies:
    bodies = Bodies.none(size)
    centre, halves = np.full(size, 200, np.float32), np.full(size, half, np.float32)
    deep = np.full(size, 2, np.float32)
    close_groove(np.random.default_rng(seed), bodies, a_specimen(kind), centre, halves, deep, stroke, closed)
    return bodies


def test_smear_lies_only_where_a_groove_had_been_and_is_now_closed():
    """The mask codes' definition: smeared is the footprint of a groove closed to within 0.5 µm of the plateau."""
    smeared = 0
    for _, ground in grounds():
        here = ground.codes == 2
        smeared += here.sum()
        assert (ground.original[here] >= VALLEY_DEPTH_UM).all()
        assert (ground.depth[here] < VALLEY_DEPTH_UM).all()
        assert ground.worn[here].all()
    assert smeared > 10_000


def test_open_valley_is_uncovered_ground_half_a_micrometre_down():
    valley = 0
    for _, ground in grounds():
        here = ground.codes == 1
        valley += here.sum()
        assert (ground.depth[here] >= VALLEY_DEPTH_UM).all()
        assert not ((ground.codes == 0) & (ground.depth >= VALLEY_DEPTH_UM)).any()
    assert valley > 50_000


def test_grooves_that_truncation_alone_made_shallow_are_plateau():
    for specimen, ground in grounds():
        if specimen.worn:
            assert not ((ground.original < VALLEY_DEPTH_UM) & (ground.codes == 2)).any()


def test_hone_angles_are_those_of_plateau_and_helical_honing_and_straddle_the_direction_across_the_stroke():
    """Usual included angles some 30–60 degrees, helical slide honing 140–150 (from memory)."""
    helical = 0
    for seed in range(200):
        specimen = draw_specimen(np.random.default_rng(seed), 0.5, SHAPE)
        assert 30 <= specimen.hone_deg <= 60 or 140 <= specimen.hone_deg <= 150
        helical += specimen.hone_deg > 100
        off = [np.degrees(lay - specimen.stroke) - 90 for lay in specimen.lays]
        assert np.allclose(np.abs(off), specimen.hone_deg / 2)
        assert len(off) == 1 or sum(off) == pytest.approx(0, abs=1e-9)
    assert 10 < helical < 60


def test_drawn_grooves_run_along_the_lays():
    """The mean structure tensor of a single-lay ground points across its lay."""
    checked = 0
    for seed in range(300):
        rng = np.random.default_rng(seed)
        specimen = draw_specimen(rng, 0.6, SHAPE)
        if len(specimen.lays) != 1 or specimen.worn:
            continue
        original = ndimage.gaussian_filter(draw_surface(rng, specimen, SHAPE).original, 1.5)
        gy, gx = np.gradient(original)
        across = 0.5 * np.arctan2(2 * (gx * gy).sum(), (gx * gx - gy * gy).sum())
        off = np.degrees(across + np.pi / 2 - specimen.lays[0])
        assert abs((off + 90) % 180 - 90) < 4
        checked += 1
    assert checked >= 4


@pytest.mark.parametrize("stroke", [(0.0, 1.0), (0.0, -1.0), (0.4, np.sqrt(0.84)), (-0.4, -np.sqrt(0.84))])
def test_fronts_of_caps_look_downstream(stroke):
    """A tongue comes over the upstream edge: metal's weight lies upstream of the groove's middle."""
    cover = sum(closed_band("cap", 0.6, seed, stroke).cover for seed in range(6))
    sideways = np.arange(400) - 200
    groove = np.abs(sideways) < 10
    weight = (cover.sum(1) * sideways)[groove].sum() / cover.sum(1)[groove].sum()
    assert weight * stroke[1] < -0.5


@pytest.mark.parametrize("kind", ["bridge", "fold", "film"])
def test_bodies_that_span_the_groove_close_about_the_share_asked_for(kind):
    """Bodies at random places overlap: of a share c asked for, 1 - exp(-c) is covered."""
    shares = [closed_band(kind, 0.5, seed).cover[194:207].mean() for seed in range(16)]
    assert np.mean(shares) == pytest.approx(1 - np.exp(-0.5), abs=0.12)


def test_bodies_stay_over_their_groove_but_for_a_margin():
    for kind in CLOSURES:
        cover = closed_band(kind, 0.8, 3).cover
        assert cover[190:211].sum() > 30
        far = np.abs(np.arange(400) - 200) > 16
        assert not cover[far].any()


def test_a_lip_narrows_the_groove_and_leaves_it_open_downstream():
    cover = np.mean([closed_band("lip", 0.8, seed).cover for seed in range(8)], 0)
    assert cover[192:197].mean() > 2 * cover[204:209].mean()


def test_scuffed_bands_run_along_the_stroke():
    checked = 0
    for specimen, ground in grounds():
        scuffed = ndimage.gaussian_filter((ground.codes == 3).astype(float), 2)
        if scuffed.sum() < 1500:
            continue
        gy, gx = np.gradient(scuffed)
        cosine, sine = np.cos(specimen.stroke), np.sin(specimen.stroke)
        along, across = gx * cosine + gy * sine, gy * cosine - gx * sine
        assert (across**2).sum() > 3 * (along**2).sum()
        checked += 1
    assert checked >= 3


def test_specimens_range_from_hardly_any_smear_to_most_grooves_closed():
    lost = []
    for specimen, ground in grounds():
        if specimen.worn and (ground.original >= VALLEY_DEPTH_UM).mean() > 0.02:
            lost.append((ground.codes == 2).sum() / (ground.original >= VALLEY_DEPTH_UM).sum())
    assert min(lost) < 0.05
    assert max(lost) > 0.5


def test_unworn_fields_hold_no_moved_metal():
    for seed in range(12):
        made = overlaid.make(np.random.default_rng(seed), pixel_size_um=0.8, shape=(200, 210))
        assert not np.isin(made.codes[~made.worn], (2, 3)).any()
