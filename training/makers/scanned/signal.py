"""The detector's signal: secondaries and backscattered electrons from height and matter, in electrons out per electron in."""

from dataclasses import dataclass

import cv2
import numpy as np

from . import beam
from .draws import log_uniform


@dataclass(frozen=True, kw_only=True)
class Ground:
    """height_um; atomic number of what lies on top; yield of secondaries against bare iron's; pixel_size_um."""

    height_um: np.ndarray
    atomic_number: np.ndarray
    secondaries: np.ndarray
    pixel_size_um: float


def detected(rng: np.random.Generator, ground: Ground) -> tuple[np.ndarray, str]:
    """Signal and the name of the contrast: se (beside the specimen), inlens (above it), bse."""
    height, pixel = ground.height_um, ground.pixel_size_um
    energy = log_uniform(rng, 3, 25)
    deep = beam.range_um(energy)
    slope_x, slope_y = beam.gradient(height, pixel)
    tilt = beam.secant(slope_x, slope_y)
    mode = str(rng.choice(("se", "inlens", "bse"), p=(0.62, 0.18, 0.2)))
    azimuth = float(rng.choice((0, 90, 180, 270))) + rng.normal(0, 12)
    angle = np.radians(azimuth)
    # The surface faces the detector where it falls toward it.
    facing = -(slope_x * np.cos(angle) + slope_y * np.sin(angle)) / tilt
    back = beam.backscattered(ground.atomic_number)
    # Backscattered electrons leave within about half their range of where they went in.
    sigma = float(np.clip(0.3 * deep / pixel, 0.05, 6))
    if sigma > 0.4:
        back = cv2.GaussianBlur(back, (0, 0), sigma)
    if mode == "bse":
        side = rng.choice((0, 1), p=(0.5, 0.5)) * log_uniform(rng, 0.8, 3)
        blocked = beam.shadow(height, pixel, azimuth, rng.uniform(15, 35))
        signal = back * (1 + side * facing) * (1 - (0.2 + 0.5 * (side > 0)) * blocked)
        signal *= np.exp(-log_uniform(rng, 0.4, 1.6) * beam.starved(height, pixel, log_uniform(rng, 5, 30)))
        signal = signal + 0.1 * beam.edges(height, pixel, deep)
    else:
        first = 0.12 * ground.secondaries * tilt ** rng.uniform(1, 1.4)
        second = 0.1 * (0.5 + log_uniform(rng, 0.3, 1.2)) * ground.secondaries * back / 0.28
        rim = log_uniform(rng, 0.15, 1.0) * beam.edges(height, pixel, max(deep, 0.8 * pixel)) * ground.secondaries
        asymmetry, hidden = (log_uniform(rng, 0.3, 1.5), rng.uniform(0.15, 0.6)) if mode == "se" else (0.0, 0.0)
        signal = (first + second) * (1 + asymmetry * facing) + rim
        if hidden:
            signal *= 1 - hidden * beam.shadow(height, pixel, azimuth, rng.uniform(8, 25))
        signal *= np.exp(-log_uniform(rng, 0.2, 1.5) * beam.starved(height, pixel, log_uniform(rng, 4, 25)))
    return np.maximum(signal, 0.002).astype(np.float32), mode
