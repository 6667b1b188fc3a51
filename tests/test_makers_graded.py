"""Fields by height maps and filters: geometry, bearing curve, wear and contrast against sources outside the maker."""

import numpy as np
import pytest
from makers.graded.grooves import band, habit, profile, scratches, width_um
from makers.graded.picture import slopes, starved
from makers.graded.spectra import texture
from makers.graded.surface import field, honed
from makers.graded.wear import push, ring_shape, truncate


def bearing_parameters(height_um: np.ndarray) -> tuple[float, float, float]:
    """Rk (µm), Rvk (µm), 100 − Mr2 (%) by the flattest 40 % secant and triangles of equal area, as in ISO 21920-2 (from memory)."""
    curve = np.quantile(height_um, 1 - np.linspace(0, 1, 1001))
    falls = curve[:-400] - curve[400:]
    start = int(falls.argmin())
    slope = falls[start] / 40
    top = curve[start] + slope * start / 10
    bottom = top - 100 * slope
    valley = np.flatnonzero(curve <= bottom)
    share = 100 - valley[0] / 10
    area = (bottom - curve[valley]).sum() / 10
    return top - bottom, 2 * area / share, share


def test_unworn_bearing_curves_are_those_of_plateau_honed_liners():
    """Rk 0.05–1.8, Rvk 0.15–3.3 µm (US patent 7,059,290); 15–30 % valleys are usual (from memory): most, not all, and wider."""
    figures = []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        depth, rest = honed(rng, habit(rng, 1.0), stroke_deg=90, angle_deg=50, pixel_size_um=1.0, shape=(300, 300))
        figures.append(bearing_parameters(rest - depth))
    rk, rvk, share = np.median(figures, axis=0)
    assert 0.05 <= rk <= 1.8
    assert 0.15 <= rvk <= 3.3
    assert 10 <= share <= 40


def test_walls_rise_at_their_slope():
    """tan(slope) = depth / run of the wall (geometry); walls of 6–27°, widths 2–60 µm (tests/SOURCES.md)."""
    for slope_deg, wall in ((8, 1.0), (15, 0.7), (25, 0.5)):
        depth = 1.5
        wide = width_um(depth, slope_deg, wall)
        across = np.array([0.3, 0.8])
        ground = depth * profile(1 - wall * across, wall)
        run = wall * wide / 2 * (across[1] - across[0])
        assert np.rad2deg(np.arctan((ground[1] - ground[0]) / run)) == pytest.approx(slope_deg, rel=0.05)
        assert 2 <= wide <= 60


@pytest.mark.parametrize("direction_deg", [20.0, 90.0, 145.0])
def test_a_band_lies_along_its_direction(direction_deg):
    """Principal axis of the structure tensor, 1/2 atan2(2 Jxy, Jxx − Jyy), stands across the lay (Bigün, Granlund 1987, from memory)."""
    rng = np.random.default_rng(3)
    depth, _ = band(
        rng, habit(rng, 0.5), strength=1.0, direction_deg=direction_deg, pixel_size_um=0.5, shape=(300, 320)
    )
    gx, gy = slopes(depth, 0.5)
    across = 0.5 * np.rad2deg(np.arctan2(2 * (gx * gy).sum(), (gx * gx - gy * gy).sum()))
    assert abs((across + 90 - direction_deg + 90) % 180 - 90) < 4


def test_open_valley_is_ground_half_a_micrometre_down_and_finishing_scratches_are_not():
    """semwear.terms: code 1 at least 0.5 µm below the local plateau; finishing marks are plateau."""
    for seed in range(4):
        surface = field(np.random.default_rng(seed), pixel_size_um=0.6, shape=(220, 240), stroke_deg=90, state="unworn")
        assert ((surface.codes == 1) == (surface.valley_um >= 0.5)).all()
        assert surface.height_um[surface.codes == 1].mean() < -0.5
        assert np.median(surface.height_um[surface.codes == 0]) > -0.3
        assert not surface.worn.any()
    fine = scratches(
        np.random.default_rng(1), count=60, deepest_um=0.45, direction_deg=30, pixel_size_um=0.6, shape=(220, 240)
    )
    assert 0 < fine.max() < 0.5


def test_truncation_narrows_a_valley_by_its_slopes_and_never_adds_metal():
    """A V of depth d worn by W keeps the width 2 (d − W) / tan(slope) between its rims (geometry)."""
    x = np.arange(-30, 30, 0.05)
    slope, depth, worn = np.tan(np.deg2rad(12)), 3.0, 0.8
    height = -np.maximum(0, depth - np.abs(x) * slope)
    left = truncate(height, np.full_like(x, worn), rounding_um=0.001)
    assert (left <= height + 1e-9).all()
    assert (left < -worn - 0.01).sum() * 0.05 == pytest.approx(2 * (depth - worn) / slope, rel=0.02)


def test_metal_laid_over_grooves_is_no_more_than_was_cut():
    """Conservation of mass; a sheet reaches as far as its metal lasts: length = metal / thickness."""
    gap = np.zeros((400, 50), np.float32)
    gap[200:320] = 4.0
    supply = np.zeros_like(gap)
    supply[100:200] = 0.1
    closed, cut, laid = push(supply, gap, pixel_size_um=0.5, sheet_um=0.5, loss_um=1e9)
    assert laid <= cut
    assert cut == pytest.approx(100 * 0.5 * 0.1 * 50 * 0.5, rel=1e-3)
    assert closed[:, 0].sum() * 0.5 == pytest.approx(100 * 0.5 * 0.1 / 0.5, abs=0.5)
    assert not closed[:200].any() and not closed[320:].any()
    assert not push(supply, np.full_like(gap, 0.4), pixel_size_um=0.5, sheet_um=0.5)[0].any()


def test_moved_metal_lies_in_the_track_and_within_half_a_micrometre_of_the_plateau():
    """semwear.terms: code 2 closed to within 0.5 µm of the plateau; worn where the ring ran, border along the stroke."""
    moved = 0
    for seed in range(12):
        surface = field(np.random.default_rng(seed), pixel_size_um=0.5, shape=(240, 220), stroke_deg=90, state="border")
        assert not np.isin(surface.codes[~surface.worn], (2, 3)).any()
        assert (surface.worn == surface.worn[:1]).all()
        caps = surface.codes == 2
        moved += caps.any()
        assert not caps.any() or (surface.valley_um[caps] < 0.5).all()
        assert caps.sum() < 200 or -0.5 < np.median(surface.height_um[caps]) < 0.6
    assert moved >= 4
    worn_um, track = ring_shape(
        np.random.default_rng(0), np.linspace(-50, 50, 101), deepest_um=0.6, border_um=0.0, side=1
    )
    assert (worn_um[~track] == 0).all() and 0.3 < worn_um.max() <= 0.6


def test_deep_ground_is_starved_and_tilted_ground_shows_its_slope():
    """Escape falls with depth below the surroundings (tests/SOURCES.md); rise per run is tan(slope) (geometry)."""
    x = np.arange(200, dtype=np.float32)
    for deep in (0.5, 4.0):
        trench = np.tile(np.where(np.abs(x - 100) < 12, -deep, 0), (80, 1)).astype(np.float32)
        assert starved(trench, 15, 1.0)[40, 100] > starved(trench, 15, 1.0)[40, 20] + 0.2 * min(deep, 1)
    ramp = np.tile(0.25 * x * np.float32(np.tan(np.deg2rad(15))), (80, 1)).astype(np.float32)
    gx, gy = slopes(ramp, 0.25)
    assert np.rad2deg(np.arctan(gx[40, 100])) == pytest.approx(15, abs=0.1) and abs(gy[40, 100]) < 1e-4


def test_shaped_texture_is_long_along_its_direction():
    """By the autocorrelation, Fourier transform of the power spectrum (Wiener–Khinchin)."""
    map_, other = texture(np.random.default_rng(0), (256, 300), along_px=20, across_px=4, direction_deg=90)
    power = np.abs(np.fft.fft2(map_)) ** 2
    correlation = np.fft.ifft2(power).real
    assert correlation[8, 0] > 1.5 * correlation[0, 8] > 0 or correlation[0, 8] <= 0 < correlation[8, 0]
    assert map_.std() == pytest.approx(1, abs=1e-3) and abs(np.corrcoef(map_.ravel(), other.ravel())[0, 1]) < 0.3
