"""Texture of height maps against surfaces whose parameters are known in closed form."""

import math

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from semwear.profile.form import gaussian_mean_surface
from semwear.profile.share_uncertainty import share_uncertainty
from semwear.profile.texture import measure_texture, plateau_level_um, texture_heights, void_volume
from semwear.simulate.heights import heights_across_track


def gaussian_surface(sigma: float, shape=(300, 400), seed=0) -> np.ndarray:
    """Return heights whose distribution is the normal one exactly: its quantiles, at random places."""
    count = shape[0] * shape[1]
    return np.random.default_rng(seed).permutation(sigma * ndtri((np.arange(count) + 0.5) / count)).reshape(shape)


def test_sine_has_sq_of_its_amplitude_over_root_two():
    rows, cols = np.mgrid[:200, :300]
    wave = 1.4 * np.sin(2 * np.pi * cols / 30) + 0 * rows
    found = measure_texture(wave, 1.0, 1.0)
    assert found.sq_um == pytest.approx(1.4 / math.sqrt(2), rel=1e-9)
    assert found.profile_deg == 0.0


def test_gaussian_surface_has_the_core_that_the_normal_distribution_gives():
    # Least squares line through the normal quantiles between 30 and 70 %, in closed form:
    # slope = 12/0.4³ ∫ (p - ½) z(p) dp, and ∫ Φ(u) u φ(u) du = -φ(u)Φ(u) + Φ(√2 u)/(2√π).
    u = ndtri(0.7)
    density = math.exp(-u * u / 2) / math.sqrt(2 * math.pi)
    integral = -density * (ndtr(u) - ndtr(-u)) + (ndtr(math.sqrt(2) * u) - ndtr(-math.sqrt(2) * u)) / (2 * math.sqrt(math.pi))
    core = 12 / 0.4**3 * integral
    found = measure_texture(gaussian_surface(0.8), 1.0, 1.0)
    assert core == pytest.approx(2.6, abs=0.03)  # near the 40 % secant, 2 · 0.5244/0.4 = 2.622
    assert found.areal.rk_um == pytest.approx(0.8 * core, rel=2e-3)
    assert found.areal.mr2_percent == pytest.approx(100 * ndtr(core / 2), abs=0.1)
    assert found.areal.mr1_percent == pytest.approx(100 * ndtr(-core / 2), abs=0.1)
    assert found.valley_share == pytest.approx(1 - ndtr(core / 2), abs=1e-3)


def test_valley_void_volume_of_a_gaussian_surface_is_its_partial_expectation():
    # ISO 25178-2: E[(z₂₀ - z)⁺] = σ (z₂₀ Φ(z₂₀) + φ(z₂₀)) with z₂₀ the 20 % quantile.
    level = ndtri(0.2)
    expected = 0.8 * (level * 0.2 + math.exp(-level * level / 2) / math.sqrt(2 * math.pi))
    assert void_volume(gaussian_surface(0.8).ravel(), 80.0) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("share", [0.05, 0.15, 0.3])
def test_share_below_the_plateau_is_that_of_the_drawn_grooves(share):
    # Closed form: straight grooves 2 µm deep with vertical walls cover the share that they are drawn with; on a plateau
    # of evenly spread heights the bearing curve is straight down to the grooves, so that 100 - Smr2 is that share too.
    rows, cols = np.mgrid[:240, :400]
    grooved = ((cols + 0.5 * rows) % 40) < 40 * share
    heights = np.random.default_rng(5).uniform(-0.1, 0.1, grooved.shape) - 2.0 * grooved
    bore = np.square((cols - 200) * 2.0) / (2 * 50_000) + 0.004 * rows
    found = measure_texture(texture_heights(heights + bore, 2.0, 2.0), 2.0, 2.0)
    assert found.below_plateau_fraction == pytest.approx(grooved.mean(), abs=0.004)
    assert found.valley_share == pytest.approx(grooved.mean(), abs=0.02)


def test_two_level_surface_has_vertical_parameters_of_its_step():
    # Svk replaces the valleys by a triangle of equal area: plateau 0, floor -d over share a: Svk = 2 d below the core.
    rows, cols = np.mgrid[:200, :300]
    heights = np.where(cols % 50 < 10, -3.0, 0.0) + np.random.default_rng(1).uniform(-0.05, 0.05, rows.shape)
    found = measure_texture(heights, 1.0, 1.0)
    assert found.areal.mr2_percent == pytest.approx(80, abs=1)
    assert found.areal.rvk_um == pytest.approx(2 * 3.0, rel=0.05)


def test_areal_parameters_are_those_of_a_reference_library():
    # Recorded from surfalize 0.19.2 (PyPI), which builds the curve from a histogram of its own, on this very surface.
    rows, cols = np.mgrid[:180, :240].astype(float)
    fine = 0.12 * np.sin(1.7 * rows + 0.3 * cols) + 0.1 * np.sin(2.9 * cols - 0.7 * rows)
    fine += 0.07 * np.sin(0.37 * rows * 1.3 + 1.1 * cols)
    first = np.clip(1 - np.abs((rows + 0.42 * cols) % 37 - 18) / 5, 0, None)
    second = np.clip(1 - np.abs((rows - 0.42 * cols) % 53 - 20) / 7, 0, None)
    found = measure_texture(fine - 2.5 * first - 1.8 * second, 2.0, 2.0)
    assert found.sq_um == pytest.approx(0.829516, rel=1e-5)
    assert found.areal.rk_um == pytest.approx(0.620453, rel=2e-3)
    assert found.areal.rpk_um == pytest.approx(0.087171, rel=1e-2)
    assert found.areal.rvk_um == pytest.approx(2.051199, rel=2e-3)
    assert found.areal.mr1_percent == pytest.approx(4.555025, abs=0.02)
    assert found.areal.mr2_percent == pytest.approx(62.310785, abs=0.02)
    assert found.vvv_ml_per_m2 == pytest.approx(0.132536, rel=1e-3)


def test_profiles_run_along_the_stroke_and_across_the_lay():
    rows, cols = np.mgrid[:200, :200]
    nearly_across = np.where((rows + 0.4 * cols) % 40 < 8, -2.0, 0.0) + np.random.default_rng(0).normal(0, 0.05, rows.shape)
    assert measure_texture(nearly_across, 1.0, 1.0).profile_deg == 90.0
    assert measure_texture(nearly_across, 1.0, 1.0, stroke_deg=0.0).profile_deg == 0.0
    found = measure_texture(nearly_across, 1.0, 1.0, stroke_deg=90.0)
    assert 100 - found.profile.mr2_percent == pytest.approx(20, abs=3) and math.isnan(found.cutoff_um)


def test_long_profiles_are_filtered_with_their_cutoff():
    cols = np.arange(3000)
    waviness = 0.5 * np.sin(2 * np.pi * cols / 3000)
    heights = np.random.default_rng(4).normal(0, 0.1, (40, 3000)) + waviness
    found = measure_texture(heights, 1.0, 1.0, stroke_deg=0.0)
    assert found.cutoff_um == 800.0 and found.areal.rk_um > 0.5
    assert found.profile.rk_um == pytest.approx(0.26, rel=0.1)


def test_missing_points_are_left_out():
    heights = gaussian_surface(0.5)
    holed = np.where(np.random.default_rng(9).random(heights.shape) < 0.2, np.nan, heights)
    whole, part = measure_texture(heights, 1.0, 1.0), measure_texture(holed, 1.0, 1.0)
    assert part.points < 0.82 * whole.points
    assert part.areal.rk_um == pytest.approx(whole.areal.rk_um, rel=0.02) and part.sq_um == pytest.approx(whole.sq_um, rel=0.02)


def test_gaussian_mean_surface_halves_a_wave_of_its_nesting_index_on_oblong_pixels():
    # ISO 16610-61: 50 % transmission at the nesting index; a wave far above the valleys' cut stays (offset keeps it positive).
    rows, cols = np.mgrid[:400, :300]
    for wave, steps in ((np.sin(2 * np.pi * cols / 100), (2.0, 1.0)), (np.sin(2 * np.pi * rows / 200), (2.0, 1.0))):
        mean = gaussian_mean_surface(wave, 200.0, *steps)
        # The second step sees the wave with its lower half cut off at the first mean surface.
        from scipy.ndimage import gaussian_filter

        sigma = 200.0 * math.sqrt(math.log(2) / 2) / math.pi  # transmission exp(-2π²σ²/λ²) = ½ at λ = 200
        first = gaussian_filter(wave, (sigma / 1.0, sigma / 2.0), mode="wrap")
        assert np.ptp(first[100:300, 80:220]) == pytest.approx(1.0, rel=0.03)
        expected = gaussian_filter(np.maximum(wave, first), (sigma / 1.0, sigma / 2.0), mode="wrap")
        np.testing.assert_allclose(mean[150:250, 100:200], expected[150:250, 100:200], atol=0.03)


def test_plateau_level_is_the_peak_of_the_heights_and_not_their_mean():
    heights = np.concatenate([np.random.default_rng(0).normal(0, 0.1, 7000), np.random.default_rng(1).uniform(-5, -0.5, 3000)])
    assert abs(plateau_level_um(heights)) < 0.05 and heights.mean() < -0.7


def test_uncertainty_of_the_share_grows_with_bunched_grooves():
    rows, cols = np.mgrid[:240, :240]
    even = np.where(cols % 20 < 3, -2.0, 0.0)
    bunched = np.where((cols < 36), -2.0, 0.0)
    assert share_uncertainty(even, 0.15) < 0.02 < share_uncertainty(bunched, 0.15) < 0.12


def lines_at_random(rng: np.random.Generator, spacing_um: float) -> np.ndarray:
    """Return a map of 500 × 500 µm, points 2.5 µm apart, with two families of grooves at random places, ± 23° to the columns."""
    rows, cols = np.mgrid[:200, :200] * 2.5
    heights = rng.normal(0, 0.05, rows.shape)
    for angle in np.deg2rad((67, 113)):
        across = cols * np.sin(angle) + rows * np.cos(angle)
        low, high = across.min() - 20, across.max() + 20
        for place in rng.uniform(low, high, rng.poisson((high - low) / spacing_um)):
            heights[np.abs(across - place) < rng.uniform(4, 12)] -= 2.0
    return heights


def test_uncertainty_of_the_share_is_that_between_maps_of_one_surface():
    """Strips that cross every groove agree in all of them, whatever the surface: only those along a lay say how maps differ."""
    rng = np.random.default_rng(4)
    maps = [lines_at_random(rng, 60.0) for _ in range(40)]
    shares = np.array([(heights <= plateau_level_um(heights.ravel()) - 0.5).mean() for heights in maps])
    stated = np.array([share_uncertainty(heights, share) for heights, share in zip(maps, shares, strict=True)])
    assert 0.75 < math.sqrt(np.square(stated).mean()) / shares.std(ddof=1) < 1.3
    assert (np.abs(shares - shares.mean()) < 2 * stated).mean() >= 0.85


def test_simulated_map_shows_the_share_of_valleys_that_it_was_made_with():
    for seed in (1, 2):
        made = heights_across_track(seed, depth_um=0.0, shape=(200, 300))
        found = measure_texture(texture_heights(made.heights_um, 2.5, 2.5), 2.5, 2.5, stroke_deg=90.0)
        assert found.below_plateau_fraction == pytest.approx(made.valley_fraction, abs=0.03)
