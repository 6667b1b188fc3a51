"""The picture: electron yield from the height map and the carbon on it, then beam, dose and tone."""

import math

import cv2
import numpy as np

from .relief import log_uniform, noise, smooth_line

ETA_IRON, ETA_CARBON = 0.28, 0.06
"""Backscatter coefficients of iron and carbon."""


def electron_range_um(voltage_kv: float, z: float = 26, a: float = 55.85, density: float = 7.87) -> float:
    """Range by Kanaya and Okayama (1972); density in g/cm³."""
    return 0.0276 * a * voltage_kv**1.67 / (z**0.89 * density)


def slopes(height_um: np.ndarray, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Rise over run toward greater columns and toward greater rows."""
    kernel = np.float32([[-0.5, 0, 0.5]]) / pixel_size_um
    return (
        cv2.filter2D(height_um, cv2.CV_32F, kernel, borderType=cv2.BORDER_REPLICATE),
        cv2.filter2D(height_um, cv2.CV_32F, kernel.T, borderType=cv2.BORDER_REPLICATE),
    )


def secant_yield(tangent: np.ndarray, power: float = 1.0, cap: float = 3.0) -> np.ndarray:
    """Secondary yield over that of level ground, at walls of that slope (tangent)."""
    return np.minimum((1 + tangent**2) ** (power / 2), cap)


def starvation(height_um: np.ndarray, pixel_size_um: float, reach_um: float, strength: float) -> np.ndarray:
    """Share of secondaries that escape: less, the deeper ground lies under its surroundings within reach_um."""
    sunk = np.zeros_like(height_um)
    for reach in (reach_um, 3 * reach_um):
        sigma = min(max(reach / pixel_size_um, 0.8), 40.0)
        sunk = np.maximum(sunk, (blurred(height_um, sigma) - height_um) / reach)
    return 1 / (1 + strength * np.clip(sunk, 0, 3))


def blurred(map_: np.ndarray, sigma: float) -> np.ndarray:
    if sigma < 5:
        return cv2.GaussianBlur(map_, (0, 0), sigma)
    step = sigma / 2.5
    small = cv2.resize(map_, (max(int(map_.shape[1] / step), 2), max(int(map_.shape[0] / step), 2)), interpolation=cv2.INTER_AREA)
    return cv2.resize(cv2.GaussianBlur(small, (0, 0), 2.5), map_.shape[::-1], interpolation=cv2.INTER_CUBIC)


def signal(rng: np.random.Generator, height_um: np.ndarray, carbon: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Mean signal, about 1 on clean level metal."""
    backscattered = rng.random() < 0.25
    # Ground finer than a pixel can't be resolved: the yield belongs to the mean slope.
    gx, gy = slopes(cv2.GaussianBlur(height_um, (0, 0), 0.6), pixel_size_um)
    tangent = np.hypot(gx, gy)
    azimuth = rng.uniform(0, 2 * math.pi)
    facing = -(gx * math.cos(azimuth) + gy * math.sin(azimuth)) / np.sqrt(1 + tangent**2)
    reach = log_uniform(rng, 1.5, 9)
    range_um = electron_range_um(rng.uniform(5, 20))
    if backscattered:
        eta = ETA_IRON + (ETA_CARBON - ETA_IRON) * carbon
        seen = eta / ETA_IRON * (1 + rng.uniform(0.4, 1.4) * facing)
        seen *= starvation(height_um, pixel_size_um, reach, log_uniform(rng, 0.2, 1.2))
    else:
        seen = secant_yield(tangent, rng.uniform(0.8, 1.4), rng.uniform(1.4, 2.6)) + log_uniform(rng, 0.3, 1.3) * facing
        seen *= starvation(height_um, pixel_size_um, reach, log_uniform(rng, 0.3, 2.5))
        # Electrons leave through both faces of an edge, within the range of the primaries.
        near = max(range_um / pixel_size_um, 0.7)
        edge = np.clip((height_um - blurred(height_um, near)) / range_um, 0, 0.5)
        seen += log_uniform(rng, 0.3, 2.2) * edge
        seen *= 1 - rng.uniform(0.3, 0.75) * carbon
    return np.clip(seen, 0.03, 4).astype(np.float32)


def picture(rng: np.random.Generator, seen: np.ndarray) -> np.ndarray:
    """The uint8 picture that the instrument stores of a signal."""
    shape = seen.shape
    seen = cv2.GaussianBlur(seen, (0, 0), log_uniform(rng, 0.35, 1.4))
    shade = rng.uniform(-0.12, 0.12, 2)
    seen = seen * (1 + shade[0] * np.linspace(-1, 1, shape[0])[:, None] + shade[1] * np.linspace(-1, 1, shape[1])[None])
    seen = seen * (1 + log_uniform(rng, 0.004, 0.04) * smooth_line(rng, shape[0], shape[0] / 5))[:, None]
    if rng.random() < 0.4:
        x, y = np.meshgrid(np.arange(shape[1], dtype=np.float32), np.arange(shape[0], dtype=np.float32))
        shift = log_uniform(rng, 0.05, 0.6) * rng.standard_normal(shape[0]).astype(np.float32)
        seen = cv2.remap(seen.astype(np.float32), x + shift[:, None], y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    seen = np.maximum(seen, 0.02).astype(np.float32)
    electrons = log_uniform(rng, 100, 6000)
    grain = np.sqrt(seen / electrons) * rng.standard_normal(shape, dtype=np.float32)
    if rng.random() < 0.3:
        grain = cv2.GaussianBlur(grain, (0, 0), 0.6)
    seen = seen + grain
    low, middle, high = np.percentile(seen[::3, ::3], (0.3, 50, 99.7))
    grey = rng.uniform(70, 165)
    # The operator sets contrast by eye: a spread he likes, but no more than the scale holds.
    gain = min(log_uniform(rng, 12, 42) / max(float(seen.std()), 1e-4), (250 - grey) / (high - middle), (grey - 5) / (middle - low))
    toned = np.clip(grey + gain * (seen - middle), 0, 255) / 255
    image = np.round(255 * toned ** log_uniform(rng, 0.75, 1.35)).astype(np.uint8)
    if rng.random() < 0.35:
        coded = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(45, 96))])[1]
        image = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    return image


def film_of_soot(rng: np.random.Generator, depth_um: np.ndarray) -> np.ndarray:
    """Carbon 0–1 that gathers in deep ground: patchy, and more of it the deeper it lies."""
    grain_px = log_uniform(rng, 4, 40)
    patchy = noise(rng, depth_um.shape, grain_px, grain_px) + 0.5 * noise(rng, depth_um.shape, grain_px / 3, grain_px / 3)
    patchy = np.clip(rng.uniform(0.3, 1.0) + 0.4 * patchy, 0, 1)
    return (patchy * np.clip((depth_um - 0.4) / log_uniform(rng, 0.4, 4), 0, 1)).astype(np.float32)
