"""Adhesive tearing: streaks along the stroke in which the surface is torn open, with ridges and smeared tongues."""

import numpy as np

from .spectra import log_uniform, texture, unit


def scuffed(
    rng: np.random.Generator, track: np.ndarray, *, stroke_deg: float, pixel_size_um: float, heavy: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Where metal is torn (bool, inside the track) and the torn surface's height (µm) about the plateau."""
    shape = track.shape
    length = log_uniform(rng, 0.3, 1.5) * max(shape)
    across = np.clip(log_uniform(rng, 4, 40) / pixel_size_um, 3, 0.15 * min(shape))
    where, patch = texture(rng, shape, along_px=length, across_px=across, direction_deg=stroke_deg, fall=1.6)
    # Tongues: the streaks' ends are ragged where hard patches stopped the tearing.
    ragged, fine = texture(
        rng,
        shape,
        along_px=max(4, log_uniform(rng, 5, 40) / pixel_size_um),
        across_px=max(0.8, log_uniform(rng, 0.6, 1.5) / pixel_size_um),
        direction_deg=stroke_deg + rng.normal(0, 2),
        fall=rng.uniform(0.7, 1.1),
    )
    score = unit(where + 0.3 * patch) + 0.16 * ragged
    share = rng.uniform(0.35, 0.8) if heavy else log_uniform(rng, 0.03, 0.25)
    torn = track & (score > np.quantile(score[track], 1 - share)) if track.any() else np.zeros(shape, bool)
    ridges = 1 - 2 * np.abs(ragged).clip(0, 1.2)
    # Who looks at coarse pixels sees the coarse part of the tearing, which is the higher one.
    rise = log_uniform(rng, 0.4, 1.3) * max(1.0, pixel_size_um / 0.4) ** 0.8
    height = rise * (0.7 * fine + 0.7 * ridges) - rng.uniform(0, 0.5)
    return torn, height.astype(np.float32)
