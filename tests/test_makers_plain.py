"""The plain maker's grooves, closures, torn metal and noise against definitions, formulas and published values."""

import math

import cv2
import numpy as np
import pytest
from makers.plain import make
from makers.plain.grooves import OPEN_UM, bands, groove, ground_um, lays_deg
from makers.plain.instrument import shot_noise
from makers.plain.moved import close, codes_of, scuffs
from makers.plain.strangers import graphite_grey
from makers.plain.tones import relief, tilt_gain, valleys

SHAPE = (240, 260)


def straight(width_um: float, depth_um: float, wall_deg: float, lay_deg: float = 0.0):
    return groove(
        np.random.default_rng(1), shape=SHAPE, pixel_size_um=0.25, lay_deg=lay_deg, offset=0.0,
        width_um=width_um, depth_um=depth_um, wall_deg=wall_deg, unrest=0.0, ends=0.0,
    )  # fmt: skip


@pytest.mark.parametrize(("width_um", "depth_um", "wall_deg"), [(20, 2, 30), (12, 1, 15), (8, 3, 60)])
def test_open_ground_is_narrower_than_the_rims_by_half_a_micrometre_down_either_wall(width_um, depth_um, wall_deg):
    """Open valley lies at least 0.5 µm below the plateau (semwear.terms): w − 2·0.5/tan(wall), by trigonometry."""
    for lay_deg in (0, 35, 90):
        depth = ground_um([straight(width_um, depth_um, wall_deg, lay_deg)], SHAPE, 0.25)
        middle = np.hypot(*np.meshgrid(np.arange(SHAPE[1]) - SHAPE[1] / 2, np.arange(SHAPE[0]) - SHAPE[0] / 2)) < 100
        # area within a disc over its diameter is near enough the width of a narrow straight band through its centre
        width = (depth[middle] >= 0.5).sum() * 0.25**2 / (200 * 0.25)
        assert width == pytest.approx(width_um - 1 / math.tan(math.radians(wall_deg)), abs=0.6)


def test_a_groove_shallower_than_half_a_micrometre_is_plateau_and_so_is_one_worn_shallow_even_under_moved_metal():
    """Codes 0 and 2 of semwear.terms: truncation leaves nothing to smear."""
    assert OPEN_UM == 0.5
    covered, bare = np.ones(SHAPE, np.float32), np.zeros(SHAPE, np.float32)
    nothing = np.zeros(SHAPE, bool)
    deep = ground_um([straight(20, 1.2, 30)], SHAPE, 0.25)
    shallow = ground_um([straight(20, 0.45, 30)], SHAPE, 0.25)
    worn_shallow = np.maximum(deep - 0.8, 0)
    assert worn_shallow.max() > 0.2
    for before in (shallow, worn_shallow):
        assert not codes_of(before, before, bare, nothing).any()
        assert not codes_of(before, close(before, covered, 0.1), covered, nothing).any()
    assert set(np.unique(codes_of(deep, deep, bare, nothing))) == {0, 1}
    assert set(np.unique(codes_of(deep, close(deep, covered, 0.1), covered, nothing))) == {0, 2}


def test_smeared_ground_is_a_valleys_footprint_closed_to_within_half_a_micrometre():
    """Code 2 of semwear.terms; cover that closes too little leaves the valley open."""
    before = ground_um([straight(20, 4, 45)], SHAPE, 0.25)
    for amount in (0.3, 0.6, 0.95, 1.0):
        cover = np.full(SHAPE, amount, np.float32)
        after = close(before, cover, 0.3)
        codes = codes_of(before, after, cover, np.zeros(SHAPE, bool))
        assert (before[codes == 2] >= 0.5).all() and (after[codes == 2] < 0.5).all()
        assert ((codes == 1) == (after >= 0.5)).all()
        assert np.isin(codes, (1, 2)).sum() == (before >= 0.5).sum()
        assert (codes[SHAPE[0] // 2, SHAPE[1] // 2] == 1) == (amount < 0.8)


def test_lays_are_halved_by_the_circumference_and_their_tangent_is_axial_over_peripheral_speed():
    """tan(angle/2) = axial speed / peripheral speed (semwear.terms)."""
    axial, peripheral = 20.0, 45.0
    included = 2 * math.degrees(math.atan(axial / peripheral))
    for stroke in (0, 90, 33):
        for lay in lays_deg(stroke, included):
            off = math.radians(lay - stroke)
            assert abs(math.cos(off) / math.sin(off)) == pytest.approx(axial / peripheral)
    drawn = bands(np.random.default_rng(5), shape=SHAPE, pixel_size_um=0.5, stroke_deg=90, included_deg=50)
    assert {round(one.lay_deg / 50) for one in drawn} == {3, 4}  # 155° and 205°
    # Widths 1.5–60 µm, depths up to 10 µm, walls 6–75° are this maker's bounds; 5–50 µm and 1–10 µm are usual (from memory).
    assert all(0 < one.depth_um.max() <= 10 and 6 <= one.wall_deg <= 75 for one in drawn)


@pytest.mark.parametrize("stroke_deg", [0, 40, 90, 120])
def test_torn_metal_lies_in_streaks_along_the_stroke(stroke_deg):
    """Code 3 of semwear.terms. Direction by the structure tensor: tan 2φ = 2·Jxy/(Jxx − Jyy) (from memory)."""
    torn = scuffs(np.random.default_rng(3), shape=(300, 300), stroke_deg=stroke_deg, share=0.25)
    assert torn.mean() == pytest.approx(0.25, abs=0.06)
    grey = cv2.GaussianBlur(torn.astype(np.float32), (0, 0), 2)
    gx, gy = cv2.Sobel(grey, cv2.CV_32F, 1, 0), cv2.Sobel(grey, cv2.CV_32F, 0, 1)
    steepest = 0.5 * math.degrees(math.atan2(2 * (gx * gy).mean(), (gx * gx - gy * gy).mean()))
    off = (steepest + 90 - stroke_deg + 90) % 180 - 90
    assert abs(off) < 12


def test_tilt_alone_gives_half_to_twelve_per_cent_on_walls_of_6_to_27_degrees():
    """Secondary yield grows as sec θ (tests/SOURCES.md, derived there): 0.5 % at 6°, 12 % at 27°."""
    for wall_deg, contrast in ((6, 0.005), (27, 0.12)):
        slope = math.tan(math.radians(wall_deg))
        assert tilt_gain(np.array(slope)) - 1 == pytest.approx(contrast, abs=0.003)
        plane = np.tile(np.arange(60, dtype=np.float32) * slope * 0.5, (60, 1))
        assert np.median(relief(plane, 0.5, 0, 0.0)) == pytest.approx(contrast, abs=0.003)
    # A detector at the right sees ground that falls to the right: here depth grows to the right.
    assert np.median(relief(plane, 0.5, 0, 0.5)) > np.median(relief(plane, 0.5, 0, 0.0)) > np.median(relief(plane, 0.5, 180, 0.5))


def test_shot_noise_of_6242_electrons_is_one_over_root_n_and_falls_with_the_dose():
    """100 pA for 10 µs is 6,242 electrons a pixel (tests/SOURCES.md); Poisson's law gives a relative spread of 1/√N."""
    electrons = 100e-12 * 10e-6 / 1.602176634e-19
    assert electrons == pytest.approx(6242, abs=1)
    level = np.ones((400, 400), np.float32)
    for dose, spread in ((electrons, 0.01266), (electrons / 100, 0.1266)):
        assert shot_noise(np.random.default_rng(0), level, dose).std() == pytest.approx(spread, rel=0.02)


def test_graphite_is_dark_in_either_mode_and_escape_from_deep_grooves_is_starved():
    """Backscatter coefficients 0.28 of iron, 0.06 of carbon; graphite dark in either mode (tests/SOURCES.md)."""
    assert graphite_grey(True) == pytest.approx(0.06 / 0.28)
    assert graphite_grey(True) < graphite_grey(False) < 0.8
    depth = np.tile(np.repeat(np.array([0.0, 0.8, 5.0], np.float32), 80), (80, 1))
    seen = [valleys(np.random.default_rng(seed), depth, 0.5, False) for seed in range(40)]
    dark = [[added[10:70, a : a + 50].mean() for a in (15, 95, 175)] for added, look in seen if look == "dark"]
    assert len(dark) > 10
    assert np.mean([level > shallow > deep for level, shallow, deep in dark]) > 0.7


def test_debris_hides_the_ground_and_fields_of_every_case_are_drawn():
    """Debris is not assessed, and metal moves only where the ring ran (semwear.terms); shares: common practice, no source."""
    made = [make(np.random.default_rng(seed), pixel_size_um=0.6, shape=(200, 210)) for seed in range(60)]
    assert 0.1 < np.mean([(one.codes == 255).any() for one in made]) < 0.7
    worn = [one for one in made if one.worn.any()]
    assert 0.5 < len(worn) / 60 < 0.98
    assert 0.5 < np.mean([(one.codes == 2).any() for one in worn]) < 0.95
    assert 0.2 < np.mean([(one.codes == 3).any() for one in worn]) < 0.7
    assert not any(np.isin(one.codes[~one.worn], (2, 3)).any() for one in made)
