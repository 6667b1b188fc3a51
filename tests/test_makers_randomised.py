"""The randomised maker's geometry, truth and physics against definitions and formulas."""

import numpy as np
import pytest
from makers.randomised import states_of, wear
from makers.randomised.grooves import cut, exponent, lays_of
from makers.randomised.noise import spectral
from makers.randomised.paint import Beam, slopes

SHAPE = (220, 260)


def direction(field: np.ndarray) -> np.ndarray:
    """Unit vector (x, y) along which a field changes least: structure tensor (linear algebra)."""
    by_row, by_col = np.gradient(field.astype(np.float64))
    tensor = [[(by_col**2).sum(), (by_col * by_row).sum()], [(by_col * by_row).sum(), (by_row**2).sum()]]
    return np.linalg.eigh(tensor)[1][:, 0]


def test_the_lays_are_bisected_by_the_direction_across_the_stroke():
    """tan(angle / 2) = axial speed / peripheral speed (semwear.terms)."""
    axial, peripheral, stroke = 20.0, 35.0, 1.2
    for lay in lays_of(stroke, 2 * np.arctan(axial / peripheral)):
        assert abs(np.tan(lay - (stroke + np.pi / 2))) == pytest.approx(axial / peripheral)
    relief = cut(np.random.default_rng(3), SHAPE, 0.5, stroke)
    assert sum(relief.lays) / 2 == pytest.approx(stroke + np.pi / 2)


def test_grooves_run_along_their_lay():
    """Lay: the direction of a family of hone grooves (semwear.terms); within 5° over the ground that one lay cut."""
    told = 0
    for seed in range(10):
        relief = cut(np.random.default_rng(seed), SHAPE, 0.5, 0.4)
        for lay in relief.lays:
            depth = np.where(np.abs(relief.lay - lay) < 1e-4, relief.depth, 0)
            others = np.where(np.abs(relief.lay - lay) < 1e-4, 0, relief.depth)
            if (depth > 0.3).mean() > 0.1 and (others > 0.3).mean() < 0.03:
                assert abs(direction(depth) @ [np.cos(lay), np.sin(lay)]) > np.cos(np.radians(5))
                told += 1
    assert told >= 2


def test_depths_and_walls_keep_to_the_trade():
    """Depth up to 10 µm (values there from memory), walls of 6 to 27° from rim to four fifths of depth (tests/SOURCES.md)."""
    deepest = []
    for seed in range(30):
        relief = cut(np.random.default_rng(seed), SHAPE, 1.2, 1.5)
        assert relief.depth.min() >= 0
        deepest.append(relief.depth.max())
    assert max(deepest) <= 10 and np.median(deepest) >= 1
    a = np.linspace(0, 1, 20001)
    for depth_um, width_um in ((0.7, 20.0), (3.0, 30.0), (3.0, 12.0), (10.0, 60.0)):
        for wanted in (1.0, 3.0, 7.0):
            share = 1 - a ** exponent(depth_um, width_um, wanted)
            run_um = (1 - a[np.abs(share - 0.8).argmin()]) * width_um / 2
            assert np.degrees(np.arctan(0.8 * depth_um / run_um)) <= 27.5
    assert exponent(0.2, 40.0, 3.0) == 3.0


def test_half_a_micrometre_parts_valley_plateau_and_smear():
    """Codes 1 and 2 by their definitions: wear alone never makes smear, nor does metal that left it open (semwear.terms)."""
    before = np.array([0.45, 0.50, 3.0, 3.0, 3.0, 0.45, 0.4, 0.0])
    ground = np.array([0.45, 0.50, 3.0, 0.6, 0.2, 0.20, 0.3, 0.0])
    crest = np.array([0.45, 0.50, 3.0, 3.0, 3.0, 0.45, 3.0, 3.0])
    filled = np.array([0.0, 0.0, 0.0, 0.8, 1.0, 1.0, 0.3, 1.0])
    valley, closed = states_of(before, ground, crest, filled)
    assert np.flatnonzero(valley).tolist() == [1, 2, 3]
    assert np.flatnonzero(closed).tolist() == [4]
    truncated = np.linspace(0, 3, 301)
    assert not states_of(truncated, truncated, truncated + 1, 0 * truncated)[1].any()


def test_metal_closes_grooves_of_the_track_only():
    """Smear is the footprint of a groove (semwear.terms): none on land, none where no ring ran."""
    closures = 0
    for seed in range(6):
        rng = np.random.default_rng(seed)
        relief = cut(rng, SHAPE, 0.5, 1.5)
        footprint, worn = relief.depth >= 0.5, np.zeros(SHAPE, bool)
        worn[:, 100:] = True
        filled = wear.close(rng, relief, footprint, worn, 1.5)
        assert filled.min() >= 0 and filled.max() <= 1
        assert not filled[~(footprint & worn)].any()
        closures += (filled > 0.5).sum() > 50
    assert closures >= 3


def test_scuff_lies_in_streaks_along_the_stroke():
    """Code 3: torn by adhesion, in streaks along the stroke (semwear.terms); within 10°, as they are ragged."""
    worn, told = np.ones((300, 300), bool), 0
    worn[:40] = False
    for seed in range(16):
        stroke = (0.0, 0.7, np.pi / 2, 2.4)[seed % 4]
        torn = wear.scuff(np.random.default_rng(seed), worn.shape, 0.5, worn, stroke)
        assert not torn[~worn].any()
        if 0.02 < torn.mean() < 0.7:
            assert abs(direction(torn[45:]) @ [np.cos(stroke), np.sin(stroke)]) > np.cos(np.radians(10))
            told += 1
    assert told >= 8


def test_noise_has_the_spectrum_asked_for():
    """Mean power at a frequency is the squared gain of the filter (Wiener and Khinchin); noise stretched lies along its angle."""
    length, roll_off, size = 4.0, 1.2, 256
    power = sum(np.abs(np.fft.fft2(spectral(np.random.default_rng(k), (size, size), length, roll_off=roll_off))) ** 2 for k in range(30))
    frequency = np.hypot(np.fft.fftfreq(size)[:, None], np.fft.fftfreq(size)[None, :])

    def mean_power(low):
        return power[(frequency >= low) & (frequency < 1.1 * low)].mean()

    def gain(low):
        return (1 + 6 * (1.05 * low * length) ** 2) ** (-2 * roll_off)

    assert mean_power(0.2) / mean_power(0.05) == pytest.approx(gain(0.2) / gain(0.05), rel=0.1)
    for angle in (0.3, 1.2, 2.5):
        field = spectral(np.random.default_rng(0), (256, 256), 3.0, stretch=12.0, angle=angle)
        assert field.std() == pytest.approx(1, rel=1e-3)
        assert abs(direction(field) @ [np.cos(angle), np.sin(angle)]) > np.cos(np.radians(3))


def test_a_wall_that_faces_the_detector_is_bright_and_tilt_adds_for_secondaries_only():
    """Ground between 6 and 27° is lengthened by sec θ, so a share 1 - cos θ of it is wall (trigonometry)."""
    for degrees in (6.0, 27.0):
        across_um = np.arange(60, dtype=np.float32)[None, :] * 0.5 + np.zeros((40, 60), np.float32)
        down_to_right = np.float32(np.tan(np.radians(degrees))) * across_um
        plain = slopes(down_to_right, 0.5, Beam(backscattered=False, side=0.0, shade=0.0, rim=0.2))
        assert plain[20, 30] == pytest.approx(0.2 * (1 - np.cos(np.radians(degrees))), rel=1e-3)
        back = Beam(backscattered=True, side=0.0, shade=0.3, rim=0.2)
        assert slopes(down_to_right, 0.5, back)[20, 30] > 0.02
        assert slopes(-down_to_right, 0.5, back)[20, 30] == pytest.approx(-slopes(down_to_right, 0.5, back)[20, 30], rel=1e-4)
