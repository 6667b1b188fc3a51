"""The thresholded maker's random fields, geometry and states against theorems, definitions and handbook values."""

import cv2
import numpy as np
import pytest
from makers.thresholded import make
from makers.thresholded.grooves import _band, draw_ground
from makers.thresholded.random_fields import above, even, stretched
from makers.thresholded.wear import _scuffing, run_ring
from scipy.stats import norm

SHAPE = (300, 300)
PIXEL_UM = 0.5


def direction_deg(relief: np.ndarray) -> float:
    """The direction along which a relief changes least (degrees from the rows), by the tensor of its gradients."""
    gx, gy = (cv2.Sobel(relief, cv2.CV_64F, *way) for way in ((1, 0), (0, 1)))
    return float(np.degrees(0.5 * np.arctan2(2 * (gx * gy).mean(), (gx**2 - gy**2).mean())) + 90) % 180


def apart_deg(one: float, other: float) -> float:
    """The smaller angle (degrees) between two directions without a sense."""
    return abs((one - other + 90) % 180 - 90)


def surfaces(count: int):
    """Grounds with the surfaces that the ring left of them, the stroke down the picture."""
    for seed in range(count):
        rng = np.random.default_rng(seed)
        ground = draw_ground(rng, SHAPE, pixel_um=PIXEL_UM, stroke_deg=90)
        yield ground, run_ring(rng, ground, pixel_um=PIXEL_UM, stroke_deg=90)


def test_a_level_set_covers_the_share_that_the_normal_law_gives():
    """P(Z > u) of the standard normal law; many fields, since one holds few correlation lengths."""
    fields = np.stack([even(np.random.default_rng(seed), SHAPE, 6.0) for seed in range(12)])
    assert fields.std() == pytest.approx(1, abs=0.05)
    for level in (0.0, 1.0, 1.5):
        assert (fields > level).mean() == pytest.approx(norm.sf(level), abs=0.02)
    assert (fields[0] > above(fields[0], 0.2)).mean() == pytest.approx(0.2, abs=0.01)


def test_zero_crossings_come_as_often_as_rices_formula_says():
    """Rate = sqrt(-r''(0)) / π for correlation r (Rice 1944, from memory); r = exp(-d²/4L²) gives 1 / (π √2 L) a pixel."""
    for length in (6.0, 12.0):
        signs = np.stack([even(np.random.default_rng(seed), SHAPE, length) for seed in range(12)]) > 0
        for ahead, behind in ((signs[:, :, 1:], signs[:, :, :-1]), (signs[:, 1:], signs[:, :-1])):
            assert (ahead != behind).mean() == pytest.approx(1 / (np.pi * np.sqrt(2) * length), rel=0.08)


def test_a_stretched_field_runs_along_its_angle():
    """A direction measured by the tensor of gradients (definition), against the one asked for."""
    for angle in (0, 25, 90, 140):
        field = stretched(np.random.default_rng(angle), SHAPE, angle_deg=angle, long_px=80, short_px=5)
        assert apart_deg(direction_deg(field), angle) < 2


def test_the_lays_are_bisected_by_the_direction_across_the_stroke():
    """The included angle is bisected by the circumference; 30–60° usual, 140–150° for helical slide honing
    (semwear.terms; tests/SOURCES.md, values there from memory)."""
    angles = []
    for seed in range(40):
        first, second = draw_ground(np.random.default_rng(seed), (120, 120), pixel_um=PIXEL_UM, stroke_deg=20).lays_deg
        assert (first + second) / 2 == pytest.approx(20 + 90)
        angles.append(second - first)
    assert min(angles) < 45 and max(angles) > 135
    # And the grooves run where the lay says: within the few degrees that one stone's grits scatter (common practice, no source).
    for seed in range(6):
        depth, _ = _band(np.random.default_rng(seed), SHAPE, pixel_um=PIXEL_UM, lay_deg=35, share=0.3, wall=0.3)
        assert apart_deg(direction_deg(depth), 35) < 6


def test_walls_are_no_steeper_than_honed_ones_and_grooves_no_deeper():
    """Walls of 6 to 27°, depth up to 10 µm (tests/SOURCES.md, depth there from memory); half as much again for the rarest."""
    for seed in range(12):
        steep = float(np.tan(np.radians(30 if seed % 2 else 16)))
        depth, _ = _band(np.random.default_rng(seed), SHAPE, pixel_um=PIXEL_UM, lay_deg=0, share=0.3, wall=steep)
        gy, gx = np.gradient(depth.astype(np.float64), PIXEL_UM)
        slopes = np.degrees(np.arctan(np.hypot(gx, gy)))
        assert 5 < np.median(slopes[(depth > 0.1) & (depth < 0.4)]) < 27
        assert np.quantile(slopes[depth > 0.1], 0.99) < 30
        assert depth.max() < 15


def test_finishing_scratches_stay_plateau():
    """Within 0.5 µm of the plateau, finishing marks included (semwear.terms)."""
    for ground, _ in surfaces(8):
        assert -0.5 < ground.fine_um.min() < 0 == ground.fine_um.max()


def test_states_follow_the_half_micrometre_and_truncation_alone_is_plateau():
    """Open from 0.5 µm below the plateau; smeared only what moved metal closed of ground that deep (semwear.terms)."""
    closed = 0
    for ground, surface in surfaces(40):
        whole = surface.torn == 0
        assert ((surface.codes == 1) == (surface.depth_um >= 0.5))[whole].all()
        smeared = surface.codes == 2
        assert (ground.depth_um[smeared] >= 0.5).all() and surface.worn[smeared].all()
        assert (surface.depth_um[smeared] < 0.5).all()
        assert (surface.cap[smeared & whole] > 0).all()
        if "smear" not in surface.history:
            assert not smeared.any()
        closed += bool(smeared.any())
    assert closed >= 5


def test_scuffs_are_streaks_along_the_stroke():
    """Code 3 lies in streaks along the stroke (semwear.terms)."""
    for seed in range(6):
        torn = _scuffing(np.random.default_rng(seed), SHAPE, np.ones(SHAPE, bool), pixel_um=PIXEL_UM, stroke_deg=65)
        assert apart_deg(direction_deg(torn), 65) < 6


def test_about_four_fields_in_ten_are_unworn():
    """The project's own mix: 40 % unworn; three standard errors of a share of 60 (binomial)."""
    unworn = [not make(np.random.default_rng(seed), pixel_size_um=0.8, shape=(200, 200)).worn.any() for seed in range(60)]
    assert abs(np.mean(unworn) - 0.4) < 3 * np.sqrt(0.4 * 0.6 / 60)
