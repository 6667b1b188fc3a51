"""From ground to picture: yield by composition, tilt, detector side and escape; then beam, dose, drift and settings."""

import cv2
import numpy as np

from .grain import between, cloud

BACKSCATTER_IRON, BACKSCATTER_CARBON = 0.28, 0.06
"""Backscatter coefficients (Reuter's fit): graphite is dark in either mode."""


def electron_range_um(voltage_kv: float) -> float:
    """Range of electrons in iron, µm (Kanaya and Okayama 1972)."""
    return 0.0276 * 55.85 * voltage_kv**1.67 / (26**0.89 * 7.87)


def signal(rng: np.random.Generator, height_um: np.ndarray, matter: np.ndarray, carbon: np.ndarray, pixel_size_um: float):
    """Mean signal (about 1 on flat iron). matter: yield of the iron against plain; carbon: 0–1 covered by graphite."""
    backscattered = rng.random() < 0.25
    voltage_kv = between(rng, 5, 25)
    right = cv2.Sobel(height_um, cv2.CV_32F, 1, 0, ksize=3, scale=1 / (8 * pixel_size_um))
    down = cv2.Sobel(height_um, cv2.CV_32F, 0, 1, ksize=3, scale=1 / (8 * pixel_size_um))
    secant = np.sqrt(1 + np.minimum(right**2 + down**2, 9))
    side = rng.uniform(0, 2 * np.pi)
    # An area slopes towards the detector when its ground rises away from it.
    facing = -(right * np.cos(side) + down * np.sin(side)) / secant
    reach_px = np.clip(electron_range_um(voltage_kv) / pixel_size_um, 0.8, 8)
    proud = height_um - cv2.GaussianBlur(height_um, (0, 0), float(reach_px))
    wide = cv2.GaussianBlur(height_um, (0, 0), float(np.clip(6 / pixel_size_um, 2, 20)))
    sunk = np.maximum(-0.5 * (height_um + np.minimum(wide, height_um + 2)), 0)
    starved = 1 - between(rng, 0.06, 0.75) * (1 - np.exp(-sunk / between(rng, 0.5, 4)))
    if backscattered:
        body = matter * (1 - carbon * (1 - BACKSCATTER_CARBON / BACKSCATTER_IRON))
        return body * (1 + between(rng, 0.3, 1.2) * facing) * starved + 0.15 * np.clip(proud, -1, 1)
    body = (1 + 0.6 * (matter - 1)) * (1 - carbon * between(rng, 0.25, 0.75))
    lit = 1 + between(rng, 0.4, 1.2) * (secant - 1) + between(rng, 0.08, 0.9) * facing
    return body * lit * starved + between(rng, 0.08, 0.6) * np.clip(proud, -0.6, 1)


def expose(rng: np.random.Generator, bright: np.ndarray, charging: np.ndarray) -> np.ndarray:
    """The picture (uint8) of a mean signal; charging (0–1) adds glow in grey steps, whatever the settings."""
    shape = bright.shape
    bright = cv2.GaussianBlur(bright.astype(np.float32), (0, 0), between(rng, 0.35, 1.4))
    bright = bright * (1 + between(rng, 0.005, 0.12) * cloud(rng, shape, 0.7 * max(shape)))
    bright *= 1 + between(rng, 0.002, 0.02) * rng.standard_normal((shape[0], 1), dtype=np.float32)
    if rng.random() < 0.3:
        down, right = np.indices(shape, dtype=np.float32)
        right += between(rng, 0.1, 0.6) * rng.standard_normal((shape[0], 1), dtype=np.float32)
        bright = cv2.remap(bright, right, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    # Shot noise of N electrons is sqrt(N); frame averaging and detector make N a wide draw.
    electrons = between(rng, 60, 4000)
    bright = np.maximum(bright, 0.02)
    bright = bright + np.sqrt(bright / electrons) * rng.standard_normal(shape, dtype=np.float32)
    thin = bright[::3, ::3]
    low, middle, top = np.quantile(thin, (0.01, 0.5, 0.99))
    # The operator sets contrast by the bulk, so that single bright edges may burn out.
    span = max(float(top - low), 0.08)
    grey = rng.uniform(75, 165) + rng.uniform(90, 215) * (bright - middle) / span
    grey += charging * rng.uniform(40, 130)
    grey = np.where(grey > 215, 215 + 38 * np.tanh((grey - 215) / 45), grey)
    grey = np.where(grey < 35, 35 - 33 * np.tanh((35 - grey) / 40), grey)
    grey = 255 * (np.clip(grey, 0, 255) / 255) ** between(rng, 0.75, 1.35)
    image = np.round(grey).astype(np.uint8)
    if rng.random() < 0.35:
        _, packed = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(45, 96))])
        image = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return image
