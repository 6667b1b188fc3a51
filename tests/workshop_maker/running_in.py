"""Running-in on a sheet along the stroke: the highest metal goes first, hard particles score it, a film forms.

Abbott's curve is eaten from the top: the peaks first, then the core, the valleys last (common practice). What lies below
the worn level keeps its honed shape. Scores along the stroke and films are plateau, whatever they look like.
"""

import numpy as np

from .recipe import Wear
from .roughness import above_share, roughness


def load_map(rng: np.random.Generator, shape: tuple[int, int], pixel_um: float) -> np.ndarray:
    """Return local load over mean load: waviness of the bore carries more here and less there."""
    load = roughness(rng, shape, 160 / pixel_um, 45 / pixel_um) + 0.5 * roughness(
        rng, shape, 50 / pixel_um, 14 / pixel_um
    )
    return np.exp(0.35 * load).astype(np.float32)


def truncation(wear: Wear, load: np.ndarray) -> np.ndarray:
    """Return how deep the plateau was worn, um below the honed plateau."""
    return (wear.truncation_um * np.clip(load, 0.4, 1.8)).astype(np.float32)


def stroke_marks(rng: np.random.Generator, shape: tuple[int, int], wear: Wear, pixel_um: float) -> np.ndarray:
    """Return the fine marks along the stroke, um; particles scored deeper here and there, up to 1 um."""
    fine = roughness(rng, shape, 110 / pixel_um, max(0.65, 0.35 / pixel_um))
    wide = roughness(rng, shape, 300 / pixel_um, max(0.9, 1.4 / pixel_um))
    local = np.clip(0.8 + 0.4 * roughness(rng, shape, 120 / pixel_um, 40 / pixel_um), 0.2, 1.8)
    marks = wear.stroke_marks_um * local * (0.8 * fine + 0.6 * wide)
    for _ in range(rng.poisson(wear.scores_per_mm2 * 1e-6 * shape[0] * shape[1] * pixel_um**2 + 3)):
        row, col, length = rng.uniform(0, shape[0]), rng.uniform(-0.2, 1) * shape[1], rng.uniform(25, 350) / pixel_um
        width, depth = max((0.2 + rng.exponential(0.5)) / pixel_um, 0.6), min(0.08 + rng.exponential(0.16), 1.0)
        first, last = int(max(col, 0)), int(min(col + length, shape[1]))
        low, high = int(max(row - 3 * width, 0)), int(min(row + 3 * width + 1, shape[0]))
        if last - first < 4 or high <= low:
            continue
        along = (np.arange(first, last) - col) / length
        deep = depth * np.clip(np.minimum(along * 6, (1 - along) * 3), 0, 1)
        away = (np.arange(low, high)[:, None] - row) / width
        marks[low:high, first:last] -= (
            deep * (np.exp(-(away**2)) - 0.3 * np.exp(-((np.abs(away) - 1.6) ** 2) * 3))
        ).astype("f4")
    return marks


def film(rng: np.random.Generator, shape: tuple[int, int], wear: Wear, pixel_um: float) -> np.ndarray:
    """Return the darkening of the picture by oil char and tribofilm: tone only."""
    if wear.film <= 0:
        return np.zeros(shape, np.float32)
    score = roughness(rng, shape, 45 / pixel_um, 12 / pixel_um)
    score += 0.5 * roughness(rng, shape, 9 / pixel_um, 2 / pixel_um)
    thin = np.clip(0.8 + 0.3 * roughness(rng, shape, 30 / pixel_um, 3 / pixel_um), 0.2, 1.3)
    return wear.film * thin * np.clip((score - above_share(score, 0.3)) * 0.9, 0, 1)
