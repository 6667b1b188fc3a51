"""Random fields and lines that the simulator is built of: patches, streaks, wandering lines, measured textures.

All arrays are float32, zero mean and unit standard deviation in expectation unless said otherwise; all randomness
comes from the generator that is handed in, so that a seed fixes every pixel.
"""

from functools import cache

import cv2
import numpy as np


def patches(rng: np.random.Generator, shape: tuple[int, int], size_px: float) -> np.ndarray:
    """Return smooth isotropic noise whose patches are about `size_px` pixels wide, float32 of `shape`."""
    size_px = max(float(size_px), 1.0)
    if size_px < 1.5:
        return rng.standard_normal(shape, dtype=np.float32)
    rows, cols = (int(np.ceil(n / size_px)) + 4 for n in shape)
    knots = rng.standard_normal((rows, cols), dtype=np.float32)
    shift = rng.uniform(0.5, 1.5, 2)
    matrix = np.array([[1 / size_px, 0, shift[0]], [0, 1 / size_px, shift[1]]], np.float32)
    out = cv2.warpAffine(
        knots, matrix, (shape[1], shape[0]), flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REFLECT
    )
    out *= 1.35  # interpolation between knots loses some variance
    return out


def fractal(rng, shape, largest_px: float, *, octaves: int = 4, gain: float = 0.6) -> np.ndarray:
    """Return noise with octaves of patches from `largest_px` downwards, each weaker by `gain`."""
    out = np.zeros(shape, np.float32)
    size, weight, power = float(largest_px), 1.0, 0.0
    for _ in range(octaves):
        out += np.float32(weight) * patches(rng, shape, size)
        power += weight**2
        if size < 1.5:
            break
        size, weight = size / 2, weight * gain
    out *= np.float32(1 / np.sqrt(power))
    return out


def streaks(rng, shape, direction_deg: float, length_px: float, width_px: float) -> np.ndarray:
    """Return noise drawn out along a direction: streaks about `length_px` long and `width_px` wide."""
    length_px, width_px = max(float(length_px), 1.0), max(float(width_px), 0.7)
    diagonal = float(np.hypot(*shape))
    rows, cols = int(diagonal / width_px) + 8, int(diagonal / length_px) + 8
    knots = rng.standard_normal((rows, cols), dtype=np.float32)
    angle = np.radians(direction_deg)
    cos, sin = np.cos(angle), np.sin(angle)
    centre = np.array([(shape[1] - 1) / 2, (shape[0] - 1) / 2])
    # along = x cos - y sin with y downwards; across = -x sin - y cos
    linear = np.array([[cos / length_px, -sin / length_px], [-sin / width_px, -cos / width_px]])
    offset = np.array([cols / 2, rows / 2]) + rng.uniform(-0.5, 0.5, 2) - linear @ centre
    matrix = np.column_stack([linear, offset]).astype(np.float32)
    out = cv2.warpAffine(
        knots,
        matrix,
        (shape[1], shape[0]),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REFLECT,
    )
    out *= 1.4
    return out


def line_noise(rng, count: int, size: float) -> np.ndarray:
    """Return `count` samples of a smooth random line that changes over about `size` samples, float32."""
    size = max(float(size), 1.0)
    knots = rng.standard_normal((1, int(count / size) + 4), dtype=np.float32)
    if size < 1.5:
        return np.resize(knots[0], count) if knots.shape[1] < count else knots[0, :count]
    at = np.arange(count, dtype=np.float32) / np.float32(size) + np.float32(rng.uniform(0.5, 1.5))
    whole = at.astype(np.int32)
    part = at - whole
    part = part * part * (3 - 2 * part)
    line = knots[0]
    return ((1 - part) * line[whole] + part * line[whole + 1]) * np.float32(1.2)


def blur(array: np.ndarray, sigma_px: float) -> np.ndarray:
    """Return `array` smoothed by a Gaussian; wide ones are done on a reduced copy, which is faster."""
    if sigma_px < 0.15:
        return array
    if sigma_px <= 4:
        return cv2.GaussianBlur(array, (0, 0), float(sigma_px), borderType=cv2.BORDER_REFLECT)
    factor = int(min(sigma_px / 2, min(array.shape) / 4))
    if factor < 2:
        return cv2.GaussianBlur(array, (0, 0), float(sigma_px), borderType=cv2.BORDER_REFLECT)
    small_size = (max(array.shape[1] // factor, 2), max(array.shape[0] // factor, 2))
    small = cv2.resize(array, small_size, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), float(sigma_px) / factor, borderType=cv2.BORDER_REFLECT)
    return cv2.resize(small, (array.shape[1], array.shape[0]), interpolation=cv2.INTER_LINEAR)


def standardised(array: np.ndarray) -> np.ndarray:
    """Return `array` with zero mean and unit standard deviation, float32; a constant one becomes zeros."""
    mean, deviation = cv2.meanStdDev(array)
    spread = float(deviation[0, 0])
    return ((array - np.float32(mean[0, 0])) * np.float32(1 / spread if spread > 1e-9 else 0)).astype(np.float32)


@cache
def _shipped_textures() -> tuple[np.ndarray, ...]:
    """Return the textures that scikit-image ships in its wheel, flattened and standardised, float32."""
    from skimage import data

    pictures = (data.brick(), data.grass(), data.gravel(), data.moon(), data.camera()[260:, :])
    levelled = []
    for picture in pictures:
        values = picture.astype(np.float32)
        levelled.append(standardised(values - blur(values, 24)))
    return tuple(levelled)


def shipped_texture(rng, shape, *, direction_deg: float = 0.0, stretch: float = 1.0, scale: float | None = None):
    """Return a piece of a photographed texture, turned, scaled and stretched along a direction, float32 of `shape`.

    Textures: brick, grass, gravel, moon and floor of scikit-image's wheel. Half the time only the texture's measured
    spectrum is kept and its phases are random, which gives a texture without any object in it.
    """
    bank = _shipped_textures()
    texture = bank[int(rng.integers(len(bank)))]
    if rng.random() < 0.5:
        spectrum = np.abs(np.fft.rfft2(texture))
        phase = np.fft.rfft2(rng.standard_normal(texture.shape, dtype=np.float32))
        phase /= np.abs(phase) + 1e-12
        texture = standardised(np.fft.irfft2(spectrum * phase, s=texture.shape).astype(np.float32))
    if scale is None:
        scale = float(np.exp(rng.uniform(np.log(0.4), np.log(3.0))))
    angle = np.radians(direction_deg)
    cos, sin = np.cos(angle) / scale, np.sin(angle) / scale
    matrix = np.array(
        [[cos / stretch, -sin / stretch, rng.uniform(0, 512)], [-sin, -cos, rng.uniform(0, 512)]], np.float32
    )
    return cv2.warpAffine(
        texture,
        matrix,
        (shape[1], shape[0]),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REFLECT_101,
    ) * np.float32(rng.choice([-1.0, 1.0]))
