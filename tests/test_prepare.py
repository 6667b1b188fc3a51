"""Preparing a field, checked against pictures whose blur, noise, shading and geometry are known by construction."""

import math
import time
from pathlib import Path

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from scipy.special import erf
from skimage.transform import downscale_local_mean

from semwear.calibrate import Calibration
from semwear.data_bar import DataBar
from semwear.errors import RefusedError
from semwear.picture_quality import bright_bands, clipped_pixels, edge_width_px, noise_level
from semwear.prepare import PreparedField, prepare, resample
from semwear.read import Micrograph

ROWS, COLS = 480, 640


def texture(seed: int, sigma: float = 3.0, shape=(ROWS, COLS)) -> np.ndarray:
    """Smooth random texture of zero mean and unit standard deviation."""
    field = gaussian_filter(np.random.default_rng(seed).normal(size=shape), sigma, mode="wrap")
    return field / field.std()


def step_edges(sigma: float, angle_deg: float = 12.0, shape=(ROWS, COLS)) -> np.ndarray:
    """Parallel steps of ±0.25 blurred by a Gaussian: a sum of error functions in closed form, sampled at pixel centres."""
    rows, cols = np.mgrid[: shape[0], : shape[1]]
    angle = math.radians(angle_deg)
    across = cols * math.cos(angle) + rows * math.sin(angle)
    picture = np.full(shape, 0.25)
    for number, place in enumerate(np.arange(40.0, across.max(), 80.0)):
        sign = 1 if number % 2 == 0 else -1
        picture += sign * 0.25 * (1 + erf((across - place) / (sigma * math.sqrt(2.0))))
    return picture.astype(np.float32)


def prepared(grey, *, um=0.5, height_um=None, bar_rows=0, bits=8) -> PreparedField:
    """Prepare a picture of greys 0..1, with a data bar over its lowest rows."""
    white = 255 if bits == 8 else 65535
    pixels = np.clip(np.rint(np.asarray(grey) * white), 0, white).astype(np.uint8 if bits == 8 else np.uint16)
    marks = np.zeros(pixels.shape, bool)
    marks[pixels.shape[0] - bar_rows:] = bar_rows > 0
    data_bar = DataBar(marks=marks, picture=(slice(0, pixels.shape[0] - bar_rows), slice(0, pixels.shape[1])))
    micrograph = Micrograph(path=Path("f.tif"), file="f.tif", sha256="", pixels=pixels, white_level=float(white))
    return prepare(micrograph, Calibration(
        pixel_size_um=um, pixel_size_u_um=0.001, pixel_size_source="given", pixel_height_um=height_um or um, bar_label="",
        bar_px=math.nan, kv=math.nan, detector="", tilt_deg=math.nan, flags=(), data_bar=data_bar))


def test_image_has_zero_median_and_unit_robust_spread():
    field = prepared(0.5 + 0.1 * texture(1))
    assert abs(np.median(field.image)) < 0.02
    # 1.4826 · MAD is the standard deviation of a normal distribution.
    assert 1.4826 * np.median(np.abs(field.image)) == pytest.approx(1.0, abs=0.03)
    assert field.contrast == pytest.approx(0.1, rel=0.1)
    assert field.image.dtype == field.raw.dtype == np.float32
    assert field.raw.min() >= 0
    assert field.raw.max() <= 1
    assert field.flags == ()


def test_eight_and_sixteen_bits_give_the_same_picture():
    grey = 0.5 + 0.1 * texture(1)
    np.testing.assert_allclose(prepared(grey).image, prepared(grey, bits=16).image, atol=0.05)


def test_shading_is_taken_off_and_the_texture_kept():
    rows, cols = np.mgrid[-1:1:ROWS * 1j, -1:1:COLS * 1j]
    truth = texture(2)
    shading = 0.18 * cols - 0.1 * rows + 0.08 * cols**2 + 0.05 * np.cos(2.5 * rows)
    field = prepared(0.45 + shading + 0.05 * truth, bits=16)
    without = prepared(0.45 + 0.05 * truth, bits=16)
    assert np.corrcoef(field.image.ravel(), truth.ravel())[0, 1] > 0.97
    assert np.corrcoef(field.image.ravel(), without.image.ravel())[0, 1] > 0.99
    blocks = downscale_local_mean(field.image, (120, 160))
    assert np.abs(blocks).max() < 0.35  # in spreads; the shading itself is 3.6 spreads from middle to side


def test_blotches_of_brightness_are_taken_off_in_fields_that_are_large_enough():
    rows, cols = np.mgrid[:ROWS, :COLS]
    blotch = 0.2 * np.exp(-0.5 * (np.square(rows - 150) + np.square(cols - 200)) / 100.0**2)
    field = prepared(0.4 + blotch + 0.05 * texture(2), um=2.0, bits=16)
    left = downscale_local_mean(field.image * field.contrast, (80, 80))
    # Of 0.2, less its mean, at most 0.06 is left; a parabola alone leaves 0.08.
    assert np.abs(left).max() < 0.06


def test_valleys_do_not_bend_the_shading():
    truth = 0.02 * texture(3, 2.0)
    grooves = np.zeros((ROWS, COLS), bool)
    for start in range(30, COLS, 110):
        grooves[:, start:start + 40] = True
    field = prepared(0.5 + truth - 0.3 * grooves, bits=16)
    columns = np.median(field.image[:, ~grooves[0]], axis=0)
    # The plateau between grooves stays level to an eighth of a groove's depth.
    assert np.ptp(columns) * field.contrast < 0.3 / 8


def test_data_bar_is_not_assessed_and_does_not_count():
    grey = 0.5 + 0.1 * texture(4)
    plain = prepared(grey[:420], bits=16)
    grey[420:] = 0.0
    grey[440:450, 50:300] = 1.0
    field = prepared(grey, bar_rows=60, bits=16)
    assert not field.assessed[420:].any()
    assert not field.picture[420:].any()
    assert field.assessed[:420].all()
    assert field.flags == ()
    assert field.noise == pytest.approx(plain.noise, rel=0.05)
    np.testing.assert_allclose(field.image[:420], plain.image, atol=0.1)


@pytest.mark.parametrize("sigma", [0.01, 0.03, 0.08])
def test_noise_agrees_with_its_truth(sigma):
    noise = np.random.default_rng(6).normal(0, sigma, (ROWS, COLS))
    grey = (0.5 + 0.1 * texture(5, 5.0) + noise).astype(np.float32)
    assert noise_level(grey, np.ones(grey.shape, bool)) == pytest.approx(sigma, rel=0.05)
    rows = np.arange(ROWS) < 300
    grey[~rows] = np.random.default_rng(7).random((ROWS - 300, COLS))  # what is not assessed does not count
    assert noise_level(grey, np.repeat(rows[:, None], COLS, axis=1)) == pytest.approx(sigma, rel=0.05)


@pytest.mark.parametrize("sigma", [0.6, 1.0, 2.0, 4.0, 8.0])
@pytest.mark.parametrize("noise", [0.0, 0.02])
def test_edge_width_is_that_of_a_blurred_step(sigma, noise):
    # 20 to 80 % of a Gaussian-blurred step: 2 · 0.8416 σ, quantiles of the normal distribution.
    grey = step_edges(sigma) + np.random.default_rng(1).normal(0, noise, (ROWS, COLS)).astype(np.float32)
    found = edge_width_px(grey, np.ones(grey.shape, bool), noise)
    assert found == pytest.approx(2 * 0.8416 * sigma, rel=0.08, abs=0.1)


def test_sharpness_is_in_micrometres_and_flags_what_is_out_of_focus():
    sharp, blurred = (0.2 + 0.6 * step_edges(sigma) + 0.04 * texture(13, 12.0) for sigma in (1.0, 5.0))
    assert prepared(sharp, um=1.0, bits=16).sharpness_um == pytest.approx(
        2 * prepared(sharp, um=0.5, bits=16).sharpness_um, rel=1e-6)
    assert "out of focus" not in prepared(sharp, um=1.0, bits=16).flags
    assert "out of focus" in prepared(blurred, um=1.0, bits=16).flags  # 8.4 µm
    assert "out of focus" not in prepared(blurred, um=0.25, bits=16).flags  # 2.1 µm: fine enough for 5 µm grooves


def test_clipping_is_flagged_at_full_scale_and_below_it():
    grey = 0.5 + 0.3 * texture(7, 1.0)
    assert "clipped" in prepared(grey).flags  # 4.8 % beyond ±1.67 standard deviations on either side
    assert "clipped" in prepared(np.clip(grey, 0.1, 0.8)).flags
    assert "clipped" not in prepared(0.5 + 0.12 * texture(7, 1.0)).flags


@pytest.mark.parametrize("grey", [0.0, 0.4, 1.0])
def test_a_picture_of_one_grey_level_is_clipped_at_full_scale_only(grey):
    raw = np.full((40, 60), grey, np.float32)
    raw[3, 5] = np.nextafter(np.float32(grey), np.float32(0.5))  # too narrow a range for a histogram
    black, white = clipped_pixels(raw, np.ones(raw.shape, bool))
    assert black.all() == (grey == 0.0) and white.all() == (grey == 1.0)
    assert black.any() == (grey == 0.0) and white.any() == (grey == 1.0)


def test_blooming_is_not_assessed_and_single_clipped_pixels_are():
    grey = 0.5 + 0.1 * texture(8)
    rows, cols = np.mgrid[:ROWS, :COLS]
    bloom = np.hypot(rows - 200, cols - 300) < 60
    grey[bloom] = 1.0
    grey[50:55:2, 50:600:9] = 1.0
    field = prepared(grey)
    assert not field.assessed[bloom].any()
    assert field.assessed[~bloom].mean() > 0.995
    assert "charging" in field.flags


def test_a_bright_band_is_seen_where_grooves_take_a_third_of_every_row():
    """A band adds one brightness to plateau and groove floors alike, so that each quartile of its rows rises by it."""
    rng = np.random.default_rng(3)
    rows, cols = np.mgrid[:300, :400]
    image = np.where((cols + rows) % 30 < 11, -2.0, 0.4) + rng.normal(0, 0.15, rows.shape)
    image[120:150] += 2.0
    found = bright_bands(image.astype(np.float32), np.ones(image.shape, bool), least_excess=1.0)
    assert found[122:148].all() and not found[:118].any() and not found[152:].any()


def test_bright_bands_along_the_scan_are_charging_but_grooves_and_columns_are_not():
    grey = 0.4 + 0.04 * texture(9)
    banded = grey.copy()
    banded[100:112] += 0.3
    banded[300:308] += 0.3
    field = prepared(banded)
    assert "charging" in field.flags
    assert not field.assessed[102:110].any()
    assert field.assessed[130:280].all()
    assert "charging" not in prepared(grey).flags
    crossing = grey.copy()
    crossing[:, 100:112] += 0.3
    for row in range(ROWS):
        crossing[row, (row // 2) % COLS:(row // 2) % COLS + 15] += 0.3
    assert "charging" not in prepared(crossing).flags
    assert prepared(crossing).assessed.mean() > 0.99


def test_noise_is_flagged_when_it_drowns_the_contrast_of_grooves():
    noise = np.random.default_rng(3).normal(size=(ROWS, COLS))
    assert "too noisy" in prepared(0.5 + 0.005 * texture(10, 6.0) + 0.12 * noise, um=1.0).flags
    assert "too noisy" not in prepared(0.5 + 0.08 * texture(10, 6.0) + 0.04 * noise, um=1.0).flags


@pytest.mark.parametrize("side", ["left", "right", "top", "bottom", "corner"])
def test_dark_featureless_area_at_the_border_is_beyond_the_specimen(side):
    rng = np.random.default_rng(12)
    rows, cols = np.mgrid[:ROWS, :COLS]
    beyond = {"left": cols < 150, "right": cols > 500, "top": rows < 120, "bottom": rows > 380,
              "corner": cols + rows < 300}[side]
    grey = np.where(beyond, 0.04, 0.5 + 0.1 * texture(11)) + rng.normal(0, 0.008, (ROWS, COLS))
    field = prepared(grey)
    assert field.assessed[beyond].mean() < 0.02
    assert field.assessed[~beyond].mean() > 0.96
    assert field.picture.all()


def test_wide_dark_groove_is_not_taken_for_the_specimens_edge():
    rows, cols = np.mgrid[:ROWS, :COLS]
    groove = np.abs(cols - rows * 0.5 - 250) < 60
    grey = np.where(groove, 0.05, 0.5 + 0.1 * texture(11)) + np.random.default_rng(1).normal(0, 0.01, (ROWS, COLS))
    assert prepared(grey).assessed.all()


def test_field_and_pixel_sizes_outside_the_measuring_range_are_flagged_or_refused():
    grey = 0.5 + 0.1 * texture(1)
    assert prepared(grey, um=0.5).flags == ()
    assert "field too wide" in prepared(grey, um=3.5).flags
    assert "field too narrow" in prepared(grey, um=0.15).flags  # 72 µm high
    assert "field too narrow" in prepared(grey, um=0.04).flags
    with pytest.raises(RefusedError, match="take a wider field"):
        prepared(grey, um=0.002)


def test_nothing_left_to_assess_is_refused():
    grey = np.ones((ROWS, COLS))
    grey[:20] = 0.5 + 0.1 * texture(1)[:20]
    with pytest.raises(RefusedError, match="hardly anything"):
        prepared(grey)


def test_non_square_pixels_become_square_and_come_back_to_the_own_grid():
    grey = 0.5 + 0.1 * texture(1)
    grey[100:140, 200:300] = 0.9
    field = prepared(grey, um=0.5, height_um=0.6, bar_rows=40)
    assert field.image.shape == (576, 640)  # 480 · 0.6 / 0.5
    assert field.own_shape == (ROWS, COLS)
    bright = field.raw > 0.8
    rows, cols = np.flatnonzero(bright.mean(axis=1) > 0.1), np.flatnonzero(bright.mean(axis=0) > 0.05)
    assert (len(rows), len(cols)) == (pytest.approx(48, abs=1), pytest.approx(100, abs=1))
    assert field.picture.mean() == pytest.approx(440 / 480, abs=0.002)
    own = field.on_own_grid(field.assessed)
    assert own.shape == (ROWS, COLS)
    assert own.dtype == bool
    np.testing.assert_array_equal(own[:438], True)
    np.testing.assert_array_equal(own[442:], False)


def test_resampling_by_whole_numbers_is_the_mean_over_blocks():
    picture = np.random.default_rng(1).random((60, 90)).astype(np.float32)
    expected = downscale_local_mean(picture, (3, 3))  # scikit-image
    np.testing.assert_allclose(resample(picture, 0.5, 1.5, order=1), expected, atol=1e-6)


@pytest.mark.parametrize("to_um", [0.31, 0.5, 0.77, 1.3, 2.9])
def test_resampling_keeps_places_and_means(to_um):
    # A linear ramp in µm must be the same ramp at the new pixels' centres, wherever the new grid's edges fall: to a fifth of
    # the old pixel's step, since averaging takes old pixels for even patches, and without a drift across the picture.
    rows, cols = np.mgrid[:200, :300]
    ramp = ((cols + 0.5) * 0.5 * 2.0 + (rows + 0.5) * 0.5).astype(np.float32)
    found = resample(ramp, 0.5, to_um, order=1)
    new_rows, new_cols = np.mgrid[: found.shape[0], : found.shape[1]]
    expected = (new_cols + 0.5) * to_um * 2.0 + (new_rows + 0.5) * to_um
    np.testing.assert_allclose(found[3:-3, 3:-3], expected[3:-3, 3:-3], atol=0.2)
    for part in (found - expected)[3:-3, 3:-3], (found - expected)[3:23, 3:23], (found - expected)[-23:-3, -23:-3]:
        assert abs(part.mean()) < 0.01
    assert found.shape == (round(200 * 0.5 / to_um), round(300 * 0.5 / to_um))


@pytest.mark.parametrize("to_um", [0.3, 0.77, 2.0])
def test_resampled_codes_are_codes_and_keep_their_shares(to_um):
    codes = np.zeros((200, 300), np.uint8)
    codes[:, 75:150] = 1
    codes[50:, 150:] = 255
    found = resample(codes, 0.5, to_um, order=0)
    assert set(np.unique(found)) == {0, 1, 255}
    assert found.dtype == np.uint8
    assert (found == 1).mean() == pytest.approx(0.25, abs=0.02)
    mask = resample(codes == 1, 0.5, to_um, order=0)
    assert mask.dtype == bool
    np.testing.assert_array_equal(mask, found == 1)


def test_resampling_refuses_impossible_requests():
    for sizes in ((0.0, 1.0), (1.0, -1.0)):
        with pytest.raises(ValueError, match="positive"):
            resample(np.zeros((4, 4)), *sizes, order=1)
    with pytest.raises(ValueError, match="order"):
        resample(np.zeros((4, 4)), 1.0, 2.0, order=2)


def test_simulated_fields_are_prepared_without_false_alarms():
    from semwear.simulate import simulate_field

    for seed in (3, 5):
        made = simulate_field(seed, pixel_size_um=0.5, shape=(480, 640), bits=8)
        field = prepared(made.image / 255.0)
        assert not {"field too wide", "field too narrow", "charging", "out of focus"} & set(field.flags)
        hidden = made.codes == 255
        assert (field.assessed | hidden).mean() > 0.95


@pytest.mark.slow
def test_a_full_field_takes_less_than_a_sixth_of_a_second():
    grey = 0.5 + 0.1 * texture(1, shape=(960, 1280))
    prepared(grey)
    start = time.process_time()
    for _ in range(5):
        prepared(grey)
    assert (time.process_time() - start) / 5 < 0.16
