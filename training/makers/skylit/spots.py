"""Graphite flakes, pull-outs and debris; sizes and numbers are common practice, no source."""

import cv2
import numpy as np

from .grid import Grid


def flakes(rng: np.random.Generator, grid: Grid) -> np.ndarray:
    """Graphite flakes (curved, slender) and pull-outs (small pits): (rows, cols), 0 to 1."""
    out = np.zeros(grid.shape, np.float32)
    for _ in range(rng.poisson(min(3 + grid.area / 30000, 14))):
        x, y, a = rng.uniform(0, grid.shape[1]), rng.uniform(0, grid.shape[0]), rng.uniform(0, 2 * np.pi)
        bend, long = rng.normal(0, 0.12), int(rng.uniform(8, 22))
        points = [(x, y)]
        for _ in range(long):
            a += bend + rng.normal(0, 0.15)
            x, y = x + np.cos(a) * 1.8 / grid.pixel, y + np.sin(a) * 1.8 / grid.pixel
            points.append((x, y))
        line, thick = (np.array(points) * 16).astype(np.int32), rng.uniform(1.6, 3.2) / grid.pixel
        for i in range(long):
            swell = (0.3 + 0.7 * np.sin(np.pi * (i + 0.5) / long)) * rng.uniform(0.75, 1.2)
            cv2.line(out, line[i], line[i + 1], 1.0, max(1, round(thick * swell)), cv2.LINE_8, 4)
    for _ in range(rng.poisson(3)):
        x, y, size = rng.uniform(0, grid.shape[1]), rng.uniform(0, grid.shape[0]), rng.uniform(1.8, 5.0) / grid.pixel
        cv2.fillPoly(out, [outline(rng, x, y, size, 14, 0.25, 0.8)], 1.0)
    return cv2.GaussianBlur(out, (0, 0), 0.7)


def debris_map(rng: np.random.Generator, grid: Grid) -> np.ndarray:
    """One or two particles in eight fields of a hundred: (rows, cols), 0 or 1."""
    out = np.zeros(grid.shape, np.float32)
    if rng.random() < 0.08:
        for _ in range(rng.integers(1, 3)):
            x, y = rng.uniform(0, grid.shape[1]), rng.uniform(0, grid.shape[0])
            size = max(rng.uniform(4, 11) / grid.pixel, 7)
            cv2.fillPoly(out, [outline(rng, x, y, size, 11, 0.2, 1.0)], 1.0)
    return out


def outline(rng: np.random.Generator, x: float, y: float, size: float, points: int, rough: float, flat: float) -> np.ndarray:
    """Rough closed outline (points, 2) about x, y in pixels, its radius `size`, its height `flat` times its width."""
    a = np.linspace(0, 2 * np.pi, points, endpoint=False)
    radius = size * (1 + rough * rng.standard_normal(points))
    return np.stack([x + radius * np.cos(a), y + radius * np.sin(a) * flat], 1).astype(np.int32)
