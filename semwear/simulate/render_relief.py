"""Renderer "relief", held out of every training: light on a relief, with hollows that stay dark.

A differently filtered surface (median, then a coarser and a finer copy) is lit from the detector's side by Lambert's
law with a second, weaker light opposite, darkened by occlusion at several scales, and multiplied by a backscatter
contrast of the materials.
"""

import cv2
import numpy as np

from .appearance import Look, painted
from .electrons import backscatter_coefficient
from .noise import blur, fractal
from .render_slope import slopes
from .surface import Surface

HELD_OUT_RENDERER = "relief"
"""The renderer that no training sees."""


def render_relief(rng, surface: Surface, look: Look, kv: float) -> np.ndarray:
    """Return the signal, (rows, cols) float32, clean level plateau near 0 and a swing of about 1; `kv` isn't used."""
    pixel = surface.frame.pixel_size_um
    height = cv2.medianBlur(surface.height_um, 3)
    height = height + (look.marks - 1) * surface.fine_um * (surface.depth_um < 0.3)
    gain = float(np.exp(rng.uniform(np.log(0.8), np.log(4.0))))
    right, up = slopes(gain * height, pixel)
    normal = 1 / np.sqrt(1 + right * right + up * up)
    lit = np.zeros_like(height)
    for turn, weight in ((0.0, 1.0), (np.pi, rng.uniform(0.1, 0.7))):
        angle, elevation = np.radians(look.detector_deg) + turn, np.radians(rng.uniform(30, 75))
        x, y, z = np.cos(angle) * np.cos(elevation), np.sin(angle) * np.cos(elevation), np.sin(elevation)
        lit += weight * np.maximum((-right * x - up * y + z) * normal, 0) / z
    lit /= lit.mean() + 1e-6
    hollow = np.zeros_like(height)
    for size_um in (0.8, 3.0, 10.0):
        size = max(size_um / pixel, 0.6)
        hollow += np.clip((blur(height, size) - height) / np.float32(0.25 * size_um + 0.1), -0.5, 1.5)
    occluded = np.exp(-np.float32(0.15 + 0.5 * look.starve) * np.maximum(hollow, 0))
    carbon = backscatter_coefficient(6) / backscatter_coefficient(26)
    fill = np.clip(
        surface.graphite + rng.uniform(0, 0.6) * np.clip(surface.depth_um / 2, 0, 1) * (1 - surface.closed), 0, 1
    )
    material = 1 - (1 - carbon) * fill * rng.uniform(0.2, 0.9)
    signal = lit * occluded * material - 1 + 0.5 * look.rim * np.clip(-hollow, 0, 1)
    signal = signal + rng.uniform(0.2, 0.8) * painted(rng, surface, look)
    grain = rng.uniform(0, 0.08) * fractal(rng, height.shape, 6, octaves=3)
    return (signal + grain).astype(np.float32)
