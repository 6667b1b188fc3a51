"""The simulator's physics against published formulae, trade figures and closed-form geometry."""

import numpy as np
import pytest
from skimage.feature import structure_tensor

from semwear.simulate.electrons import backscatter_coefficient, electron_range_um, electrons_per_pixel, tilt_yield
from semwear.simulate.frame import Frame, Strip
from semwear.simulate.noise import blur, fractal, line_noise, patches, shipped_texture, streaks
from semwear.simulate.render_slope import slopes
from semwear.simulate.render_transport import open_sky


@pytest.mark.parametrize(("kv", "range_um"), [(5, 0.16), (10, 0.50), (15, 0.99), (20, 1.60)])
def test_range_of_electrons_in_iron(kv, range_um):
    # Kanaya and Okayama (1972), worked for iron: A 55.85, Z 26, density 7.87 g/cm³.
    assert electron_range_um(kv) == pytest.approx(range_um, abs=0.005)


def test_tilt_yield_is_the_secant():
    # sec 60° = 2; walls of 6-27° give 0.5-12 % (derived from the secant law).
    assert tilt_yield(np.tan(np.radians(60))) == pytest.approx(2)
    assert tilt_yield(np.tan(np.radians(60)), exponent=1.3) == pytest.approx(2**1.3)
    assert tilt_yield(np.tan(np.radians(6))) - 1 == pytest.approx(0.0055, abs=5e-4)
    assert tilt_yield(np.tan(np.radians(27))) - 1 == pytest.approx(0.122, abs=1e-3)


def test_backscatter_and_counting():
    assert backscatter_coefficient(26) == pytest.approx(0.28, abs=0.005)  # iron, Reuter
    assert backscatter_coefficient(6) == pytest.approx(0.06, abs=0.005)  # carbon, Reuter
    assert electrons_per_pixel(100, 10) == pytest.approx(6242, abs=1)  # 100 pA for 10 µs, N = i t / e


@pytest.mark.parametrize(("tilt_deg", "loss"), [(3, 0.0014), (10, 0.015), (15, 0.034)])
def test_tilt_foreshortens_rows_and_not_columns(tilt_deg, loss):
    # 1 - cos(tilt); the figures are those of the trade (derived).
    frame = Frame((40, 60), 0.5, tilt_deg)
    step = float(frame.y_um[0, 0] - frame.y_um[1, 0])
    assert 1 - 0.5 / step == pytest.approx(loss, abs=5e-4)
    assert float(frame.x_um[0, 1] - frame.x_um[0, 0]) == pytest.approx(0.5)


def test_directions_grow_anticlockwise_on_the_screen():
    along, across = Frame((50, 80), 1.0).along_across(90)
    assert along[0, 0] > along[-1, 0]  # 90° points up the screen
    assert across[0, 0] > across[0, -1]  # and across is a quarter turn further, to the left
    frame = Frame((50, 80), 1.0, 12.0)
    assert frame.seen_direction_deg(frame.specimen_direction_deg(63.0)) == pytest.approx(63.0)


def test_a_strip_holds_the_band_of_its_pixels():
    frame = Frame((37, 61), 0.7)
    strip = Strip(frame, 25)
    _, across = frame.along_across(25)
    naive = set(np.flatnonzero((across.ravel() >= -3) & (across.ravel() <= 2)).tolist())
    band = set(strip.band(-3, 2).tolist())
    assert naive <= band
    assert np.all(np.abs(across.ravel()[sorted(band - naive)]) < 3.01)


@pytest.mark.parametrize("direction", [0.0, 35.0, 90.0, 140.0])
def test_streaks_run_along_their_direction(direction):
    # scikit-image's structure tensor (row, col); the streak lies across the strongest gradient.
    noise = streaks(np.random.default_rng(1), (150, 220), direction, 40, 2).astype(float)
    rr, rc, cc = (element[10:-10, 10:-10].mean() for element in structure_tensor(noise, sigma=2))
    gradient = 0.5 * np.degrees(np.arctan2(-2 * rc, cc - rr))  # rows grow downwards
    found = (gradient + 90) % 180
    assert abs((found - direction + 90) % 180 - 90) < 3


def test_noise_has_unit_spread_and_the_size_asked_for():
    rng = np.random.default_rng(2)
    for noise in (patches(rng, (300, 400), 6), fractal(rng, (300, 400), 12), streaks(rng, (300, 400), 20, 30, 3)):
        assert noise.std() == pytest.approx(1, abs=0.2)
        assert abs(noise.mean()) < 0.25
    line = line_noise(rng, 20000, 10)
    assert line.std() == pytest.approx(1, abs=0.15)
    texture = shipped_texture(rng, (90, 130), direction_deg=30, stretch=3)
    assert texture.shape == (90, 130) and texture.std() > 0.2


def test_wide_blur_equals_the_plain_one_to_a_few_percent():
    from scipy.ndimage import gaussian_filter

    noise = np.random.default_rng(3).standard_normal((200, 260)).astype(np.float32)
    plain = gaussian_filter(noise, 12, mode="mirror")[30:-30, 30:-30]
    fast = blur(noise, 12)[30:-30, 30:-30]
    assert np.corrcoef(plain.ravel(), fast.ravel())[0, 1] > 0.98


def test_slopes_of_a_plane_are_its_own():
    frame = Frame((20, 30), 0.4)
    right, up = slopes((0.3 * frame.x_um - 0.2 * frame.y_um).astype(np.float32), 0.4)
    assert right[5:-5, 5:-5] == pytest.approx(0.3, abs=1e-4)
    assert up[5:-5, 5:-5] == pytest.approx(-0.2, abs=1e-4)


def test_open_sky_over_a_plain_and_under_a_wall():
    # Closed form: cos² of the horizon's elevation, a level plain sees all. Two pixels (2 µm) from a wall of 2 µm
    # the horizon on that side is at 45°, which takes half of that direction.
    assert open_sky(np.zeros((30, 40), np.float32), 1.0, reach_um=8) == pytest.approx(1)
    wall = np.zeros((41, 41), np.float32)
    wall[:, 22:] = 2.0
    sky = open_sky(wall, 1.0, reach_um=2)
    diagonal = 1 / (1 + 0.5)  # the wall lies two columns and two rows away, 2.83 µm: rise² = 1/2
    assert sky[20, 20] == pytest.approx((5 + 0.5 + 2 * diagonal) / 8, abs=1e-3)
    assert sky[20, 26] == pytest.approx(1)
