"""The abraded maker's geometry and physics against definitions, formulas and handbook values."""

import cv2
import numpy as np
import pytest
from makers.abraded.extras import DARKEST, add_extras
from makers.abraded.grooves import cut_band
from makers.abraded.microscope import shot, tilt_gain
from makers.abraded.moved import scuff
from makers.abraded.noise import Frame
from makers.abraded.surface import lays, make_surface, states

cv2.setNumThreads(1)
SHAPE = (220, 240)


def surfaces(count: int, pixel_um: float = 0.6) -> list:
    return [make_surface(np.random.default_rng(seed), SHAPE, pixel_um) for seed in range(count)]


def band(seed: int, *, depth_um: float = 2.0, width_um: float = 15.0):
    rng = np.random.default_rng(seed)
    return cut_band(rng, Frame(SHAPE, 0.0), 0.5, depth_um=depth_um, width_um=width_um, gap=80.0)


def test_states_follow_from_depths_before_and_after_metal_moved():
    """Open from 0.5 µm below the local plateau, smeared where such ground was closed, else plateau (semwear.terms)."""
    cut = np.array([0.0, 0.45, 0.55, 0.55, 3.0, 3.0])
    after = np.array([0.0, 0.45, 0.55, 0.10, 0.6, 0.4])
    assert states(cut, after).tolist() == [0, 0, 1, 2, 1, 2]


def test_open_ground_is_deep_and_only_moved_metal_makes_smear():
    """Code 1 lies 0.5 µm or more below the plateau, code 2 less; truncation alone is plateau (semwear.terms)."""
    smeared = 0
    for surface in surfaces(40):
        assert (surface.depth[surface.codes == 1] >= 0.5).all()
        assert (surface.depth[np.isin(surface.codes, (0, 2))] < 0.5).all()
        if "smeared" not in surface.kind:
            assert not (surface.codes == 2).any()
        smeared += (surface.codes == 2).sum() > 500
    assert smeared >= 5


def test_walls_slope_as_those_of_honed_grooves_do():
    """Walls of 6 to 27° (tests/SOURCES.md); depth up to 10 µm, width up to about 50 µm (there from memory)."""
    steepest = []
    for seed in range(12):
        for groove in band(seed, depth_um=3.0).grooves:
            assert np.median(groove.depth.max(axis=1)) <= 10 and 2 <= groove.width * 0.5 <= 60
            rows = groove.depth[groove.depth.max(axis=1) > 0.5]
            if len(rows):
                slopes = np.abs(np.diff(rows, axis=1)).max(axis=1) / 0.5
                steepest.append(np.degrees(np.arctan(np.median(slopes))))
    assert len(steepest) > 20
    assert np.mean([5.5 <= angle <= 30 for angle in steepest]) > 0.75
    assert max(steepest) < 40


def test_the_lays_are_bisected_by_the_direction_across_the_stroke():
    """tan(angle / 2) = axial speed / peripheral speed, axial along the stroke (semwear.terms)."""
    axial, peripheral, stroke = 20.0, 35.0, 0.3
    for lay in lays(stroke, 2 * np.arctan(axial / peripheral)):
        along = abs(np.cos(lay - stroke)), abs(np.sin(lay - stroke))
        assert along[0] / along[1] == pytest.approx(axial / peripheral)


def test_tilt_alone_gives_half_to_twelve_per_cent():
    """Yield as the secant: walls of 6 to 27° gain 0.5 to 12 % (tests/SOURCES.md), whichever way they face."""
    slopes = np.tan(np.radians([6.0, 27.0]))
    assert tilt_gain(slopes, 0 * slopes) == pytest.approx([0.0055, 0.122], abs=0.001)
    assert tilt_gain(0.6 * slopes, -0.8 * slopes) == pytest.approx(tilt_gain(slopes, 0 * slopes))


def test_shot_noise_follows_the_dose():
    """100 pA for 10 µs is 6,242 electrons a pixel (tests/SOURCES.md); their relative spread is 1 / sqrt(N) (Poisson)."""
    dose = 100e-12 * 10e-6 / 1.602176634e-19
    assert dose == pytest.approx(6242, abs=1)
    for level in (1.0, 0.25):
        counted = shot(np.random.default_rng(0), np.full((300, 300), level, np.float32), dose)
        assert counted.std() / counted.mean() == pytest.approx(1 / np.sqrt(dose * level), rel=0.02)


def test_graphite_and_debris_are_no_valley_and_graphite_is_no_darker_than_carbon():
    """Look-alikes aren't open valley (semwear.terms); backscatter of carbon 0.06, of iron 0.28 (Reuter, tests/SOURCES.md)."""
    assert pytest.approx(0.06 / 0.28) == 1 - DARKEST
    pitted = 0
    for seed, surface in enumerate(surfaces(30)):
        codes, height = surface.codes.copy(), surface.height.copy()
        _, _, hidden = add_extras(np.random.default_rng(seed), surface, 0.6)
        assert (surface.codes == codes).all()
        pitted += ((height - surface.height > 0.5) & (codes == 0) & ~hidden).any()
    assert pitted > 5


def test_scuffing_runs_in_streaks_along_the_stroke():
    """Code 3 is torn in streaks along the stroke (semwear.terms): it changes seldom that way, often across."""
    for seed in range(6):
        torn, _ = scuff(np.random.default_rng(seed), Frame(SHAPE, 0.0), 0.5, 0.3)
        assert 0.05 < torn.mean() < 0.7
        along, across = (torn[:, 1:] != torn[:, :-1]).mean(), (torn[1:] != torn[:-1]).mean()
        assert along < 0.7 * across
