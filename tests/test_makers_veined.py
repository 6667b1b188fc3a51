"""The maker that begins with grey iron, against published figures and the project's own definitions.

Sources stand beside each check: semwear.terms (definitions), tests/SOURCES.md (figures with their sources).
"""

import numpy as np
import pytest
from makers.veined import hone, microscope, strokes_and_lays, wear
from makers.veined.flakes import lay_graphite
from scipy import ndimage

SHAPE = (240, 260)


def ran(band: hone.Band, lowered_um: float, seed: int = 0) -> np.ndarray:
    """Codes of one lay in a track whose plateau was lowered."""
    history = wear.History(np.ones(SHAPE, bool), lowered_um, 0.5, 0.0, 1.0, "worn")
    rng = np.random.default_rng(seed)
    return wear.run(rng, [band], np.zeros(SHAPE, np.float32), history, 0.5, 0.0).codes


def even(depth_um: float, closing: float) -> hone.Band:
    """Ground of one depth all over, closed where closing is positive."""
    return hone.Band(*(np.full(SHAPE, value, np.float32) for value in (depth_um, 0.0, closing)))


def lay_of(picture: np.ndarray) -> float:
    """Direction of least change in degrees anticlockwise from the rows, by the mean structure tensor."""
    # Smoothed first, since differences of neighbours read fine oblique lines too near to 45°.
    down, right = np.gradient(ndimage.gaussian_filter(picture.astype(float), 2))
    steepest = 0.5 * np.arctan2(2 * (right * -down).mean(), (right**2 - down**2).mean())
    return float(np.rad2deg(steepest) + 90) % 180


def test_ground_half_a_micrometre_down_is_open_and_closed_only_where_metal_moved():
    """semwear.terms, pixel states: 1 from 0.5 µm below the plateau on, 2 closed to within 0.5 µm by moved metal."""
    assert (ran(even(0.49, -1), 0) == 0).all()
    assert (ran(even(0.51, -1), 0) == 1).all()
    assert (ran(even(3.0, 1), 0) == 2).all()
    # A groove that wear alone made shallow, or that never was a valley, is plateau whatever lies on it.
    assert (ran(even(0.8, -1), 0.4) == 0).all()
    assert (ran(even(0.8, 1), 0.4) == 0).all()


def test_where_lays_cross_the_ground_is_as_low_as_the_deeper_open_one():
    """semwear.terms: the state is that of the ground, so one closed lay doesn't hide an open one that crosses it."""
    history = wear.History(np.ones(SHAPE, bool), 0.0, 0.5, 0.0, 1.0, "worn")
    near = np.zeros(SHAPE, np.float32)
    codes = wear.run(np.random.default_rng(1), [even(4.0, 1), even(2.0, -1)], near, history, 0.5, 0.0).codes
    assert (codes == 1).all()


def test_groove_depth_follows_from_width_and_wall_slope():
    """Geometry: a V of width w and wall slope a is w/2·tan(a) deep; walls slope 6–27° and grooves are at most 10 µm deep
    (tests/SOURCES.md, the latter from memory there)."""
    assert hone.depth_um(20, 20, 0) == pytest.approx(10 * np.tan(np.deg2rad(20)), rel=1e-6)
    assert hone.depth_um(20, 20, 0.5) == pytest.approx(5 * np.tan(np.deg2rad(20)), rel=1e-6)
    slopes, deepest = [], []
    for seed in range(12):
        band = hone.cut_band(np.random.default_rng(seed), SHAPE, 0.5, 0.0, 0.2, 0.0)
        wall = np.abs(np.gradient(band.depth_um, 0.5, axis=0))[(band.depth_um > 0.3)]
        slopes.append(np.rad2deg(np.arctan(np.median(wall[wall > np.tan(np.deg2rad(3))]))))
        deepest.append(band.depth_um.max())
    # Striae in the ground add to and take from the wall's own slope.
    assert 6 <= np.median(slopes) <= 27 and max(slopes) < 32
    assert max(deepest) <= 10


def test_lays_are_halved_by_the_line_across_the_stroke():
    """semwear.terms: the hone angle is bisected by the circumference; 20–150° spans usual honing and helical slide
    honing (tests/SOURCES.md, from memory there)."""
    angles = []
    for seed in range(200):
        stroke, (first, second) = strokes_and_lays(np.random.default_rng(seed))
        assert 0.5 * (first + second) - stroke == pytest.approx(90, abs=4)
        angles.append(second - first)
    assert 14 < min(angles) < 35 and 120 < max(angles) < 156


@pytest.mark.parametrize("asked_deg", [0, 25, 70, 115, 160])
def test_marks_run_along_the_direction_asked_for(asked_deg):
    """Direction measured by the structure tensor (Bigün and Granlund 1987, from memory), and semwear.terms:
    finishing and running-in marks stay within 0.5 µm, so that they are plateau."""
    mark = hone.scratches(np.random.default_rng(3), SHAPE, 0.5, asked_deg, 0.45)
    assert 0.1 < mark.max() < 0.5
    assert (lay_of(mark) - asked_deg + 90) % 180 - 90 == pytest.approx(0, abs=4)


def test_graphite_takes_the_share_of_the_section_that_its_carbon_needs():
    """Volume share from mass share by the densities: 2–3.6 % of free carbon at 2.2 g/cm³ in iron of 7.2 g/cm³ gives
    6.5–11.8 %; by Delesse's principle the area share is the same (composition and density of graphite from memory).
    Fields scatter about it, their mean must lie near."""
    low, high = (mass / 2.2 * 7.2 for mass in (0.02, 0.036))
    shares = []
    for seed in range(16):
        flakes = lay_graphite(np.random.default_rng(seed), (300, 300), 0.8, 0.4)
        shares.append((np.maximum(flakes.bare, flakes.jacket) > 0.5).mean())
    assert 0.6 * low < np.mean(shares) < 1.2 * high


def test_scuffing_runs_in_streaks_along_the_stroke():
    """semwear.terms, code 3: in streaks along the stroke. Borders met along it are far fewer than across it."""
    for seed in range(6):
        torn = wear.streaks(np.random.default_rng(seed), SHAPE, 0.5, 0.0, 0.3)
        assert torn.mean() == pytest.approx(0.3, abs=0.02)
        assert np.diff(torn, axis=0).sum() > 2 * np.diff(torn, axis=1).sum()
        assert (lay_of(torn) + 90) % 180 - 90 == pytest.approx(0, abs=10)


def test_electrons_reach_as_deep_into_iron_as_published():
    """Kanaya and Okayama 1972 for iron: 0.16, 0.50, 0.99, 1.60 µm at 5, 10, 15, 20 kV (tests/SOURCES.md)."""
    ranges = [microscope.electron_range_um(voltage) for voltage in (5, 10, 15, 20)]
    assert ranges == pytest.approx([0.16, 0.50, 0.99, 1.60], abs=0.006)


def test_graphite_is_dark_in_either_mode_and_by_its_coefficient_in_backscatter():
    """Backscatter coefficients 0.28 and about 0.06 (Reuter; tests/SOURCES.md), so carbon gives 0.21 of iron's signal."""
    carbon = np.zeros(SHAPE, np.float32)
    carbon[:, 130:] = 1
    flat, plain = np.zeros(SHAPE, np.float32), np.ones(SHAPE, np.float32)
    ratios = []
    for seed in range(40):
        bright = microscope.signal(np.random.default_rng(seed), flat, plain, carbon, 0.5)
        ratios.append(bright[:, 150:].mean() / bright[:, :110].mean())
    assert max(ratios) < 0.8
    assert min(ratios) == pytest.approx(0.06 / 0.28, abs=0.01)
    assert 0.05 < np.mean(np.array(ratios) < 0.23) < 0.5
