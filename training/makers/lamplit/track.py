"""Where the ring ran and what it did along the stroke: worn-off height, marks, scuffing. Heights in um."""

import cv2
import numpy as np

from .noise import Turned, cloud, log_between, wander


def draw_worn(rng: np.random.Generator, turned: Turned) -> np.ndarray:
    """Bool picture, True in the track: none of it, all of it, or one side of a border along the stroke."""
    draw = rng.random()
    if draw < 0.4 or draw > 0.62:
        return np.full(turned.shape, draw > 0.62)
    side = turned.side
    reach = min(turned.shape) * rng.uniform(-0.3, 0.3)
    border = side / 2 + reach + wander(rng, side, side / 4) * rng.uniform(0, 4)
    across = np.arange(side, dtype=np.float32)[:, None] - border[None, :]
    return turned.to_picture((across * rng.choice([-1, 1]) > 0).astype(np.uint8), labels=True) > 0


def truncation(rng: np.random.Generator, worn: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Height (um) the plateau lost; it runs out softly at the track's border."""
    lost = log_between(rng, 0.05, 1.6)
    if worn.all():
        return np.full(worn.shape, lost, np.float32)
    soft = float(np.clip(log_between(rng, 1, 25) / pixel_size_um, 1, 40))
    inward = cv2.distanceTransform(worn.astype(np.uint8), cv2.DIST_L2, 3)
    return lost * np.clip(inward / soft, 0, 1)


def marks(rng: np.random.Generator, turned: Turned, strength_um: float) -> np.ndarray:
    """Fine lines along the canvas, um below zero, always shallower than 0.45 um and so part of the plateau."""
    side = turned.side
    lines = cloud(rng, (side, side), rng.uniform(1.0, 2.5), side * log_between(rng, 0.15, 2.0))
    lines += 0.7 * cloud(rng, (side, side), rng.uniform(3, 14), side * 0.7)
    return turned.to_picture(np.clip(-strength_um * np.maximum(lines - rng.uniform(-0.5, 1.3), 0), -0.45, 0))


def _torn(rng: np.random.Generator, side: int, across: float, along: float) -> np.ndarray:
    """Roughness of unit spread without the lattice of a stretched grid, which on wide torn streaks would look woven."""
    shrink = max(along / 6, 1.0)
    noise = rng.standard_normal((side, int(side / shrink) + 2), dtype=np.float32)
    noise = cv2.GaussianBlur(noise, (0, 0), sigmaX=along / shrink / 2, sigmaY=across)
    return cv2.resize(noise / noise.std(), (side, side), interpolation=cv2.INTER_LINEAR)


def scuff(rng: np.random.Generator, turned: Turned, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Torn streaks on the picture: bool mask and the torn metal's own height (um)."""
    side = turned.side
    heavy = rng.random() < 0.35
    mask = np.zeros((side, side), np.uint8)
    torn_edge = rng.uniform(0, 0.25)
    columns = np.arange(side, dtype=np.float32)
    for _ in range(int(rng.integers(4, 12)) if heavy else int(rng.integers(1, 5))):
        half = float(np.clip(log_between(rng, 3, 70 if heavy else 30) / pixel_size_um, 6, 0.18 * side)) / 2
        middle = side / 2 + rng.uniform(-0.4, 0.4) * side + wander(rng, side, side / 2) * half * 0.3
        start, run = rng.uniform(-0.6, 0.8) * side, side * log_between(rng, 0.2, 2.0)
        taper = np.clip(np.minimum(columns - start, start + run - columns) / (half * rng.uniform(1, 12)), 0, 1) ** 0.6
        upper, lower = (
            half * taper * np.clip(1 + 0.35 * wander(rng, side, half * 4) + torn_edge * wander(rng, side, half * 0.7), 0.1, 2) for _ in "ab"
        )
        low, high = int(max(middle.min() - 2.1 * half, 0)), int(min(middle.max() + 2.1 * half, side))
        across = np.arange(low, high, dtype=np.float32)[:, None] - middle[None, :].astype(np.float32)
        mask[low:high] |= ((across > -upper) & (across < lower) & (taper > 0)).astype(np.uint8)
    grain, long = log_between(rng, 0.6, 2.2), log_between(rng, 4, 25)
    torn = _torn(rng, side, grain, grain * long) + 0.8 * _torn(rng, side, grain * 3, grain * rng.uniform(8, 30))
    # Tongues torn across the stroke break the ploughed ridges into scales.
    torn += rng.uniform(0.1, 0.9) * np.abs(_torn(rng, side, grain * 2.0, grain * 1.2))
    return turned.to_picture(mask, labels=True) > 0, turned.to_picture(torn) * log_between(rng, 0.25, 1.1)
