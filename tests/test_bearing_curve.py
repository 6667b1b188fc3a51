"""The Rk family of profiles whose bearing curve is made of straight lines, against the construction done by hand."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from semwear.profile.bearing_curve import GAUSS_ALPHA, filter_profile, rk_family


def profile_of_curve(ratios_percent, heights_um, *, points=20001, shuffle=True):
    """Return a profile whose bearing curve runs straight between the given points."""
    profile = np.interp(np.linspace(0, 100, points), ratios_percent, heights_um)
    return np.random.default_rng(0).permutation(profile) if shuffle else profile


def test_core_with_peaks_and_valleys_follows_the_construction_by_hand():
    # By hand, ISO 13565-2. Core from +1 at 10 % to -1 at 90 %: slope -0.025 µm/%, so the line runs from 1.25 at 0 %
    # to -1.25 at 100 %: Rk = 2.5. Peaks fall from 4 to 1 over 0-10 %, -0.3 µm/%: they cross 1.25 at Mr1 = 2.75/0.3
    # = 9.1667 %; A1 = 2.75 * 9.1667 / 2, Rpk = 2.75. Valleys fall from -1 to -7 over 90-100 %, -0.6 µm/%: they cross
    # -1.25 at Mr2 = 90 + 0.25/0.6 = 90.4167 %; Rvk = 7 - 1.25 = 5.75.
    family = rk_family(profile_of_curve([0, 10, 90, 100], [4, 1, -1, -7]))
    assert family.rk_um == pytest.approx(2.5, rel=1e-3)
    assert family.mr1_percent == pytest.approx(9.1667, abs=0.02)
    assert family.rpk_um == pytest.approx(2.75, rel=2e-3)
    assert family.mr2_percent == pytest.approx(90.4167, abs=0.02)
    assert family.rvk_um == pytest.approx(5.75, rel=2e-3)


def test_curved_valleys_keep_their_area():
    # By hand: core from 1 to 0 over 0-50 %, continued to -1 at 100 %; below it the curve is -(m-50)²/250 - (m-50)/50
    # times 1 µm, so the excess under the line's lower limit -1 starts where t²/250 + t/50 = 1, t = m - 50 = 13.508.
    ratio = np.linspace(0, 100, 40001)
    t = np.maximum(ratio - 50, 0)
    curve = np.where(ratio <= 50, 1 - ratio / 50, -(t**2) / 250 - t / 50)
    family = rk_family(curve)
    start = (-1 / 50 + np.sqrt(1 / 2500 + 4 / 250)) * 125
    area = (50**3 - start**3) / 750 + (50**2 - start**2) / 100 - (50 - start)
    assert family.mr2_percent == pytest.approx(50 + start, abs=0.05)
    assert family.rvk_um == pytest.approx(2 * area / (50 - start), rel=2e-3)


def test_sine_follows_the_least_squares_line_in_closed_form():
    # Bearing curve of a sine: -sin(pi x), x = m/100 - 1/2, flattest at its ends. Least-squares slope over the 40 %
    # around x = -0.3 (only the odd part about the middle counts), with a = 0.2:
    # cos(0.3 pi) (-a cos(pi a)/pi + sin(pi a)/pi²) / (a³/3).
    a = 0.2
    slope = np.cos(0.3 * np.pi) * (-a * np.cos(np.pi * a) / np.pi + np.sin(np.pi * a) / np.pi**2) / (a**3 / 3)
    wave = 1.7 * np.sin(2 * np.pi * (np.arange(200000) + 0.5) / 20000)
    assert rk_family(wave).rk_um == pytest.approx(1.7 * slope, rel=1e-3)


def test_heights_in_any_order_and_shape_give_the_same():
    ordered = profile_of_curve([0, 10, 90, 100], [4, 1, -1, -7], points=12000, shuffle=False)
    mixed = np.random.default_rng(3).permutation(ordered).reshape(100, 120)
    assert rk_family(mixed) == rk_family(ordered)


def test_filter_passes_half_at_the_cutoff():
    # ISO 16610-21: the Gaussian filter transmits 50 % of the amplitude at the cut-off.
    at = np.arange(40000) * 0.5
    wave = np.cos(2 * np.pi * at / 800)
    sigma = GAUSS_ALPHA * 800 / np.sqrt(2 * np.pi) / 0.5
    mean_line = gaussian_filter1d(wave, sigma, mode="reflect", truncate=6)
    assert mean_line[8000:32000].max() == pytest.approx(0.5, abs=2e-3)


def test_deep_valleys_do_not_pull_the_mean_line_down():
    # ISO 13565-1 exists for this: on a flat plateau at 0 with grooves 5 µm deep over 10 % of the length the plateau
    # of the filtered profile stays near 0, where one Gaussian alone would lift it by 0.5 µm.
    at = np.arange(16000) * 0.5
    profile = np.where(at % 100 < 10, -5.0, 0.0)
    filtered = filter_profile(profile, 0.5)
    assert filtered.size == 16000 - 2 * 800
    assert np.abs(np.median(filtered)) < 0.06


def test_short_profiles_are_refused_with_what_to_do():
    with pytest.raises(ValueError, match="longer than the cut-off"):
        filter_profile(np.zeros(1000), 0.5)
    with pytest.raises(ValueError, match="needs 50"):
        rk_family(np.zeros(10))
