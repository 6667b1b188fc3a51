"""Scuffing: patches where the film broke, grown along the stroke into streaks of torn, ploughed and layered metal.

A streak holds ploughed ridges along the stroke, flaps torn across it with a steep and a gentle side, and lumps of
adhesive pick-up. It covers the grooves it crosses, all but the deepest.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .noise import smooth_noise, soft_step, without_specks


@dataclass
class Scuff:
    """Cover of scuffed metal (0 to 1) and its relief in µm about the bearing plane."""

    cover: np.ndarray
    relief_um: np.ndarray


def scuffing(load: np.ndarray, pixel_um: float, share: float, strength: float, rng: np.random.Generator) -> Scuff:
    """Return streaks over about the asked share of the field; columns lie along the stroke."""
    shape = load.shape
    if share < 0.003:
        return Scuff(np.zeros(shape, np.float32), np.zeros(shape, np.float32))
    long = rng.uniform(60, 260) / pixel_um
    wide = rng.uniform(4, 16) / pixel_um
    streaks = smooth_noise(shape, long, wide, rng)
    bands = smooth_noise(shape, 3 * long, 4 * wide, rng)
    ragged = smooth_noise(shape, 9 / pixel_um, 1.1 / pixel_um + 0.4, rng)
    seed = streaks + 0.8 * bands + 0.7 * (load - 1) + 0.24 * ragged
    limit = float(np.quantile(seed, 1 - share))
    least = 90 / pixel_um**2
    whole = 1 - without_specks(1 - without_specks(seed > limit, least), least)
    near = cv2.GaussianBlur(whole.astype(np.float32), (0, 0), 0.8 / pixel_um + 0.5)
    filled = np.where(whole > 0, np.maximum(seed, limit + 0.02), np.minimum(seed, limit - 0.02))
    cover = soft_step(filled, limit - 0.12, limit + 0.12) * soft_step(near, 0.0, 0.5)
    ploughed = smooth_noise(shape, 55 / pixel_um, 0.8 / pixel_um + 0.4, rng)
    furrows = smooth_noise(shape, 90 / pixel_um, 2.4 / pixel_um + 0.4, rng)
    relief = 0.36 * ploughed + 0.4 * furrows
    relief += _torn(shape, pixel_um, rng) + _pickup(shape, pixel_um, rng)
    uneven = np.clip(1 + 0.35 * smooth_noise(shape, 60 / pixel_um, 20 / pixel_um, rng), 0.35, 1.8)
    return Scuff(cover, (strength * uneven * relief).astype(np.float32))


def _torn(shape, pixel_um: float, rng) -> np.ndarray:
    """Return layered flaps: a saw-tooth along the stroke whose teeth are bent by noise."""
    phase = np.arange(shape[0], dtype=np.float32)[:, None] * pixel_um / rng.uniform(9, 18)
    bend = 0.8 * smooth_noise(shape, 16 / pixel_um, 5 / pixel_um, rng)
    bend = bend + 0.1 * smooth_noise(shape, 2 / pixel_um + 0.4, 1 / pixel_um + 0.4, rng)
    tooth = (phase + bend) % 1.0
    tooth = np.minimum(tooth, (1 - tooth) * 7)
    where = soft_step(smooth_noise(shape, 20 / pixel_um, 7 / pixel_um, rng), -0.3, 0.8)
    return 1.1 * where * tooth * rng.choice([-1, 1]) + 0.06 * smooth_noise(
        shape, 0.5 / pixel_um + 0.5, 0.5 / pixel_um + 0.5, rng
    )


def _pickup(shape, pixel_um: float, rng) -> np.ndarray:
    """Return lumps of metal welded on."""
    lumps = smooth_noise(shape, 5 / pixel_um, 2.4 / pixel_um, rng)
    return 0.9 * soft_step(lumps, 1.3, 1.9)
