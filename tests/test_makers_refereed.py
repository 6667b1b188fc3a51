"""The maker of fields called refereed against definitions, formulas and handbook values from outside of it."""

import cv2
import numpy as np
import pytest
from makers.refereed import grooves, make, microscope, scuff, smear, truth
from makers.refereed.relief import Frame


def test_a_v_groove_has_the_wall_slope_it_was_asked_for():
    """Groove walls slope 6–27° (tests/SOURCES.md, secondary-electron picture); slope = atan(depth / run)."""
    pixel_um = 0.05
    for depth_um, slope_deg in [(0.7, 6.0), (2.0, 15.0), (6.0, 27.0)]:
        half_um = grooves.half_width_um(depth_um, slope_deg, wall=1.0)
        across_um = np.arange(-half_um, half_um, pixel_um)
        height = -depth_um * grooves.profile(across_um / half_um, wall=1.0)
        steepest = np.rad2deg(np.arctan(np.abs(np.diff(height)).max() / pixel_um))
        assert steepest == pytest.approx(slope_deg, abs=0.1)


def test_grooves_keep_to_the_depths_and_widths_of_the_trade():
    """Depth 1–10 µm and width 5–50 µm are usual (tests/SOURCES.md, from memory); fine ones go down to 0.2 and 2 µm."""
    size, pixel_um = 640, 0.7
    cut = [g for seed in range(12) for g in grooves.band(np.random.default_rng(seed), size, pixel_um, 0.25, 3.0)]
    width_um = np.array([2 * np.median(g.half_px) * pixel_um for g in cut])
    depth_um = np.array([g.depth_um.max() for g in cut])
    assert 5 < np.median(width_um) < 50 and width_um.max() < 1.6 * 60
    assert 1 < np.median(depth_um) < 10 and depth_um.max() < 1.7 * 10


def test_the_valley_is_the_part_of_a_groove_at_least_half_a_micrometre_deep():
    """Codes 0 and 1 of semwear.terms: a V of depth d and half width w is open over the width 2·w·(1 − 0.5/d)."""
    pixel_um, half_um = 0.1, 15.0
    across = np.linspace(-2 * half_um, 2 * half_um, 601)[None].repeat(3, 0)
    nothing = np.zeros_like(across, np.float32)
    for depth_um, wear_um in [(0.45, 0.0), (2.0, 0.0), (2.0, 1.0), (2.0, 1.6)]:
        height = truth.cut(-depth_um * grooves.profile(across / half_um, 1.0), np.float64(wear_um))
        codes = truth.codes(height, height, nothing, nothing, pixel_um)
        wide_um = 2 * half_um * max(1 - (0.5 + wear_um) / depth_um, 0)
        assert (codes[1] == 1).sum() * pixel_um == pytest.approx(wide_um, abs=0.25)
        # Truncation makes a groove shallow without moving metal: plateau, not smeared.
        assert not (codes == 2).any()


def test_smeared_is_what_was_a_valley_and_is_closed_to_within_half_a_micrometre():
    """Code 2 of semwear.terms: the footprint closed by moved metal, and neither half-filled ground nor plateau."""
    before = np.float32([[0.0, -0.4, -3.0, -3.0, -3.0, -0.6]])
    after = np.float32([[0.0, -0.1, -0.49, -0.51, 0.1, 0.0]])
    nothing = np.zeros_like(before)
    assert truth.codes(before, after, nothing, nothing, 0.5).tolist() == [[0, 0, 2, 1, 2, 2]]


def test_every_closure_but_the_half_filled_floor_reaches_within_half_a_micrometre():
    """Code 2 of semwear.terms for each kind of closure; a floor filled in part stays a valley (code 1)."""
    along, across = np.meshgrid(np.linspace(-1.2, 1.2, 80, dtype=np.float32), np.linspace(-1, 1, 30, dtype=np.float32))
    for kind in smear.KINDS:
        for seed in range(20):
            rng = np.random.default_rng(seed)
            metal = smear.closure(rng, kind, along, across, rng.standard_normal(along.shape).astype(np.float32))
            reached = metal[metal > smear.EMPTY_UM]
            # Half-filled ground lies 0.6 µm deep or deeper in the mean; its own relief is 0.2 µm.
            assert np.median(reached) < -0.5 if kind == "floor" else reached.min() > -0.5
            assert 0.01 < reached.size / metal.size < 0.99


def test_electrons_range_in_iron_and_yield_by_tilt_are_the_handbooks():
    """Kanaya, Okayama (1972): iron at 5/10/15/20 kV 0.16/0.50/0.99/1.60 µm; secⁿθ, n ≈ 1, gives 0.5–12 % at 6–27°
    (tests/SOURCES.md; the power from memory); carbon scatters back 0.06 against 0.28 (Reuter)."""
    ranges = [microscope.electron_range_um(kv) for kv in (5, 10, 15, 20)]
    assert ranges == pytest.approx([0.16, 0.50, 0.99, 1.60], abs=0.012)
    gained = microscope.secant_yield(np.tan(np.deg2rad([6.0, 27.0]))) - 1
    assert gained == pytest.approx([0.0055, 0.122], abs=0.001)
    assert pytest.approx((0.28, 0.06)) == (microscope.ETA_IRON, microscope.ETA_CARBON)


def test_a_deep_narrow_groove_starves_and_a_shallow_one_hardly():
    """Escape is starved from deep grooves (tests/SOURCES.md); level ground starves nowhere."""
    across_um = np.arange(-40, 40, 0.4)[None].repeat(40, 0)
    floor = []
    for depth_um in (0.0, 0.5, 6.0):
        height = (-depth_um * grooves.profile(across_um / 8, 1.0)).astype(np.float32)
        floor.append(float(microscope.starvation(height, 0.4, 4.0, 1.0)[20, 100]))
    assert floor[0] == pytest.approx(1.0, abs=1e-4)
    assert floor[2] < 0.85 < 0.95 < floor[1] < 1


def test_the_lays_lie_at_half_the_hone_angle_either_side_of_the_circumference():
    """The hone angle is bisected by the direction across the stroke (semwear.terms, words). A line along the rows
    of a frame turned by a degrees rises by tan(a) on the picture."""
    for angle_deg in (-60.0, 10.0, 35.0):
        frame = Frame((201, 301), angle_deg)
        drawn = np.zeros((frame.size, frame.size), np.float32)
        drawn[frame.size // 2 - 2 : frame.size // 2 + 3] = 1
        y, x = np.nonzero(frame.to_field(drawn) > 0.5)
        _, vectors = np.linalg.eigh(np.cov(np.stack([x, y])))
        lay = np.rad2deg(np.arctan2(vectors[1, 1], vectors[0, 1]))
        assert (lay - angle_deg + 90) % 180 - 90 == pytest.approx(0, abs=0.7)


def test_scuffing_lies_in_streaks_along_the_stroke():
    """Code 3 of semwear.terms: torn in streaks along the stroke, which are the rows of the frame."""
    ratios = []
    for seed in range(8):
        reach = scuff.streaks(np.random.default_rng(seed), 300, 0.8, 0.15)
        along, across = (np.abs(np.diff(cv2.GaussianBlur(reach, (0, 0), 2), axis=axis)).sum() for axis in (1, 0))
        ratios.append(across / along)
    assert np.median(ratios) > 1.5


def test_about_four_fields_in_ten_are_unworn_and_smear_comes_with_wear_only():
    """Shares are this project's own; moved metal lies where the ring ran (semwear.terms, zone and codes 2, 3)."""
    made = [make(np.random.default_rng(seed), pixel_size_um=0.9, shape=(200, 200)) for seed in range(90)]
    unworn = [m for m in made if not m.worn.any()]
    assert 0.25 < len(unworn) / len(made) < 0.55
    assert not any(np.isin(m.codes, (2, 3)).any() for m in unworn)
    worn = [m for m in made if m.worn.any()]
    assert 0.35 < np.mean([(m.codes == 2).any() for m in worn]) < 0.85
    assert 0.08 < np.mean([(m.codes == 3).mean() > 0.005 for m in worn]) < 0.45
