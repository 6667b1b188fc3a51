"""Torn streaks along the stroke."""

import numpy as np

from .grid import Grid
from .ground import Ground
from .noise import curve, grain, streaky


def scuff(rng: np.random.Generator, ground: Ground, stroke: float) -> np.ndarray:
    """Mark streaks of scuffing in the ground and return their heights (rows, cols) in µm, 0 outside: furrows along the stroke
    (degrees), tears across it, torn grain, ridges ploughed up along the edges."""
    grid = ground.grid
    ridge = tear(rng, ground, stroke)
    furrows = streaky(rng, grid, stroke, max(1.3, grid.pixel), 25)
    torn = grain(rng, grid, 1.1)
    tears = np.clip(streaky(rng, grid, stroke - 90, 1.4, 3.0) - 1.1, 0, 2)
    return ground.scuff * (0.50 * furrows + 0.22 * torn - 0.8 * tears + 0.6 * ridge).astype(np.float32)


def tear(rng: np.random.Generator, ground: Ground, stroke: float) -> np.ndarray:
    """Mark streaks until they cover a goal of 2.5 to 19 % (more where one streak of least width covers more); return their
    ridges (rows, cols), 0 to 1."""
    grid = ground.grid
    goal = rng.uniform(0.025, 0.19) * grid.area
    u, v = grid.along(stroke - 90), grid.along(stroke)
    ridge = np.zeros(grid.shape, np.float32)
    least = max(12.0, 18 * grid.pixel)
    short = min(grid.shape) * grid.pixel
    band = max(1.3, 1.2 * grid.pixel)
    for _ in range(12):
        lacking = goal - ground.scuff.sum() * grid.pixel**2
        if lacking < 0.1 * goal:
            break
        wide = float(np.clip(rng.uniform(0.05, 0.16) * short, least, max(least, lacking / short * 1.2)))
        at = rng.uniform(-0.45, 0.45) * grid.shape[1] * grid.pixel
        start, end = -2 * grid.radius, 2 * grid.radius
        if rng.random() < 0.4:  # begins or ends within the field
            start = rng.uniform(-0.3, 0.2) * short
        if rng.random() < 0.5:
            start, end = -end, -start
        near = np.minimum(v - start, end - v)
        taper = wide / 2 * np.sqrt(np.clip(near / (1.5 * wide), 0, 1))
        left, right = (side(rng, grid, wide, v) for _ in range(2))
        away = u - at
        inside = np.where(near > 0, np.where(away < 0, taper + left + away, taper + right - away), -5)
        streak = inside > 0
        ground.scuff |= streak
        ridge = np.maximum(ridge, np.exp(-0.5 * ((inside - band) / band) ** 2) * streak)
    return ridge


def side(rng: np.random.Generator, grid: Grid, wide: float, v: np.ndarray) -> np.ndarray:
    """Ragged course of one side of a streak `wide` µm wide over the distance v along it, µm."""
    reach = grid.radius * 1.1
    return curve(rng, reach, 12, 0.03 * min(wide, 40))(v) + curve(rng, reach, 60, 0.08 * wide)(v)
