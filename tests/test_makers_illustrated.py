"""The illustrated maker's geometry and physics against definitions, formulas and handbook values."""

import cv2
import numpy as np
import pytest
from makers.illustrated import ground, moved, valleys
from makers.illustrated.instrument import shot
from makers.illustrated.layout import Groove, bisected, plan
from makers.illustrated.sheet import Sheet

cv2.setNumThreads(1)
SHAPE = (220, 240)


def trapezoid(depth_um: float, *, half: float = 20.0, floor: float = 0.4) -> Groove:
    """A groove straight across the field, `half` px from middle to rim."""
    path = np.stack([np.linspace(-10, 250, 38), np.full(38, 110.0)], 1)
    normals = np.broadcast_to([0.0, 1.0], (38, 2))
    return Groove(path, normals, np.full(38, half), np.full(38, depth_um), floor, np.zeros(5))


def depth_at(groove: Groove, across: np.ndarray) -> np.ndarray:
    """Depth (µm) of the trapezoid that the groove's numbers stand for, `across` px from its middle."""
    half, depth = groove.half[0], groove.depth[0]
    return np.interp(np.abs(across), [0, groove.floor * half, half], [depth, depth, 0])


def engraved(groove: Groove, seed: int = 0) -> Sheet:
    rng, sheet = np.random.default_rng(seed), Sheet.blank(SHAPE)
    valleys.draw(rng, sheet, groove, valleys.style(rng)[1])
    return sheet


def test_the_open_width_is_where_the_profile_lies_half_a_micrometre_deep():
    """Code 1 from 0.5 µm below the local plateau (semwear.terms), against the trapezoid sampled finely."""
    across = np.linspace(-30, 30, 60001)
    for depth_um in (0.4, 0.6, 1.5, 4.0):
        groove = trapezoid(depth_um)
        open_ = np.abs(across[depth_at(groove, across) >= 0.5])
        expected = open_.max() if open_.size else 0.0
        assert groove.open_half()[0] == pytest.approx(expected, abs=0.01)
        rows = (engraved(groove).codes[:, 120] == 1).sum()
        assert rows == pytest.approx(2 * expected, abs=2)


def test_wear_lowers_the_plateau_and_leaves_the_ground():
    """What lay `loss` deep is level after truncation by `loss` (geometry); the rest is that much less deep."""
    across = np.linspace(-30, 30, 6001)
    for depth_um, loss in ((2.0, 0.3), (3.0, 1.5), (1.0, 0.6)):
        new = trapezoid(depth_um)
        expected = np.maximum(depth_at(new, across) - loss, 0)
        assert depth_at(new.worn_by(loss), across) == pytest.approx(expected, abs=0.01)


def test_walls_are_no_steeper_than_a_blunt_grain_cuts():
    """Walls mostly 6 to 27° (tests/SOURCES.md); depth up to 10 µm, width up to about 50 µm (there from memory)."""
    angles, depths, widths = [], [], []
    for seed in range(30):
        for groove in plan(np.random.default_rng(seed), (0.3, 0.9), (450, 450), 0.5):
            half_um = 0.5 * np.median(groove.half)
            depths.append(np.median(groove.depth))
            widths.append(2 * half_um)
            angles.append(np.degrees(np.arctan(depths[-1] / (half_um * (1 - groove.floor)))))
    assert np.max(depths) <= 10 and np.quantile(widths, 0.99) < 60
    assert np.mean([5 <= angle <= 35 for angle in angles]) > 0.9
    assert np.quantile(angles, 0.99) < 40


def test_the_lays_are_bisected_by_the_direction_across_the_stroke():
    """tan(angle / 2) = axial speed / peripheral speed, axial along the stroke (semwear.terms)."""
    axial, peripheral, stroke = 20.0, 35.0, 0.3
    for lay in bisected(stroke, 2 * np.arctan(axial / peripheral)):
        assert abs(np.cos(lay - stroke) / np.sin(lay - stroke)) == pytest.approx(axial / peripheral)


def test_smear_covers_only_ground_that_was_an_open_valley():
    """Code 2 is the footprint of a groove that was open; a groove worn shallow is plateau and can't be closed (semwear.terms)."""
    closed = 0
    for seed in range(20):
        for groove in (trapezoid(2.0), trapezoid(1.2).worn_by(0.9)):
            sheet = engraved(groove, seed)
            before = sheet.codes.copy()
            moved.smear(np.random.default_rng(seed), sheet, [groove], -0.2, 0.5, np.pi / 2)
            smeared = sheet.codes == 2
            # A pixel at the rim may fall to either side of the polygons' edge.
            open_before = cv2.dilate((before == 1).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
            assert not smeared[~open_before].any()
            assert (sheet.codes[~smeared] == before[~smeared]).all()
            closed += smeared.sum() > 300
    assert closed >= 10


def test_graphite_scratches_and_shadows_are_no_valley():
    """Look-alikes stay plateau, a particle itself is not assessed (semwear.terms); carbon is dark (tests/SOURCES.md)."""
    tones = []
    for seed in range(10):
        rng, sheet = np.random.default_rng(seed), Sheet.blank(SHAPE)
        ground.graphite(rng, sheet, SHAPE, 0.5)
        tones.append(sheet.tone.mean())
        assert not sheet.codes.any()
        ground.scratches(rng, sheet, SHAPE, np.pi / 2, 30)
        assert not sheet.codes.any()
        clean = Sheet.blank(SHAPE)
        moved.debris(rng, clean, SHAPE, 0.5)
        assert set(np.unique(clean.codes)) <= {0, 255}
        assert (clean.tone[clean.codes == 0] < -0.04).any()
    assert np.mean(tones) < -0.002


def test_scuffing_runs_in_streaks_along_the_stroke():
    """Code 3 is torn in streaks along the stroke (semwear.terms): it changes seldom that way, often across."""
    seen = 0
    for seed in range(12):
        sheet = Sheet.blank(SHAPE)
        moved.scuff(np.random.default_rng(seed), sheet, SHAPE, 0.5, 0.0)
        torn = sheet.codes == 3
        if not 0.02 < torn.mean() < 0.9:
            continue
        seen += 1
        along, across = (torn[:, 1:] != torn[:, :-1]).sum(), (torn[1:] != torn[:-1]).sum()
        assert along < 0.7 * across
    assert seen >= 6


def test_shot_noise_follows_the_dose():
    """100 pA for 10 µs is 6,242 electrons a pixel (tests/SOURCES.md); their relative spread is 1 / sqrt(N) (Poisson)."""
    dose = 100e-12 * 10e-6 / 1.602176634e-19
    assert dose == pytest.approx(6242, abs=1)
    for level in (1.0, 0.25):
        counted = shot(np.random.default_rng(0), np.full((300, 300), level, np.float32), dose)
        assert counted.std() / counted.mean() == pytest.approx(1 / np.sqrt(dose * level), rel=0.02)
