"""From heights to a micrograph: yield by slope, rims and escape, then beam, dose, drift and tone."""

import cv2
import numpy as np

from .noise import curve, field, log_uniform
from .surface import Surface


def _blur(picture: np.ndarray, sigma: float) -> np.ndarray:
    """Gaussian blur, sigma px."""
    return cv2.GaussianBlur(picture, (0, 0), sigma)


def tilt_gain(slope_x: np.ndarray, slope_y: np.ndarray) -> np.ndarray:
    """Gain of the secondary yield over level ground, sec θ - 1, for slopes (µm/µm) along columns and rows."""
    return np.minimum(np.sqrt(1 + slope_x**2 + slope_y**2), 2.5) - 1


def shot(rng: np.random.Generator, picture: np.ndarray, dose: float) -> np.ndarray:
    """The relative signal counted with `dose` electrons a pixel where it is 1."""
    # At tens of electrons and more Poisson and normal differ by less than the tone curve hides.
    return picture + np.sqrt(picture / dose) * rng.standard_normal(picture.shape, dtype=np.float32)


def electrons(
    rng: np.random.Generator, surface: Surface, film: np.ndarray, charge: np.ndarray, pixel_um: float
) -> np.ndarray:
    """Relative signal (plateau about 1) of a secondary or backscattered detector; film and charge are shares 0…1."""
    height = surface.height
    shape = height.shape
    backscattered = rng.random() < 0.25
    azimuth = rng.uniform(0, 2 * np.pi)
    slope_x = cv2.Sobel(height, cv2.CV_32F, 1, 0, scale=1 / (8 * pixel_um))
    slope_y = cv2.Sobel(height, cv2.CV_32F, 0, 1, scale=1 / (8 * pixel_um))
    # Rough metal at the finest pixels would give endless slopes; the beam's own volume bounds them.
    toward = np.tanh(0.9 * (slope_x * np.cos(azimuth) + slope_y * np.sin(azimuth)))
    steep = tilt_gain(slope_x, slope_y)
    near = height - _blur(height, log_uniform(rng, 1.5, 3.5))
    edge = np.clip(near, 0, 1.0)
    width = float(np.clip(12 / pixel_um, 4, 22))
    small = cv2.resize(height, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    sunk = np.clip(cv2.resize(_blur(small, width / 4), shape[::-1]) - height, 0, 4)
    open_ground = np.clip(surface.depth / rng.uniform(0.8, 2.0), 0, 1)
    side = rng.uniform(0.15, 0.6) * (1.3 if backscattered else 1.0)
    signal = 1 + side * toward + (0.05 if backscattered else rng.uniform(0.3, 1.0)) * steep
    signal += (0.1 if backscattered else rng.uniform(0.3, 1.1)) * edge - rng.uniform(0.03, 0.18) * sunk
    draw = rng.random()
    floor = (
        rng.uniform(0.2, 0.5) if draw < 0.55 else -rng.uniform(0.15, 0.4) if draw < 0.75 else rng.uniform(-0.08, 0.1)
    )
    lumps = 1 + 0.35 * field(rng, shape, log_uniform(rng, 2.5, 12), log_uniform(rng, 2.5, 12))
    signal -= floor * open_ground * lumps
    signal += rng.uniform(0.03, 0.12) * field(rng, shape, 2, 2) * open_ground
    # Burnished metal is clean and flat, or carries oil carbon pressed in: a little brighter or darker than the land, seldom alike.
    signal += (
        float(rng.choice([-1, 1, 1])) * rng.uniform(0.04, 0.2) * surface.smooth * (1 + 0.3 * field(rng, shape, 14, 14))
    )
    fold = float(rng.choice([-1, 1])) * rng.uniform(0.2, 0.5) if not backscattered else -rng.uniform(0.2, 0.45)
    signal += fold * surface.lines
    # Torn ridges stand proud and shine, pits between them starve, also where a coarse pixel hides their slopes.
    torn = surface.rough > 0
    relief = np.tanh(near / (near[torn].std() + 1e-3)) if torn.any() else 0.0
    signal += surface.rough * (
        rng.uniform(-0.15, 0.2) + rng.uniform(0.05, 0.15) * field(rng, shape, 2, 2) + rng.uniform(0.12, 0.35) * relief
    )
    signal *= 1 - film
    grains = rng.uniform(0.0, 0.05) * field(rng, shape, 9, 9) * (1 - 0.7 * surface.smooth)
    return np.clip(signal + grains + charge, 0.02, 4.0).astype(np.float32)


def record(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """The micrograph (uint8) of a relative signal: beam size, drift, jitter, dose, tone curve, sometimes JPEG."""
    rows, columns = signal.shape
    beam = log_uniform(rng, 0.35, 1.5)
    picture = _blur(signal, beam)
    if rng.random() < 0.25:
        shift = rng.uniform(0.2, 0.9) * rng.standard_normal(rows).astype(np.float32)
        grid_x, grid_y = np.meshgrid(np.arange(columns, dtype=np.float32), np.arange(rows, dtype=np.float32))
        picture = cv2.remap(picture, grid_x + shift[:, None], grid_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    shading = rng.uniform(0, 0.09) * field(rng, signal.shape, 0.7 * rows, 0.7 * columns)
    drift = rng.uniform(0, 0.04) * curve(rng, rows, rows / 4) + rng.uniform(0, 0.012) * rng.standard_normal(
        rows
    ).astype(np.float32)
    picture = np.clip(picture * (1 + shading + drift[:, None]), 0.01, None)
    picture = shot(rng, picture, log_uniform(rng, 60, 3000))
    if rng.random() < 0.2:
        picture = _blur(picture, rng.uniform(0.4, 0.8))
    low, high = np.percentile(picture[::3, ::3], [0.3, 99.7])
    # Never stretch less than a fixed span, or a bare plateau becomes all noise.
    middle, span = 0.5 * (low + high), max(high - low, rng.uniform(0.5, 0.9))
    tone = np.clip((picture - middle) / span + 0.5, -0.02, 1.02)
    tone = np.clip(tone, 0, 1) ** log_uniform(rng, 0.65, 1.5)
    black, white = rng.uniform(2, 45), rng.uniform(170, 252)
    image = np.clip(np.round(black + (white - black) * tone), 0, 255).astype(np.uint8)
    if rng.random() < 0.3:
        packed = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(60, 96))])[1]
        image = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return image
