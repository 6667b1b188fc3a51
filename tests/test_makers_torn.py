"""The maker of torn fields against published formulas, facts of the trade and the definitions of the mask codes."""

import numpy as np
import pytest
from makers.torn import make
from makers.torn.closing import filled, truncated
from makers.torn.frame import Frame
from makers.torn.hone import honed, lays, profile
from makers.torn.junctions import furrow, scuffed
from makers.torn.marks import abrasive, running_in
from makers.torn.picture import Detector, signal
from scipy.integrate import trapezoid


def test_the_circumference_bisects_the_included_hone_angle():
    """semwear.terms: hone angle; tan(angle/2) = axial speed / peripheral speed."""
    axial, peripheral = 0.3, 0.8
    one, other = lays(0.0, 2 * np.arctan(axial / peripheral))  # the stroke runs along the rows
    for lay in (one, other):
        assert abs(np.cos(lay) / np.sin(lay)) == pytest.approx(axial / peripheral)
    assert (one + other) / 2 == pytest.approx(np.pi / 2)


@pytest.mark.parametrize("slope_deg", [6, 15, 27])
def test_a_groove_has_the_slope_width_and_depth_it_was_given(slope_deg):
    """tests/SOURCES.md: walls slope 6-27 degrees. Depth of straight walls is half the width times the tangent."""
    across = np.linspace(-15, 15, 3001)
    depth = profile(across, 20.0, slope_deg, 10.0)
    assert np.degrees(np.arctan(np.abs(np.gradient(depth, across)).max())) == pytest.approx(slope_deg, abs=0.1)
    assert np.ptp(across[depth > 0]) == pytest.approx(20, abs=0.05)
    assert 0.6 * 10 * np.tan(np.radians(slope_deg)) < depth.max() <= 10 * np.tan(np.radians(slope_deg)) + 1e-6


def test_new_ground_has_neither_smear_nor_scuffing_and_valleys_of_the_trade():
    """semwear.terms: both come of sliding. tests/SOURCES.md: grooves 1-10 µm deep, valley share 15-30 % (from
    memory there, so only its order of size is asked for)."""
    shares = []
    for seed in range(30):
        made = make(np.random.default_rng(seed), pixel_size_um=0.7, shape=(200, 200))
        if not made.worn.any():
            assert not np.isin(made.codes, (2, 3)).any()
            shares.append((made.codes == 1).mean())
        assert honed(np.random.default_rng(seed), (200, 200), 0.7, 0.0).depth.max() <= 10
    assert len(shares) >= 6 and 0.08 < np.mean(shares) < 0.4


def test_truncation_makes_plateau_and_never_smear():
    """semwear.terms: smeared is what moved metal closed; a groove that wear made shallow is plateau."""
    depth = profile(np.linspace(-10, 10, 201), 20.0, 8, 1.2)
    assert (truncated(depth, 0.4) >= 0.5).sum() < (depth >= 0.5).sum()
    assert truncated(depth, 1.0).max() < 0.5
    block = np.tile(truncated(depth, 1.0), (201, 1))
    frame = Frame(block.shape, 0.5, 0.0)
    after, _, metal = filled(
        np.random.default_rng(1), frame, block, np.zeros_like(block), np.ones(block.shape, bool), 0.8
    )
    assert not metal.any() and np.array_equal(after, block)


def test_moved_metal_closes_the_asked_share_to_within_half_a_micrometre():
    """semwear.terms: smeared, closed to within 0.5 µm of the plateau; outside the track nothing moves."""
    rng = np.random.default_rng(2)
    depth = np.tile(profile(np.linspace(-60, 60, 300) % 30 - 15, 24.0, 20, 4.0), (300, 1)).astype(np.float32)
    worn = np.arange(300)[:, None] < np.full((1, 300), 200)
    after, _, metal = filled(rng, Frame(depth.shape, 0.4, np.pi / 2), depth, np.zeros_like(depth), worn, 0.4)
    assert after[metal > 0].max() < 0.5
    assert np.array_equal(after[~worn], depth[~worn]) and not metal[~worn].any()
    assert metal[worn & (depth >= 0.5)].mean() == pytest.approx(0.4, abs=0.05)


@pytest.mark.parametrize("kept", [0.2, 0.6, 1.0])
def test_a_furrow_piles_up_the_share_of_its_cut_that_was_not_removed(kept):
    """Degree of wear f_ab = (cut - piled) / cut: 1 in micro-cutting, 0 in pure ploughing (Zum Gahr, Microstructure and Wear of
    Materials, 1987; from memory)."""
    ratio = np.linspace(-3, 3, 6001)
    # Ridges apart from the cut, which they overlap a little at the rim.
    piled = trapezoid(furrow(ratio, 1.0, kept) - furrow(ratio, 1.0, 0.0), ratio)
    cut = -trapezoid(furrow(ratio, 1.0, 0.0), ratio)
    assert cut == pytest.approx(4 / 3, rel=1e-3)  # area under a parabola
    assert 1 - piled / cut == pytest.approx(1 - kept, abs=0.01)


@pytest.mark.parametrize("angle", [0.0, np.pi / 2, 0.6])
def test_scuffing_lies_in_streaks_along_the_stroke(angle):
    """semwear.terms: torn or ploughed by adhesion, in streaks along the stroke. Edges of the torn area face across it."""
    along = across = 0.0
    for seed in range(4):
        torn = scuffed(np.random.default_rng(seed), Frame((300, 300), 0.8, angle), "band").torn.astype(float)
        gy, gx = np.gradient(torn)
        along += np.square(gx * np.cos(angle) + gy * np.sin(angle)).sum()
        across += np.square(-gx * np.sin(angle) + gy * np.cos(angle)).sum()
    assert across > 1.5 * along > 0


def test_scratches_along_the_stroke_are_no_valley_however_deep(monkeypatch):
    """semwear.terms: scratches along the stroke are look-alikes; running-in marks stay within 0.5 µm of the plateau.
    The same fields with scratches of no depth and of twenty times their depth differ to the eye, not in the truth."""
    frame = Frame((200, 200), 0.5, np.pi / 2)
    assert max(-abrasive(np.random.default_rng(seed), frame, 6).min() for seed in range(8)) > 0.5
    assert min(running_in(np.random.default_rng(seed), frame).min() for seed in range(8)) > -0.5
    seen = {}
    for times in (0, 20):
        monkeypatch.setattr("makers.torn.abrasive", lambda *given, times=times: times * abrasive(*given))
        seen[times] = [make(np.random.default_rng(seed), pixel_size_um=0.5, shape=(200, 200)) for seed in range(12)]
    pairs = list(zip(seen[0], seen[20], strict=True))
    assert all(np.array_equal(none.codes, deep.codes) for none, deep in pairs)
    assert any(not np.array_equal(none.image, deep.image) for none, deep in pairs)


def test_tilt_and_matter_give_the_published_contrast():
    """tests/SOURCES.md: yield grows as sec of the tilt, 0.5-12 % for walls of 6-27 degrees; backscatter coefficient
    0.28 for iron and 0.06 for carbon."""
    level = np.zeros((80, 80), np.float32)
    eye = Detector(backscattered=False, side=np.pi / 2, sided=0.5, edges=0.0, escape=1.0)
    for slope_deg, contrast in ((6, 0.0055), (27, 0.122)):
        ramp = np.tile(np.arange(80, dtype=np.float32) * 0.5 * np.tan(np.radians(slope_deg)), (80, 1))
        middle = signal(ramp, level, level, 0.5, eye)[40, 40]  # faces neither to nor from this detector
        assert middle - 1 == pytest.approx(contrast, abs=0.002)
    back = Detector(backscattered=True, side=0, sided=0.5, edges=0.0, escape=1.0)
    assert signal(level, level + 1, level, 0.5, back).mean() == pytest.approx(0.06 / 0.28, rel=0.01)
