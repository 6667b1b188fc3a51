"""How well one map tells the share of a surface that lies below the plateau.

Grooves cross the whole map, so that strips across them all hold the same grooves and agree whatever the surface is. Strips *along* a
lay each hold grooves of their own, as independent samples do; those of the other lay cross them all. The variance of the share is
therefore that between strips along the one lay and that between strips along the other, each over the number of strips
(variance of a mean of independent samples, ASTM E562); what strips in any direction show, such as pits, is counted once.
"""

import math

import numpy as np

from semwear.profile.texture import plateau_level_um
from semwear.terms import VALLEY_DEPTH_UM

STRIPS, LEAST_STRIPS, LEAST_POINTS = 12, 4, 50
"""Strips of a map, those needed, and points that a strip needs to count."""
STEP_DEG, APART_DEG = 5, 20
"""Steps in which directions are tried, and how far the second lay lies from the first at least."""
MOST_POINTS = 60_000
"""Points that the directions are tried on; a larger map is thinned."""


def share_uncertainty(texture_um: np.ndarray, fraction: float) -> float:
    """Return the standard uncertainty of the share below the plateau of a map, (rows, cols) µm with NaN where nothing is known.

    ``fraction``: the share itself, 0..1. NaN where no direction has four usable strips.
    """
    known = np.isfinite(texture_um)
    low = known & (np.nan_to_num(texture_um) <= plateau_level_um(texture_um[known]) - VALLEY_DEPTH_UM)
    step = max(1, round(math.sqrt(known.sum() / MOST_POINTS)))
    rows, cols = np.nonzero(known[::step, ::step])
    below = low[::step, ::step][rows, cols].astype(float)
    directions = np.arange(0, 180, STEP_DEG)
    variances = np.array([_between_strips(rows, cols, below, fraction, direction) for direction in directions])
    if np.isnan(variances).all():
        return math.nan
    first = int(np.nanargmax(variances))
    peaks = (variances >= np.roll(variances, 1)) & (variances >= np.roll(variances, -1))
    peaks &= np.abs((directions - directions[first] + 90) % 180 - 90) >= APART_DEG
    common = float(np.nanmedian(variances))
    second = max(variances[peaks], default=common)
    return math.sqrt(variances[first] + max(second - common, 0.0))


def _between_strips(rows, cols, below, fraction: float, direction_deg: float) -> float:
    """Return the variance of the mean share of strips along a direction; NaN for too few usable ones."""
    turned = math.radians(direction_deg)
    across = cols * math.sin(turned) + rows * math.cos(turned)
    place = (across - across.min()) * (STRIPS / (np.ptp(across) + 1))
    strip = place.astype(int)
    points, lower = (np.bincount(strip, values, minlength=STRIPS) for values in (None, below))
    usable = points >= LEAST_POINTS
    if usable.sum() < LEAST_STRIPS:
        return math.nan
    points, lower = points[usable].astype(float), lower[usable]
    gaps = (lower - fraction * points) / points.sum()
    return float(points.size / (points.size - 1) * np.square(gaps).sum())
