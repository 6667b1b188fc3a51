"""Graphite flakes, pull-outs and debris."""

import cv2
import numpy as np

from .ground import Ground


def graphite(rng: np.random.Generator, ground: Ground) -> np.ndarray:
    """How much each pixel of the lands is carbon or hole (rows, cols), 0 to 1: bent flakes and rough pull-outs, their sizes
    and number common practice, no source. They are part of the plateau (semwear.terms)."""
    grid = ground.grid
    layer = np.zeros(grid.shape, np.float32)
    for _ in range(rng.poisson(min(8.0, 1.5 + 18 * grid.area / 1e6))):
        centre = rng.uniform(0, 1, 2) * grid.shape[::-1]
        if rng.random() < 0.65:
            turn, bend = rng.uniform(0, 2 * np.pi), rng.uniform(-0.12, 0.12)
            steps = int(rng.uniform(6, 16))
            angles = turn + np.cumsum(bend + 0.15 * rng.standard_normal(steps))
            path = centre + np.cumsum(np.stack([np.cos(angles), np.sin(angles)], 1) * 3.0 / grid.pixel, 0)
            thick = max(1, round(rng.uniform(1.5, 3) / grid.pixel))
            cv2.polylines(layer, [np.round(path * 8).astype(np.int32)], False, 1.0, thick, cv2.LINE_8, 3)
        else:
            size = max(rng.uniform(2.0, 4.5) / grid.pixel, 2.0)
            outline = blob(rng, centre, size, rng.uniform(1, 1.4), rng.uniform(0, 180))
            cv2.fillPoly(layer, [outline], 1.0, cv2.LINE_8, 3)
    lands = (ground.cut < 0.2) & ~ground.scuff
    return cv2.GaussianBlur(layer * lands, (0, 0), 0.7)


def debris(rng: np.random.Generator, ground: Ground) -> np.ndarray:
    """Mark one to three particles in the ground; return their height (rows, cols), up to 4 µm."""
    grid = ground.grid
    layer = np.zeros(grid.shape, np.uint8)
    for _ in range(rng.integers(1, 4)):
        size = max(rng.uniform(3, 8) / grid.pixel, 5.0)
        centre = rng.uniform(0, 1, 2) * grid.shape[::-1]
        outline = blob(rng, centre, size, rng.uniform(1, 1.4), rng.uniform(0, 180), 14)
        cv2.fillPoly(layer, [outline], 1, cv2.LINE_8, 3)
    ground.debris = layer > 0
    return np.minimum(cv2.distanceTransform(layer, cv2.DIST_L2, 3) * grid.pixel, 4.0)


def blob(rng: np.random.Generator, centre: np.ndarray, size: float, stretch: float, deg: float, points: int = 26) -> np.ndarray:
    """Rough closed outline (points, 2) as x, y in eighths of a pixel: radius `size` pixels, stretched along `deg`."""
    around = np.linspace(0, 2 * np.pi, points, endpoint=False)
    radius = size * (1 + 0.22 * np.convolve(rng.standard_normal(points + 2), (0.3, 0.5, 0.3), "valid"))
    x, y = radius * np.cos(around) * stretch, radius * np.sin(around) / stretch
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    return np.round((np.stack([x * c - y * s, x * s + y * c], 1) + centre) * 8).astype(np.int32)
