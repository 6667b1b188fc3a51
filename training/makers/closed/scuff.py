"""Metal torn by adhesion: streaks along the stroke, rough inside, with bright ridges and pulled-out tails."""

import numpy as np

from .noise import between, grain, streaks


def draw_scuff(
    rng: np.random.Generator, along_px: np.ndarray, across_px: np.ndarray, worn: np.ndarray, *, share: float, px: float
) -> tuple[np.ndarray, np.ndarray]:
    """Mask of torn metal (bool) making up about `share` of the worn ground, and its height above the plateau (µm)."""
    if share <= 0 or not worn.any():
        return np.zeros(worn.shape, bool), np.zeros(worn.shape, np.float32)
    size = max(worn.shape)
    length = np.clip(between(rng, 60, 600) / px, 0.25 * size, 1.5 * size)
    width = np.clip(between(rng, 5, 60) / px, 6, 0.2 * size)
    field = streaks(rng, along_px, across_px, length, width) + 0.25 * streaks(rng, along_px, across_px, 14, 4)
    mask = worn & (field > np.quantile(field[worn], 1 - share))
    ridge_px = max(2.0, between(rng, 0.8, 4) / px)
    ploughed = streaks(rng, along_px, across_px, 14 * ridge_px, ridge_px)
    torn = streaks(rng, along_px, across_px, 2.5 * ridge_px, 1.5 * ridge_px) * (0.6 + 0.5 * grain(rng, worn.shape, 8 * ridge_px))
    # What shows is slope: at a coarse pixel only the higher ridges are seen, so those are drawn.
    height = between(rng, 0.4, 1.6) * max(1.0, px) * (0.7 * ploughed + rng.uniform(0.5, 1.1) * torn)
    return mask, (height * mask).astype(np.float32)
