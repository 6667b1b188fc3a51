"""What is no valley but may look like one: graphite, pull-outs, stains, debris; sizes in µm, layers 0..1."""

from dataclasses import dataclass

import cv2
import numpy as np

from .random_fields import above, even, log_uniform, smooth_step, stretched


@dataclass(frozen=True, kw_only=True)
class Clutter:
    """Layers over the metal, each 0..1: graphite, pit, stain, shadow, debris, charge; hidden is bool, where the surface can't be seen."""

    graphite: np.ndarray
    pit: np.ndarray
    stain: np.ndarray
    shadow: np.ndarray
    debris: np.ndarray
    charge: np.ndarray
    hidden: np.ndarray


def strew(rng: np.random.Generator, shape: tuple[int, int], *, pixel_um: float) -> Clutter:
    """Each kind is there in some fields only."""
    none = np.zeros(shape, np.float32)
    graphite, pit = _graphite(rng, shape, pixel_um=pixel_um) if rng.random() < 0.5 else (none, none)
    stain = none
    if rng.random() < 0.4:
        edge = log_uniform(rng, 0.03, 0.6)
        size = log_uniform(rng, 15, 200) / pixel_um
        field = stretched(rng, shape, angle_deg=rng.uniform(0, 180), long_px=size * rng.uniform(1, 3), short_px=size)
        level = above(field, log_uniform(rng, 0.03, 0.4))
        stain = smooth_step(field, level - edge, level + edge)
    debris = shadow = charge = none
    if rng.random() < 0.4:
        field = even(rng, shape, max(log_uniform(rng, 1.5, 12) / pixel_um, 2.5)) + 0.15 * even(rng, shape, 2)
        level = above(field, log_uniform(rng, 0.0015, 0.015))
        debris = smooth_step(field, level - 0.1, level + 0.1)
        away = rng.uniform(2, 7, 2) * rng.choice([-1, 1], 2)
        moved = cv2.warpAffine(debris, np.float32([[1, 0, away[0]], [0, 1, away[1]]]), shape[::-1])
        shadow = cv2.GaussianBlur(moved, (0, 0), 2.5) * (1 - debris)
    if rng.random() < 0.08:
        field = even(rng, shape, log_uniform(rng, 20, 60))
        level = above(field, log_uniform(rng, 0.004, 0.04))
        charge = smooth_step(field, level - 0.15, level + 0.15)
    return Clutter(
        graphite=graphite, pit=pit, stain=stain, shadow=shadow, debris=debris, charge=charge, hidden=(debris > 0.5) | (charge > 0.5)
    )


def _graphite(rng: np.random.Generator, shape: tuple[int, int], *, pixel_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Flakes, thin and curved: the level line of one even field, kept where another is high; some of them pulled out."""
    size = max(log_uniform(rng, 12, 60) / pixel_um, 8)
    line, keep = even(rng, shape, size), even(rng, shape, size * rng.uniform(0.4, 1))
    gy, gx = np.gradient(line)
    away = np.abs(line - rng.uniform(-0.7, 0.7)) / (np.hypot(gx, gy) + 0.02 / size)
    long = smooth_step(keep, 0.1, rng.uniform(0.4, 1.2))
    half = max(log_uniform(rng, 0.5, 2.5) / pixel_um, 0.7) * long
    flakes = smooth_step(half - away + 0.5, 0, 1) * (long > 0.02)
    out = flakes * smooth_step(even(rng, shape, 2 * size), 0.3, 0.6) if rng.random() < 0.5 else np.zeros(shape, np.float32)
    return flakes.astype(np.float32), out.astype(np.float32)
