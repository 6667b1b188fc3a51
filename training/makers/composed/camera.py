"""From the composed signal to grey levels: focus, slow shading, noise of the beam and of the lines, contrast."""

import numpy as np

from .noise import EDGE_PX, soft, spectral


def expose(rng, signal: np.ndarray, pixel_um: float) -> np.ndarray:
    """uint8 (rows, cols). signal has a plateau near 0 and contrasts near 1; shot noise grows with the root of the signal
    (N = i·t/e, tests/SOURCES.md); a scan's lines differ a little."""
    shape = signal.shape
    focus = EDGE_PX * pixel_um * np.exp(rng.uniform(np.log(0.7), np.log(2.2)))
    seen = soft(signal, focus, pixel_um)
    reach = min(shape) * pixel_um
    shade = spectral(rng, shape, pixel_um, (reach * 0.7, reach * 0.7), 0.0, 2.5)
    tilt = np.linspace(-1, 1, shape[1], dtype=np.float32) * rng.normal(0, 0.2)
    tilt = tilt + np.linspace(-1, 1, shape[0], dtype=np.float32)[:, None] * rng.normal(0, 0.2)
    seen = seen + rng.uniform(0.05, 0.3) * shade + tilt

    loud = np.exp(rng.uniform(np.log(0.05), np.log(0.38)))
    electrons = np.clip(1 + 0.2 * seen, 0.2, 3.0)
    grain = rng.standard_normal(shape, dtype=np.float32)
    if rng.random() < 0.3:  # saved small or compressed: the grain is no longer from pixel to pixel
        grain = soft(grain, 0.7 * pixel_um, pixel_um)
        grain /= grain.std()
    seen = seen + loud * np.sqrt(electrons) * grain
    seen = seen + rng.exponential(0.02) * rng.standard_normal((shape[0], 1), dtype=np.float32)

    seen = np.where(seen > 0, 2.5 * np.tanh(seen / 2.5), seen)
    middle, spread = np.mean(seen), seen.std()
    grey = rng.uniform(85, 160) + np.exp(rng.uniform(np.log(12), np.log(46))) * (seen - middle) / spread
    return np.clip(np.rint(grey), 0, 255).astype(np.uint8)
