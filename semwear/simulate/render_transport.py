"""Renderer "transport": escape and diffusion of electrons in the solid, and shadowing on the way to the detector.

A simplified transport picture. Secondaries leave where the beam enters (SE1) and where backscattered electrons come
out again (SE2), which spreads over the range of Kanaya and Okayama; both kinds escape the more the less solid lies
around the point, and they reach the detector only past the horizon, weighted towards the detector's side. The
horizon is found in eight directions over distances that double.
"""

import numpy as np

from .appearance import Look, painted
from .electrons import backscatter_coefficient, electron_range_um
from .noise import blur
from .surface import Surface


def open_sky(height_um: np.ndarray, pixel_size_um: float, *, reach_um: float, detector_deg=None, side=0.0):
    """Return the visible share of the sky, 0..1, from horizons in eight directions out to `reach_um`.

    With `side` above 0, directions towards the detector (degrees anticlockwise on the screen) weigh more.
    A level surface gives 1; the bottom of a narrow deep groove little.
    """
    rows, cols = height_um.shape
    reach_px = max(reach_um / pixel_size_um, 1.5)
    distances = [1]
    while distances[-1] * 2 <= reach_px and distances[-1] * 2 < min(rows, cols) // 2 and len(distances) < 6:
        distances.append(distances[-1] * 2)
    margin = distances[-1]
    padded = np.pad(height_um, margin, mode="edge")
    total, sky = 0.0, np.zeros_like(height_um)
    for number in range(8):
        angle = number * np.pi / 4
        step_col, step_row = int(np.rint(np.cos(angle))), -int(np.rint(np.sin(angle)))
        length = np.hypot(step_col, step_row)
        rise = np.zeros_like(height_um)
        for distance in distances:
            first_row, first_col = margin + step_row * distance, margin + step_col * distance
            other = padded[first_row : first_row + rows, first_col : first_col + cols]
            np.maximum(rise, (other - height_um) * np.float32(1 / (distance * length * pixel_size_um)), out=rise)
        weight = 1.0
        if detector_deg is not None:
            weight += side * np.cos(angle - np.radians(detector_deg))
        sky += np.float32(weight) / (1 + rise * rise)  # cos^2 of the horizon's elevation
        total += weight
    return sky / np.float32(total)


def render_transport(rng, surface: Surface, look: Look, kv: float) -> np.ndarray:
    """Return the signal, (rows, cols) float32, clean level plateau near 0 and a swing of about 1."""
    pixel = surface.frame.pixel_size_um
    range_um = electron_range_um(kv)
    height = surface.height_um - (1 - min(look.marks, 1)) * surface.fine_um * (surface.depth_um < 0.5)
    height = blur(height, 0.1 * range_um / pixel)
    side = float(np.clip(look.slope * 1.3, 0, 0.95))
    sky = open_sky(
        height, pixel, reach_um=rng.uniform(6, 25), detector_deg=look.detector_deg, side=side
    )  # fmt: skip
    # share of the sphere around the entry point that isn't solid, against a level surface
    shell = max(0.5 * range_um / pixel, 0.8)
    exposed = np.tanh((height - blur(height, shell)) / np.float32(0.35 * range_um + 0.05))
    wide = np.tanh((height - blur(height, 2.5 * shell)) / np.float32(range_um + 0.1))
    edges = rng.uniform(0.5, 1.0) * exposed + rng.uniform(0, 0.8) * wide
    material = painted(rng, surface, look)
    first = (1 + 0.5 * look.rim * edges) * (1 + 0.6 * material)
    scattered = backscatter_coefficient(26) * rng.uniform(1.0, 4.0)
    spread = blur(np.maximum(1 + 0.8 * edges, 0.1) * (1 + 0.8 * material), max(0.4 * range_um / pixel, 0.3))
    strength = float(np.exp(rng.uniform(np.log(0.6), np.log(5.0))))
    collected = np.maximum(sky, 0.02) ** np.float32(strength * (0.3 + look.starve))
    signal = (first + scattered * spread) * collected / np.float32(1 + scattered)
    return (signal - 1).astype(np.float32) * np.float32(rng.uniform(1.0, 1.8))
