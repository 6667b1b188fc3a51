"""Adhesion in streaks along the stroke: ploughed ridges, tears and lumps as a height in µm, drawn along the rows."""

import numpy as np

from .relief import log_uniform, noise, smooth_line


def streaks(rng: np.random.Generator, size: int, pixel_size_um: float, share: float) -> np.ndarray:
    """0–1, where metal seized: ragged streaks along the rows that cover about `share` of the frame."""
    reach = np.zeros((size, size), np.float32)
    u = np.arange(size, dtype=np.float32)
    covered, tries = 0.0, 0
    while covered < share and tries < 25:
        tries += 1
        half_px = max(min(log_uniform(rng, 2, 45) / pixel_size_um, 0.25 * size), 3.0)
        length_px = size * log_uniform(rng, 0.25, 3.0)
        middle_u, middle_v = rng.uniform(0, size, 2)
        taper = np.clip((1 - np.abs(u - middle_u) / length_px * 2) * rng.uniform(1, 2.5), 0, 1)
        half = np.maximum(half_px * taper * np.clip(1 + 0.25 * smooth_line(rng, size, size / 6), 0.2, 2), 0.3)
        low, high = max(int(middle_v - 2.5 * half_px), 0), min(int(middle_v + 2.5 * half_px) + 1, size)
        v = np.arange(low, high, dtype=np.float32)[:, None] - middle_v
        ragged = 0.25 * noise(rng, (high - low, size), max(half_px / 4, 1.5), max(half_px * 2, 4))
        inside = np.clip((1.0 - np.abs(v) / half[None] + ragged) * 3, 0, 1) * np.clip(taper * 3 + ragged, 0, 1)
        np.maximum(reach[low:high], inside, out=reach[low:high])
        covered = float(reach.mean())
    return reach


def torn(rng: np.random.Generator, size: int, pixel_size_um: float) -> np.ndarray:
    """Height in µm of torn metal as if it had seized everywhere."""
    strength_um = log_uniform(rng, 0.5, 1.6)
    grain_um = log_uniform(rng, 0.7, 3.0)
    grain_px, shape = max(grain_um / pixel_size_um, 1.3), (size, size)
    ridges = np.abs(noise(rng, shape, grain_px, grain_px * log_uniform(rng, 8, 40)))
    tears = noise(rng, shape, grain_px, grain_px * log_uniform(rng, 1.0, 3.0))
    scales = noise(rng, shape, 3 * grain_px, 4 * grain_px)
    grit = noise(rng, shape, 1.5, 2.0)
    mix = rng.uniform(0.3, 1.0, 3)
    height = mix[0] * (ridges - 0.6) - mix[1] * np.clip(tears - 0.4, 0, 2) + 0.5 * mix[2] * np.clip(2 * scales, -1, 1) + 0.15 * grit
    return (strength_um * height / max(float(height.std()), 1e-3) * 0.8).astype(np.float32)
