"""The faint maker's geometry and physics against definitions, formulas and handbook values."""

import numpy as np
import pytest
from makers.faint import make
from makers.faint.beam import View, signal
from makers.faint.camera import electrons, shot
from makers.faint.ground import codes, empty, paint, places
from makers.faint.hone import Groove, cut, lays
from makers.faint.profile import section
from makers.faint.track import STEPS, Track, windows

REACH_UM = 60.0
PIXEL_UM = 0.25


def ground_of(*, depth_um: float, worn_um: float = 0.0, share: float = 0.0, seed: int = 0):
    """One groove 20 µm wide straight across a field, perhaps worn and closed."""
    shape = (200, 240)
    along = (np.arange(shape[1], dtype=np.float32) - shape[1] / 2)[None, :] * PIXEL_UM + np.zeros(shape, np.float32)
    nothing = np.zeros(STEPS)
    spots = np.linspace(-REACH_UM, REACH_UM, STEPS)
    streaks = windows(spots, [-9.0], [9.0], 2.0) if share else (nothing, nothing)
    track = Track(spots, np.ones(STEPS, bool), nothing + worn_um, share, 0.0, 0.2, streaks)
    groove = Groove(section(depth_um, 20.0, 15.0), 8.0, 0.3, ((0.4, 35.0, 1.0),), -500.0, 500.0, 20.0, 0.0)
    ground = empty(shape)
    paint(
        np.random.default_rng(seed), ground, groove, track,
        place=places(along, REACH_UM), across_deg=0.0, pixel_size_um=PIXEL_UM,
    )  # fmt: skip
    return ground


def test_a_groove_has_its_depth_and_the_wall_slope_asked_for():
    """Slopes of 6 to 27° (tests/SOURCES.md); slope and curvature against differences of the closed form (calculus)."""
    across = np.linspace(-40, 40, 80001)
    for depth, wall in ((0.7, 8.0), (2.0, 15.0), (3.0, 25.0)):
        share, slope, bend = section(depth, 30.0, wall).at(across)
        assert share.max() == pytest.approx(1.0, abs=1e-3)
        assert np.degrees(np.arctan(depth * np.abs(slope).max())) == pytest.approx(wall, rel=0.03)
        assert slope[1:-1] == pytest.approx(np.gradient(share, across)[1:-1], abs=1e-5)
        assert bend[1:-1] == pytest.approx(np.gradient(slope, across)[1:-1], abs=1e-5)


def test_drawn_grooves_keep_to_the_depths_and_widths_of_the_trade():
    """Depth up to 10 µm, widths 2 to 60 µm; walls mostly within 6 to 27° (tests/SOURCES.md, values there from memory)."""
    grooves = [
        groove
        for seed in range(20)
        for groove in cut(
            np.random.default_rng(seed), lay_deg=(30, 80), covers=(0.2, 0.2), widths_um=(4.0, 60.0), reach_um=200.0, pixel_size_um=0.9
        )
    ]
    depths = np.array([groove.section.depth_um for groove in grooves])
    assert depths.min() >= 0.2 and depths.max() <= 10
    across = np.linspace(-40, 40, 4001)
    walls = [np.degrees(np.arctan(groove.section.depth_um * np.abs(groove.section.at(across)[1]).max())) for groove in grooves]
    assert np.mean([5.5 <= wall <= 28 for wall in walls]) > 0.75


def test_the_lays_are_bisected_by_the_direction_across_the_stroke():
    """tan(angle / 2) = axial speed / peripheral speed (semwear.terms)."""
    axial, peripheral = 20.0, 35.0
    first, second = lays(0.0, 2 * np.degrees(np.arctan(axial / peripheral)))
    assert np.tan(np.radians(second)) == pytest.approx(axial / peripheral)
    assert first == pytest.approx(-second)


def test_open_ground_is_half_a_micrometre_deep_and_shallower_grooves_are_plateau():
    """Code 1 from 0.5 µm below the local plateau (semwear.terms)."""
    deep, shallow = ground_of(depth_um=2.0), ground_of(depth_um=0.45)
    assert ((codes(deep) == 1) == (deep.depth_um >= 0.5)).all() and (codes(deep) == 1).mean() > 0.1
    assert (codes(shallow) == 0).all() and shallow.depth_um.max() > 0.4


def test_truncation_makes_plateau_and_moved_metal_makes_smear():
    """Code 2 is what moved metal has closed; wear alone never gives it (semwear.terms)."""
    worn = ground_of(depth_um=1.2, worn_um=0.9)
    assert (codes(worn) == 0).all()
    closings = [codes(ground_of(depth_um=2.0, share=1.0, seed=seed)) for seed in range(6)]
    assert any((closing == 2).sum() > 500 for closing in closings)
    for seed, closing in enumerate(closings):
        assert (ground_of(depth_um=2.0, share=1.0, seed=seed).before_um[closing == 2] >= 0.5).all()


def test_painted_slopes_are_the_slopes_of_the_painted_heights():
    """The gradient by its definition as a limit of differences (calculus), a closed groove's included."""
    for seed in range(4):
        ground = ground_of(depth_um=2.0, share=1.0, seed=seed)
        by_row, by_col = np.gradient(-ground.depth_um.astype(np.float64), PIXEL_UM)
        inner = np.s_[5:-5, 5:-5]
        assert np.quantile(np.abs(by_row - ground.along_row)[inner], 0.97) < 0.05 * np.abs(by_row).max()
        assert np.quantile(np.abs(by_col - ground.along_col)[inner], 0.97) < 0.05 * max(np.abs(by_col).max(), np.abs(by_row).max())


def test_tilt_alone_gives_half_to_twelve_per_cent():
    """sec θ for walls of 6 to 27° (tests/SOURCES.md); carbon is darker than iron by 0.06 to 0.28 in backscatter (Reuter)."""
    ground, nothing = empty((1, 2)), np.zeros((1, 2), np.float32)
    slopes = np.tan(np.radians(np.array([[6.0, 27.0]], np.float32)))
    plain = signal(View(False, 0.0, 0.0, 0.0, 0.0, 0.0), ground, slopes, nothing, carbon=nothing, bright=nothing)
    assert plain[0] - 1 == pytest.approx([0.0055, 0.122], abs=0.002)
    black = signal(View(True, 0.0, 0.0, 0.0, 0.0, 0.0), ground, nothing, nothing, carbon=nothing + 1, bright=nothing)
    assert black[0] == pytest.approx(0.06 / 0.28, rel=1e-3)


def test_shot_noise_follows_the_dose():
    """100 pA for 10 µs is 6,242 electrons a pixel (tests/SOURCES.md); relative noise is 1 / sqrt(N) (Poisson)."""
    dose = electrons(100, 10)
    assert dose == pytest.approx(6242, abs=1)
    counted = shot(np.random.default_rng(0), np.ones((300, 300), np.float32), dose)
    assert counted.std() == pytest.approx(1 / np.sqrt(dose), rel=0.02)


def test_about_four_fields_in_ten_are_unworn():
    """The project's own mix: 40 % unworn; three standard errors of a share of 60 (binomial)."""
    unworn = [not make(np.random.default_rng(seed), pixel_size_um=0.8, shape=(200, 200)).worn.any() for seed in range(60)]
    assert abs(np.mean(unworn) - 0.4) < 3 * np.sqrt(0.4 * 0.6 / 60)
