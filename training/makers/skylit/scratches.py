"""Shallow scratches of the plateau along both lays and along the stroke."""

import numpy as np

from .grid import Grid
from .noise import Line, blobs, smooth


def finishing(rng: np.random.Generator, grid: Grid, lays: list[float], depth: float) -> np.ndarray:
    """Heights (rows, cols) in µm of fine scratches of about `depth` µm along the lays (radians), shallower than the limit."""
    out = np.zeros(grid.shape, np.float32)
    for lay in lays:
        c, s = np.float32(np.cos(lay)), np.float32(np.sin(lay))
        line = Line(rng, grid.half, max(1.5, 1.6 * grid.pixel))
        cut = np.clip(line(-s * grid.p + c * grid.q) - 1.0, 0, 1.6)
        out -= depth * cut * np.clip(0.6 + 0.5 * blobs(rng, grid.shape, 60 / grid.pixel), 0, 1.2)
    return np.maximum(out, -0.42)


def stroke_scratches(rng: np.random.Generator, grid: Grid, count: int) -> np.ndarray:
    """Heights (rows, cols) in µm of `count` scratches along the stroke, shallower than the limit."""
    out = np.zeros(grid.shape, np.float32)
    for _ in range(count):
        at, width = rng.uniform(-grid.half, grid.half) * 0.8, max(rng.uniform(1.0, 2.4), 1.3 * grid.pixel)
        middle, long = rng.uniform(-0.6, 0.6) * grid.half, rng.uniform(0.25, 1.2) * grid.half
        line = np.exp(-(((grid.p - at) / width * 1.6) ** 2)) * smooth((long - np.abs(grid.q - middle)) / 12)
        out = np.minimum(out, -rng.uniform(0.2, 0.42) * line)
    return out
