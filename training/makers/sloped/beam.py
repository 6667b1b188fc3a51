"""The secondary-electron picture of the heights."""

import cv2
import numpy as np

from .ground import Ground
from .texture import Rough

DETECTOR_DEG = 55.0
"""Azimuth of the off-axis detector, the same for all fields within 8° (common practice, no source)."""


def picture(
    rng: np.random.Generator, ground: Ground, rough: Rough, torn: np.ndarray, carbon: np.ndarray, lump: np.ndarray
) -> np.ndarray:
    """Grey values (rows, cols) uint8 of the ground with its roughness, torn heights and lumps of debris (µm) and carbon
    (0 to 1), all (rows, cols); the beam's spot, shading and shot noise included."""
    pixel = ground.grid.pixel
    open_part = np.clip((-ground.z - 0.35) / 0.3, 0, 1)
    scuffed = cv2.GaussianBlur(ground.scuff.astype(np.float32), (0, 0), 0.6)
    free = 1 - scuffed
    metal = ground.metal * (1 - open_part) * free
    land = (1 - np.maximum(metal, open_part)) * free

    coarse = (ground.z + ground.relief) * free + torn
    height = coarse + land * rough.land + open_part * free * rough.floor + metal * rough.metal
    height = height + lump - 0.6 * carbon
    azimuth = np.radians(DETECTOR_DEG + rng.normal(0, 8))
    tilted = 1 + 0.55 * (secant(height, pixel) - 1) + rng.uniform(0.32, 0.45) * towards(height, pixel, azimuth)
    tilted = tilted + ground.grey * (1 - open_part) * free
    rim = np.clip(coarse - cv2.GaussianBlur(coarse, (0, 0), max(1.4 / pixel, 1.2)), 0, 0.5)

    yield_ = escape(coarse, pixel) * tilted + rng.uniform(1.0, 1.4) * rim
    yield_ += 0.16 * scuffed + 0.035 * rough.patch * land
    yield_ *= 1 - 0.55 * carbon
    if lump.any():
        yield_ = lit(yield_, ground, lump)
    return recorded(rng, yield_, ground)


def secant(height: np.ndarray, pixel: float) -> np.ndarray:
    """1/cos of the local slope (rows, cols), at most 1.9; roughness too fine for the pixel steepens the slopes by half."""
    gy, gx = np.gradient(height, pixel)
    return np.minimum(np.sqrt(1 + (1.5 * gx) ** 2 + (1.5 * gy) ** 2), 1.9)


def towards(height: np.ndarray, pixel: float, azimuth: float) -> np.ndarray:
    """Sine of the slope that faces the detector (rows, cols): the azimuth in radians, counter-clockwise as seen."""
    gy, gx = np.gradient(height, pixel)
    side = -(gx * np.cos(azimuth) - gy * np.sin(azimuth))
    return side / np.sqrt(1 + side**2)


def escape(height: np.ndarray, pixel: float) -> np.ndarray:
    """Share of electrons that escape (rows, cols): starved in deep and narrow places, and by carbon on valley floors
    (tests/SOURCES.md names both; amounts are common practice, no source)."""
    depth = np.clip(-height, 0, None)
    narrow = np.clip(cv2.GaussianBlur(height, (0, 0), max(6 / pixel, 2)) - height - 0.1, 0, 3)
    return 1 - 0.34 * (1 - np.exp(-np.clip(depth - 0.30, 0, None) / 0.6)) - 0.16 * (1 - np.exp(-narrow / 1.2))


def lit(yield_: np.ndarray, ground: Ground, lump: np.ndarray) -> np.ndarray:
    """The yield (rows, cols) with debris glowing and the shadow beside it, 4 µm away from the detector."""
    pixel = ground.grid.pixel
    glow = np.clip(lump / 2, 0, 1)
    shift = np.float32([[1, 0, -4 / pixel], [0, 1, 4 / pixel]])
    shade = cv2.warpAffine(ground.debris.astype(np.float32), shift, ground.grid.shape[::-1])
    shade = 0.3 * cv2.GaussianBlur(shade, (0, 0), max(1.5 / pixel, 1))
    return (yield_ + 0.55 * glow) * (1 - shade * (1 - glow))


def recorded(rng: np.random.Generator, yield_: np.ndarray, ground: Ground) -> np.ndarray:
    """Grey values uint8 of a yield relative to bare plateau (rows, cols): blurred by the spot, shaded, with Poisson-like
    noise of 250 to 600 detected electrons a pixel (N = i·t/e: 10 pA for 4 to 10 µs)."""
    grid = ground.grid
    yield_ = cv2.GaussianBlur(yield_.astype(np.float32), (0, 0), float(np.hypot(rng.uniform(0.5, 0.8), 0.15 / grid.pixel)))
    lean = rng.normal(0, 0.03, 2)
    yield_ *= 1 + lean[0] * grid.x[None, :] / grid.x[-1] + lean[1] * grid.y[:, None] / grid.y[-1]
    electrons = rng.uniform(250, 600)
    noisy = yield_ + np.sqrt(np.clip(yield_, 0.05, None) / electrons) * rng.standard_normal(grid.shape, np.float32)
    level, gain = rng.uniform(118, 140), rng.uniform(110, 135)
    return np.clip(np.round(level + gain * (noisy - 1)), 0, 255).astype(np.uint8)
