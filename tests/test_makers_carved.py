"""The carved maker's geometry and physics against definitions, formulas and handbook values."""

import cv2
import numpy as np
import pytest
from makers.carved import make, states
from makers.carved.carve import finish, lay_of_grooves
from makers.carved.frame import Frame, lay_frames
from makers.carved.move import cap_grooves, tear
from makers.carved.scope import counted

SHAPE = (300, 300)


def direction_deg(relief: np.ndarray) -> float:
    """The direction along which a relief changes least (degrees from the rows), by the tensor of its gradients."""
    gx, gy = (cv2.Sobel(relief, cv2.CV_64F, *way) for way in ((1, 0), (0, 1)))
    return float(np.degrees(0.5 * np.arctan2(2 * (gx * gy).mean(), (gx**2 - gy**2).mean())) + 90) % 180


def apart_deg(one: float, other: float) -> float:
    """The smaller angle (degrees) between two directions without a sense."""
    return abs((one - other + 90) % 180 - 90)


def test_the_carved_lays_are_bisected_by_the_direction_across_the_stroke():
    """tan(angle / 2) = axial speed / peripheral speed (semwear.terms); measured on the carved relief itself."""
    axial, peripheral = 20.0, 35.0
    stroke = Frame(np.radians(70), SHAPE)
    for seed in range(4):
        rng = np.random.default_rng(seed)
        frames = lay_frames(stroke, 2 * np.arctan(axial / peripheral))
        found = [direction_deg(lay.frame.to_picture(lay.depth)) for lay in (lay_of_grooves(rng, f, 0.6, 1.0, 10.0) for f in frames)]
        assert [apart_deg(one, 70 + 90) for one in found] == pytest.approx([np.degrees(np.arctan(axial / peripheral))] * 2, abs=3)
        assert apart_deg(*found) == pytest.approx(2 * np.degrees(np.arctan(axial / peripheral)), abs=4)


def test_grooves_keep_to_the_depths_widths_and_wall_slopes_of_the_trade():
    """Depth 1 to 10 µm, width 5 to 50 µm, tails beyond; walls 6 to 27° (tests/SOURCES.md, values there from memory)."""
    rng = np.random.default_rng(0)
    lays = [lay_of_grooves(rng, Frame(0.4, SHAPE), 0.6, 1.0, 12.0) for _ in range(12)]
    depths, halves = (np.array([getattr(g, name) for lay in lays for g in lay.grooves]) for name in ("depth", "half"))
    widths = 2 * halves * 0.6
    assert depths.min() >= 0.2 and depths.max() <= 10 and 1 <= np.median(depths) <= 10
    assert widths.min() >= 2 and widths.max() <= 60 and 5 <= np.median(widths) <= 50
    slopes = np.degrees(np.arctan(depths / (widths / 2)))
    assert np.mean((slopes > 5) & (slopes < 27)) > 0.9


def test_grooves_are_straight_over_a_field():
    """The sweep of a hone is straight beside a field's width (common practice, no source): paths leave their chord by some
    1 % of it at the most."""
    rng = np.random.default_rng(1)
    for _ in range(8):
        for groove in lay_of_grooves(rng, Frame(0.0, SHAPE), 0.25, 1.0, 20.0).grooves:
            along = np.arange(groove.path.size)
            bow = groove.path - np.polyval(np.polyfit(along, groove.path, 1), along)
            assert bow.std() < 0.01 * along.size


def test_finishing_marks_stay_plateau():
    """Within 0.5 µm of the plateau, finishing and running-in marks included (semwear.terms)."""
    for seed in range(5):
        marks = finish(np.random.default_rng(seed), Frame(0.3, SHAPE), 200, 0.42)
        assert 0.1 < marks.max() < 0.5


def test_truncation_makes_plateau_and_moved_metal_makes_smear():
    """Open from 0.5 µm below the plateau; smeared is what moved metal closed of ground that deep (semwear.terms)."""
    deep, shallow, nothing = (np.full((60, 60), d, np.float32) for d in (1.5, 0.45, 0.0))
    everywhere = np.ones((60, 60), bool)
    assert (states(deep, deep, nothing, everywhere) == 1).all()
    assert (states(shallow, shallow, nothing, everywhere) == 0).all()
    assert (states(deep, shallow, nothing, everywhere) == 2).all()
    assert (states(shallow, nothing, nothing, everywhere) == 0).all()
    assert (states(deep, deep, nothing + 1, everywhere) == 3).all()
    assert (states(deep, deep, nothing + 1, ~everywhere) == 1).all()


def test_folds_interrupt_the_deep_grooves_most():
    """Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548 (tests/SOURCES.md); and more moved metal closes more."""

    def shut(depth_um: float, amount: float) -> float:
        shares = []
        for seed in range(12):
            rng = np.random.default_rng(seed)
            lay = lay_of_grooves(rng, Frame(0.3, SHAPE), 0.6, 1.0, 12.0)
            for groove in lay.grooves:
                groove.depth = depth_um
            cap_grooves(rng, lay, amount, 2.0, stroke=1.4)
            shares.append(lay.shut[lay.depth > 0.5].mean())
        return float(np.mean(shares))

    assert shut(5.0, 0.3) > 1.15 * shut(0.6, 0.3)
    assert shut(2.0, 0.6) > 1.5 * shut(2.0, 0.15)


def test_scuffs_are_streaks_along_the_stroke():
    """Code 3 lies in streaks along the stroke (semwear.terms)."""
    for seed in range(5):
        cover, _ = tear(np.random.default_rng(seed), Frame(np.radians(60), SHAPE), 0.6, True)
        assert apart_deg(direction_deg(cover), 60) < 6


def test_shot_noise_follows_the_dose():
    """100 pA for 10 µs is 6,242 electrons a pixel (tests/SOURCES.md); relative noise is 1 / sqrt(N) (Poisson)."""
    for level in (0.5, 1.0):
        grey = counted(np.random.default_rng(0), np.full(SHAPE, level, np.float32), 6242)
        assert grey.std() / level == pytest.approx(1 / np.sqrt(6242 * level), rel=0.02)


def test_about_four_fields_in_ten_are_unworn():
    """The project's own mix: 40 % unworn; three standard errors of a share of 60 (binomial)."""
    unworn = [not make(np.random.default_rng(seed), pixel_size_um=0.8, shape=(200, 200)).worn.any() for seed in range(60)]
    assert abs(np.mean(unworn) - 0.4) < 3 * np.sqrt(0.4 * 0.6 / 60)
