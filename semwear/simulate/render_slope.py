"""Renderer "slope": a secondary-electron picture from slope, detector side, rims and starved grooves.

Yield grows as sec(theta)^n, n near 1; the detector's side adds the slope towards it; convex edges within the escape
range are bright; places that lie below their surroundings give away fewer electrons. Grey of materials is added.
"""

import numpy as np

from .appearance import Look, painted
from .electrons import electron_range_um, tilt_yield
from .noise import blur
from .surface import Surface


def slopes(height_um: np.ndarray, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the slopes to the right and upwards on the screen, central differences, two float32 arrays."""
    padded = np.pad(height_um, 1, mode="edge")
    scale = np.float32(0.5 / pixel_size_um)
    right = (padded[1:-1, 2:] - padded[1:-1, :-2]) * scale
    up = (padded[:-2, 1:-1] - padded[2:, 1:-1]) * scale
    return right, up


def render_slope(rng, surface: Surface, look: Look, kv: float) -> np.ndarray:
    """Return the signal, (rows, cols) float32, clean level plateau near 0 and a swing of about 1."""
    pixel = surface.frame.pixel_size_um
    reach_px = 0.35 * electron_range_um(kv) / pixel
    height = blur(surface.height_um - (1 - min(look.marks, 1)) * surface.fine_um * (surface.depth_um < 0.5), reach_px)
    right, up = slopes(height, pixel)
    angle = np.radians(look.detector_deg)
    facing = -(right * np.float32(np.cos(angle)) + up * np.float32(np.sin(angle)))
    signal = look.slope * 1.2 * np.tanh(facing / np.float32(0.35))
    slope = np.sqrt(right * right + up * up)
    signal += look.tilt * (tilt_yield(np.minimum(slope, 2.0), exponent=rng.uniform(0.8, 1.4)) - 1)
    near = max(rng.uniform(0.4, 2.0) / pixel, 1.0)
    convex = height - blur(height, near)
    signal += look.rim * np.tanh(np.maximum(convex, 0) / np.float32(rng.uniform(0.08, 0.4)))
    if look.starve:
        wide = max(rng.uniform(3, 15) / pixel, 2.0)
        below = np.maximum(blur(height, wide) - height, 0)
        signal -= look.starve * (1 - np.exp(-below / np.float32(rng.uniform(0.4, 3))))
    return signal + painted(rng, surface, look)
