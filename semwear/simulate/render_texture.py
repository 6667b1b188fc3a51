"""Renderer "texture": states painted with textures that are photographed or have photographed spectra.

No electron physics: plateau, floors, closures and tears get textures of their own (shipped with scikit-image, or
noise with their spectra), turned along lay or stroke and blended by state and depth. Valleys may be darker, brighter,
or only bounded by lines. It keeps a network from learning one model of the signal.
"""

import numpy as np

from .appearance import Look, floor_share, painted
from .noise import blur, fractal, shipped_texture, standardised, streaks
from .surface import Surface


def _texture(rng, surface: Surface, direction_deg: float) -> np.ndarray:
    shape = surface.frame.shape
    kind = rng.random()
    if kind < 0.45:
        return shipped_texture(rng, shape, direction_deg=direction_deg, stretch=float(rng.choice([1, 1, 3, 8])))
    if kind < 0.7:
        return fractal(rng, shape, rng.uniform(2, 40), octaves=5, gain=rng.uniform(0.4, 1.0))
    return streaks(rng, shape, direction_deg, rng.uniform(8, 200), rng.uniform(0.8, 4))


def render_texture(rng, surface: Surface, look: Look, kv: float) -> np.ndarray:
    """Return the signal, (rows, cols) float32, clean plateau near 0 and a swing of about 1; `kv` isn't used."""
    lay = surface.lay_deg[int(rng.integers(2))]
    plateau = rng.uniform(0.02, 0.35) * _texture(rng, surface, lay)
    if surface.worn.any():
        run = rng.uniform(0.02, 0.35) * _texture(rng, surface, surface.stroke_deg)
        run += rng.uniform(0, 0.2) * np.tanh(surface.fine_um / 0.1)
        plateau = plateau * (1 - surface.worn * rng.uniform(0.4, 1)) + run * surface.worn
    else:
        plateau += rng.uniform(0, 0.25) * np.tanh(surface.fine_um / 0.1)
    plateau *= min(look.marks * 1.5, 1.2)
    floor = floor_share(surface.depth_um, rng.uniform(0.2, 1.5))
    floor *= 1 - np.float32(look.fresh_metal) * surface.closed
    floors = rng.uniform(0.02, 0.4) * _texture(rng, surface, lay)
    signal = plateau * (1 - floor) + floors * floor
    if surface.closed.any():
        shut = surface.closed * (1 - floor)
        if rng.random() < 0.6:  # else the closures look like the plateau
            own = rng.uniform(0.0, 0.35) * _texture(rng, surface, surface.stroke_deg + float(rng.choice([0, 90])))
            signal = signal * (1 - shut) + own * shut
    if surface.scuff.any():
        torn = rng.uniform(0.2, 0.7) * _texture(rng, surface, surface.stroke_deg)
        torn += rng.uniform(0, 0.5) * standardised(surface.scuff_um)
        signal = signal * (1 - surface.scuff) + torn * surface.scuff
    signal += painted(rng, surface, look)
    # lines along the rims, whatever the floors look like
    width = max(rng.uniform(0.3, 1.2) / surface.frame.pixel_size_um, 0.7)
    steepness = np.clip(surface.depth_um / 0.8, 0, 1)
    rims = np.abs(steepness - blur(steepness, width)) * 2
    outer = np.maximum(blur(steepness, width) - steepness, 0) * 3
    return (signal + look.rim * (outer if rng.random() < 0.5 else rims)).astype(np.float32)
