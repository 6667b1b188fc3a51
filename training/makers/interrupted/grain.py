"""Random functions of one and two dimensions, all of unit spread, that everything else is made of."""

import cv2
import numpy as np


def wander(rng: np.random.Generator, count: int, length: float) -> np.ndarray:
    """A random line of `count` steps, smooth over about `length` steps; mean 0, spread 1."""
    knots = rng.standard_normal(max(4, int(count / max(length, 1.0)) + 5)).astype(np.float32)
    start = rng.uniform(0, 1)
    at = np.arange(count, dtype=np.float32) / max(length, 1.0) + start
    whole = at.astype(int)
    part = at - whole
    # A cosine blend keeps the line free of the kinks that a straight one has at each knot.
    part = 0.5 - 0.5 * np.cos(np.pi * part)
    whole = np.minimum(whole, len(knots) - 2)
    return knots[whole] * (1 - part) + knots[whole + 1] * part


def turned(shape: tuple[int, int], angle_rad: float) -> tuple[np.ndarray, np.ndarray]:
    """Coordinates in px along a direction and across it, from the middle of the picture; angle from the row to the right."""
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    x -= shape[1] / 2
    y -= shape[0] / 2
    c, s = np.float32(np.cos(angle_rad)), np.float32(np.sin(angle_rad))
    return x * c + y * s, y * c - x * s


def lattice(rng: np.random.Generator, along: np.ndarray, across: np.ndarray, long_px: float, wide_px: float) -> np.ndarray:
    """Smooth noise over the picture with grains `long_px` by `wide_px`; mean about 0, spread about 1."""
    table = rng.standard_normal((160, 160)).astype(np.float32)
    # Wrapped by hand, since the remap of a table far outside itself is slow and its border rule is not cubic.
    map_x = np.mod(along / np.float32(max(long_px, 1.0)) + np.float32(rng.uniform(0, 150)), 156) + 1
    map_y = np.mod(across / np.float32(max(wide_px, 1.0)) + np.float32(rng.uniform(0, 150)), 156) + 1
    table[:, 156:] = table[:, :4]
    table[156:] = table[:4]
    return cv2.remap(table, map_x, map_y, cv2.INTER_CUBIC) * 1.3


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))
