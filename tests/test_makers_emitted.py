"""The emitted maker's geometry and physics against definitions, formulas and published values."""

import cv2
import numpy as np
import pytest
from makers.emitted import litter, matter, wear
from makers.emitted.band import Band, Habit, cut, exponent, section
from makers.emitted.electrons import depth_range, open_sky, shade
from makers.emitted.surface import build, closed, lays_of
from makers.emitted.truth import codes_of, settle

SHAPE = (120, 140)


def bands_of(*, depth_um: float, cap: float) -> list[Band]:
    """One flat-floored groove across a field, covered by metal to a share cap, and a second lay without grooves."""
    nothing = np.zeros(SHAPE, np.float32)
    groove, over = nothing.copy(), nothing.copy()
    groove[50:70], over[45:75] = depth_um, cap
    return [Band(groove, nothing, over, nothing), Band(nothing, nothing, nothing, nothing)]


def test_the_lays_are_bisected_by_the_direction_across_the_stroke():
    """tan(angle / 2) = axial speed / peripheral speed (semwear.terms)."""
    axial, peripheral, stroke = 20.0, 35.0, 0.7
    for lay in lays_of(stroke, 2 * np.arctan(axial / peripheral)):
        assert abs(np.tan(lay - (stroke + np.pi / 2))) == pytest.approx(axial / peripheral)
    first, second = lays_of(stroke, 1.0)
    assert first - second == pytest.approx(1.0)


@pytest.mark.parametrize(("depth_um", "width_um"), [(0.7, 20.0), (3.0, 30.0), (3.0, 12.0), (10.0, 60.0)])
def test_walls_of_grooves_slope_by_27_degrees_at_most_and_depths_end_at_ten_micrometres(depth_um, width_um):
    """Walls slope by 6 to 27° (tests/SOURCES.md); from the rim to four fifths of depth, found by looking for that place.
    Depths up to 10 µm (same file, from memory)."""
    a = np.linspace(0, 1, 20001)
    for wanted in (1.1, 3.0, 8.0):
        share = section(a, exponent(depth_um, width_um, wanted))
        assert share[0] == pytest.approx(1, abs=1e-3) and share[-1] == pytest.approx(0, abs=1e-2)
        assert (np.diff(share) <= 0).all()
        run_um = (1 - a[np.abs(share - 0.8).argmin()]) * width_um / 2
        assert np.degrees(np.arctan(0.8 * depth_um / run_um)) <= 27.5
    assert exponent(0.2, 40.0, 3.0) == 3.0
    common = Habit(width=width_um, depth=depth_um, cover=0.4, wall=3.0, closed=0.0, grouping=0.0, ending=0.0, closing_length=2.0)
    depths = [cut(np.random.default_rng(seed), SHAPE, 1.0, 0.4, 1.6, common, 1.0).depth.max() for seed in range(4)]
    assert 0.5 * depth_um < max(depths) <= 10


def test_half_a_micrometre_parts_the_states_and_only_moved_metal_in_the_track_makes_smear():
    """Codes 0, 1 and 2 by their definitions; wear alone never gives code 2 (semwear.terms)."""
    before = np.array([0.0, 0.45, 0.5, 3.0, 3.0, 3.0])
    after = np.array([0.0, 0.45, 0.5, 3.0, 0.6, 0.2])
    assert codes_of(before, after).tolist() == [0, 0, 1, 1, 1, 2]
    ran = np.zeros(SHAPE, np.float32)
    ran[:, 60:] = 1
    for cap, worn_off, there in ((0.0, 0.8, 0), (1.0, 0.1, 2), (1.0, 0.8, 0)):
        _, before, depth = closed(np.random.default_rng(1), bands_of(depth_um=1.2, cap=cap), ran, worn_off * ran, 8)
        codes = codes_of(before, depth)
        assert (codes[50:70, 60:] == there).all() and (codes[50:70, :60] == 1).all()
        assert (codes[:50] == 0).all() and (codes[70:] == 0).all()


def test_heights_keep_to_their_codes(monkeypatch):
    """Open ground lies 0.5 µm deep or deeper, all else but torn metal within 0.5 µm (semwear.terms)."""
    monkeypatch.setattr(litter, "strew", lambda rng, pixel, height, atomic, codes: (height, atomic, atomic, codes))
    seen = set()
    for seed in range(24):
        ground = build(np.random.default_rng(seed), 0.5, (200, 220))
        if "scuff" in ground.name:
            continue
        assert not (ground.height[ground.codes == 1] > -0.5).any()
        assert not (ground.height[ground.codes != 1] <= -0.5).any()
        seen |= set(np.unique(ground.codes).tolist())
    assert seen == {0, 1, 2}
    assert settle(np.array([-0.2, -0.9]), np.array([1, 0])) == pytest.approx([-0.5, -0.49])


def test_the_beam_reaches_into_iron_as_kanaya_and_okayama_say():
    """0.16, 0.50, 0.99 and 1.60 µm at 5, 10, 15 and 20 kV (tests/SOURCES.md, from Kanaya and Okayama 1972)."""
    assert [depth_range(volts) for volts in (5, 10, 15, 20)] == pytest.approx([0.16, 0.50, 0.99, 1.60], abs=0.01)


def test_graphite_is_dark_but_no_darker_than_carbon_beside_iron(monkeypatch):
    """Backscatter coefficients 0.06 and 0.28 (Reuter, as in tests/SOURCES.md)."""
    monkeypatch.setattr(matter, "film", lambda rng, shape: np.zeros(shape, np.float32))
    monkeypatch.setattr(matter, "debris", lambda rng, shape, pixel: np.zeros(shape, np.float32))
    darkest = []
    for seed in range(20):
        iron, codes = np.ones((150, 150), np.float32), np.zeros((150, 150), np.uint8)
        darkest.append(litter.strew(np.random.default_rng(seed), 0.5, iron * 0, iron, codes)[1].min())
    assert min(darkest) >= 0.06 / 0.28 - 1e-4
    assert 0.2 <= np.mean(np.array(darkest) < 0.7) <= 0.8


def test_hollows_are_starved_and_the_wall_on_the_detectors_side_throws_the_shadow():
    """Horizon of a wall: its height over its distance (trigonometry). A hollow sees less sky than flat ground (common
    practice, no source)."""
    flat = np.zeros((80, 120), np.float32)
    wall = flat.copy()
    wall[:, 60:] = 2.0
    assert shade(wall, 0.5, 0.0)[40, 56] == pytest.approx(1 / (1 + 0.8), rel=1e-4)  # 2 µm high, 4 px of 0.5 µm away: 45°
    assert shade(wall, 0.5, np.pi)[40, 56] == 0
    pit = flat.copy()
    pit[36:44] = -4.0
    assert open_sky(flat, 0.5) == pytest.approx(1)
    assert open_sky(pit, 0.5)[40, 60] < 0.8 and open_sky(-pit, 0.5)[40, 60] == pytest.approx(1)


def test_running_in_marks_lie_along_the_stroke_and_stay_plateau():
    """Running-in marks within 0.5 µm are plateau (semwear.terms); direction by the structure tensor (linear algebra)."""
    for seed, stroke in enumerate((0.0, 0.6, np.pi / 2, 2.3)):
        marks = wear.marks(np.random.default_rng(seed), (200, 200), 0.4, stroke)
        assert -0.5 < marks.min() < 0 and marks.max() <= 0
        by_row, by_col = np.gradient(cv2.GaussianBlur(marks, (0, 0), 2)[6:-6, 6:-6])  # differences of a pixel-wide line mislead
        tensor = [[(by_col**2).sum(), (by_col * by_row).sum()], [(by_col * by_row).sum(), (by_row**2).sum()]]
        along = np.linalg.eigh(tensor)[1][:, 0]
        assert abs(along @ [np.cos(stroke), np.sin(stroke)]) > np.cos(np.radians(3))
