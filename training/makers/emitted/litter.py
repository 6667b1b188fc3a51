"""Graphite, films, debris and charging strewn over finished ground, and what of it hides the surface."""

import numpy as np

from . import matter
from .fields import cloud, log_uniform, ramp

CARBON = 0.06 / 0.28
"""Backscatter coefficient of carbon beside iron's: no flake is darker than this."""


def strew(rng, pixel, height, atomic, codes):
    """Height in µm, yield, factor of charging and mask codes once all lies there; pixel in µm."""
    shape, codes = height.shape, codes.copy()
    glow = np.ones(shape, np.float32)
    if rng.uniform() < 0.5:
        flakes = matter.graphite(rng, shape, pixel)
        # a flake lies bare on land; in a groove the torn metal hides it more or less
        flakes = flakes * np.where(codes == 0, 1, rng.uniform(0, 1))
        atomic = atomic + flakes * rng.uniform(0.4, 1.0) * (np.minimum(CARBON, atomic) - atomic)
        height = height - flakes * log_uniform(rng, 0.05, 2)
    if rng.uniform() < 0.4:
        atomic = atomic * (1 - rng.uniform(-0.1, 0.35) * matter.film(rng, shape))
    if rng.uniform() < 0.3:
        lumps = matter.debris(rng, shape, pixel)
        hit = lumps > 0
        height = np.where(hit, np.maximum(height, 0) + lumps, height)
        atomic = np.where(hit, rng.uniform(0.4, 1.3), atomic)
        codes[hit] = 255
    if rng.uniform() < 0.06:
        blaze = ramp(cloud(rng, shape, 0.15 * min(shape)), 1.7, 2.2)
        glow = glow + 2.5 * blaze
        codes[blaze > 0.5] = 255
    return height.astype(np.float32), atomic.astype(np.float32), glow, codes
