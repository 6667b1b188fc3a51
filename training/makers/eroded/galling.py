"""Scuffing: where the ring welds to the ground it tears and ploughs metal in streaks along the stroke."""

import numpy as np

from .randomly import cloud, log_uniform


def tear(
    rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float, track: np.ndarray, *, heavy: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Where metal is torn (bool) and by how much (µm) the torn ground rises or falls; stroke down the rows."""
    long_um, wide_um = log_uniform(rng, 120, 2000), log_uniform(rng, 5, 60)
    streaks = cloud(rng, shape, long_um / pixel_size_um, wide_um / pixel_size_um)
    streaks = streaks + 0.35 * cloud(rng, shape, long_um / 6 / pixel_size_um, wide_um / 5 / pixel_size_um)
    share = rng.uniform(0.35, 0.85) if heavy else log_uniform(rng, 0.04, 0.3)
    inside = np.broadcast_to(track[None, :] > 0.6, shape)
    if not inside.any():
        return np.zeros(shape, bool), np.zeros(shape, np.float32)
    torn = inside & (streaks > np.quantile(streaks[inside][::7], 1 - share))
    furrow = 0.0
    size = log_uniform(rng, 1.2, 6)
    for octave, share in ((1.0, 1.0), (2.3, 0.7), (5.1, 0.45)):
        across = max(size * octave / pixel_size_um, 1.7)
        furrow = furrow + share * cloud(rng, shape, across * rng.uniform(12, 40), across)
    across = max(log_uniform(rng, 1, 5) / pixel_size_um, 1.7)
    flake = cloud(rng, shape, across * rng.uniform(1.2, 4), across) + 0.6 * cloud(rng, shape, across / 2, across / 2)
    # Sheared metal stands in sharp crests here and is torn out in scabs there.
    crest = np.where(furrow > 0.9, 1.6 - 0.8 * furrow, furrow)
    scabs = np.clip(cloud(rng, shape, across * 12, across * 5) + rng.uniform(-0.5, 0.8), 0, 1.5)
    rise = 0.7 * crest - rng.uniform(0.3, 1.0) * scabs * np.clip(flake, -0.3, 1.5)
    # Only coarse tearing is seen to be torn where a pixel is large.
    return torn, (rise * log_uniform(rng, 0.5, 1.8) * max(1.0, pixel_size_um)).astype(np.float32)
