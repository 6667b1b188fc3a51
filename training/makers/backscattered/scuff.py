"""Scuffing: metal torn and ploughed by adhesion in streaks and patches along the stroke."""

import cv2
import numpy as np

from makers.backscattered.texture import Grid, cloud, larger, soft_step, wander


def torn_streaks(rng: np.random.Generator, grid: Grid, stroke_deg: float, worn: np.ndarray) -> np.ndarray:
    """Footprint (rows, cols) bool of one to three streaks in the track, longer along the stroke than across it."""
    along, across = grid.axes(stroke_deg)
    torn = np.zeros(grid.shape, bool)
    small = min(grid.shape) * grid.pixel_um
    for _ in range(rng.integers(1, 4)):
        half = np.clip(rng.uniform(0.05, 0.16) * small, 12 * grid.pixel_um, 150)
        length = max(rng.uniform(0.5, 1.8) * small, 5 * half)
        t = along / length - rng.uniform(-0.9, 0.4)
        ends = soft_step(t, -0.02, rng.uniform(0.1, 0.4)) * (1 - soft_step(t, rng.uniform(0.6, 0.9), 1.02))
        middle = rng.choice(across[worn]) + wander(rng, along, 8 * half) * 0.15 * half
        reach = half * np.sqrt(ends) * np.exp(0.2 * wander(rng, along, 2 * half) + 0.12 * wander(rng, along, 0.6 * half))
        reach *= 1 + 0.12 * cloud(rng, grid, stroke_deg, 1.2 * half, 0.12 * half)
        torn |= np.abs(across - middle) < reach - 0.08 * half
    round_ = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7))
    whole = cv2.morphologyEx(torn.astype(np.uint8), cv2.MORPH_CLOSE, round_)
    return larger((cv2.morphologyEx(whole, cv2.MORPH_OPEN, round_) > 0) & worn, 300)


def torn_relief(rng: np.random.Generator, grid: Grid, stroke_deg: float) -> np.ndarray:
    """Height (rows, cols) float32 µm of torn metal: furrows along the stroke and torn crests across them; a fold of the
    furrows' noise makes the crests sharp. Furrows of 1.5 to 5 µm, 0.3 to 1 µm high (common practice, no source)."""
    across_um = float(np.clip(rng.uniform(1.5, 5), 3 * grid.pixel_um, 14 * grid.pixel_um))
    furrows = cloud(rng, grid, stroke_deg, across_um * rng.uniform(5, 14), across_um)
    lumps = np.abs(cloud(rng, grid, stroke_deg, 2.5 * across_um, 2 * across_um))
    tongues = cloud(rng, grid, stroke_deg, 1.2 * across_um, 0.7 * across_um)
    return rng.uniform(0.3, 1.0) * (furrows - lumps + 0.5 * tongues)
