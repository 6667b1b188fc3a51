"""What the ring did: truncated plateau, flaps that close grooves, torn metal; and what the mask says of it."""

import numpy as np

from .draws import log_uniform, smooth_map, streaked_map
from .grooves import Band, along_grooves

LIMIT_UM = 0.5
"""Depth below the local plateau that parts valley from plateau (semwear.terms)."""


def truth(open_um: np.ndarray, closed_um: np.ndarray, torn: np.ndarray) -> np.ndarray:
    """Mask codes from the depth below the local plateau in µm, before (open_um) and after metal moved over it (closed_um)."""
    codes = np.where(closed_um >= LIMIT_UM, 1, np.where(open_um >= LIMIT_UM, 2, 0)).astype(np.uint8)
    codes[torn] = 3
    return codes


def truncated(depth_um: np.ndarray, removed_um: np.ndarray | float) -> np.ndarray:
    """Depth of grooves below a plateau that lost removed_um: the metal went, nothing moved into the groove."""
    return np.maximum(depth_um - removed_um, 0)


def flaps(
    rng: np.random.Generator, band: Band, depth_um: np.ndarray, worn: np.ndarray, heaviness: float, pixel_size_um: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Depth in µm after flaps from a rim reached over the grooves, where they lie, and their seams (0 to 1)."""
    shape = depth_um.shape
    cell_um = log_uniform(rng, 10, 150) * pixel_size_um
    reach = along_grooves(rng, band.groove, band.along_um, band.count, cell_um)
    # Deep, wide grooves are closed first in some fields, narrow ones in others; each groove has its own fate.
    fate = rng.normal(0, 0.7, band.count)[np.maximum(band.groove, 0)]
    reach = (reach + fate) / 1.4 + (2.6 * heaviness - 1.3)
    lobe = log_uniform(rng, 5, 20)
    ragged = smooth_map(rng, shape, (2, 2)) * rng.uniform(0.01, 0.06) + smooth_map(rng, shape, (lobe, lobe)) * rng.uniform(0.05, 0.25)
    side = (rng.random(band.count) < 0.5)[np.maximum(band.groove, 0)]
    rim = np.where(side, band.across, 1 - band.across)
    from_rim = rim + ragged
    laid = (from_rim < 0.1 + reach * rng.uniform(0.7, 2)) & (band.groove >= 0) & (depth_um > 0.15) & worn
    seam_at = rng.uniform(0.3, 0.9) + 0.1 * along_grooves(rng, band.groove, band.along_um, band.count, 6 * pixel_size_um)
    seam_width = np.maximum(log_uniform(rng, 0.7, 1.6) * pixel_size_um / np.maximum(band.width_um, 1), 0.03)
    seam = np.exp(-(((from_rim - seam_at) / seam_width) ** 2))
    # Where the flap was pressed on the far rim a crease stays; at the near one it folded without a gap, or nearly.
    crease = np.clip(smooth_map(rng, shape, (15, 15)) + 1, 0.35, 1.2)
    seam = np.maximum(seam, crease * np.exp(-(((1 - rim) / seam_width) ** 2)))
    seam = np.maximum(seam, rng.uniform(0, 0.8) * crease * np.exp(-((rim / seam_width) ** 2))) * laid
    sag = np.clip(0.08 + 0.07 * smooth_map(rng, shape, (12, 12)), 0, 0.18)
    lip = 0.25 * np.exp(-from_rim / np.maximum(1.5 * seam_width, 0.02))
    cap = np.minimum(sag + rng.uniform(0.15, 0.35) * seam - lip * rng.uniform(0.2, 1), 0.48)
    return np.where(laid, cap, depth_um).astype(np.float32), laid, seam.astype(np.float32)


def torn_metal(
    rng: np.random.Generator, along_um: np.ndarray, across_um: np.ndarray, worn: np.ndarray, pixel_size_um: float, share: float
) -> tuple[np.ndarray, np.ndarray]:
    """Where adhesion tore the metal, in streaks along the stroke, and the height of the torn ground in µm."""
    length, width = log_uniform(rng, 100, 500) * pixel_size_um, log_uniform(rng, 12, 60) * pixel_size_um
    streak = streaked_map(rng, along_um, across_um, length, width)
    streak += 0.15 * smooth_map(rng, worn.shape, (6, 6))
    torn = (streak > np.quantile(streak, 1 - share)) & worn
    ridges = streaked_map(rng, along_um, across_um, log_uniform(rng, 12, 60) * pixel_size_um, 2.2 * pixel_size_um)
    lumps, tears = smooth_map(rng, worn.shape, (1.5, 1.5)), streaked_map(rng, along_um, across_um, 5 * pixel_size_um, 7 * pixel_size_um)
    tall = log_uniform(rng, 0.7, 1.8) * max(1.0, pixel_size_um) ** 0.7
    return torn, (tall * (0.5 * ridges + 0.08 * lumps + rng.uniform(0.05, 0.3) * np.minimum(tears, -0.8))).astype(np.float32)
