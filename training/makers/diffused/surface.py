"""The relief that the beam meets: plateau, grooves as they are left, moved metal with its lips and seams, torn metal."""

import cv2
import numpy as np

from .band import Band
from .frame import Frame, log_uniform
from .moved import Ground


def form(rng: np.random.Generator, frame: Frame) -> np.ndarray:
    """Height (µm) of the plateau itself: waviness, and grain at the pixel that grows with the pixel."""
    long = rng.uniform(40, 200)
    grain = max(1.3 * frame.pixel_um, 0.3)
    return 0.1 * frame.noise(rng, long, long) + log_uniform(rng, 0.003, 0.04) * frame.noise(
        rng, grain, grain
    ) * np.sqrt(frame.pixel_um)


def floors(rng: np.random.Generator, frame: Frame, open_um: np.ndarray) -> np.ndarray:
    """Roughness (µm) of ground that no ring or stone has touched since it was cut; it grows with depth up to 1 µm or so."""
    size = max(log_uniform(rng, 0.4, 2.5), 1.3 * frame.pixel_um)
    rough = frame.noise(rng, size, size * rng.uniform(1, 3)) + 0.6 * frame.noise(rng, 3 * size, 3 * size)
    return np.clip(open_um, 0, 1) * rough * log_uniform(rng, 0.03, 0.3) * np.sqrt(size)


def lips(rng: np.random.Generator, stroke: Frame, ground: Ground) -> np.ndarray:
    """Height (µm) of folded metal over once deep ground: a lip where it ends, seams and fold lines shallower than 0.5 µm on it."""
    over = np.clip(ground.cover, 0, 1) * np.clip(ground.before_um / 0.5, 0, 1)
    edge = 4 * over * (1 - over)
    size = max(log_uniform(rng, 1, 6), 2 * stroke.pixel_um)
    folds = stroke.noise(rng, size, size * log_uniform(rng, 2, 12))
    seams = np.exp(-((folds * rng.uniform(3, 9)) ** 2)) * np.clip(0.4 + stroke.noise(rng, 4 * size, 6 * size), 0, 1)
    # A pressed-in flap never welds to the rim that it meets: what stays is a crack around the closed footprint.
    footprint = (ground.before_um >= 0.5) & (over > 0.5)
    outline = cv2.morphologyEx(footprint.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)).astype(
        np.float32
    )
    outline *= np.clip(0.6 + stroke.noise(rng, 3 * size, 3 * size), 0, 1)
    return edge * rng.uniform(0, 0.4) - over * seams * rng.uniform(0.1, 0.4) - outline * rng.uniform(0.05, 0.4)


def plateau_marks(bands: list[Band], frame: Frame, finish_um: float, worn_off: np.ndarray) -> np.ndarray:
    """Height (µm) of rims and finishing scratches, as far as wear has left them (worn_off 0–1)."""
    rim = np.maximum.reduce([band.rim_um for band in bands])
    scratch = np.sum([np.maximum(band.scratch_um, -0.2) for band in bands], axis=0) / len(bands)
    return (np.clip(rim, 0, 0.45) - np.clip(scratch * finish_um, -0.1, 0.45)) * (1 - worn_off)
