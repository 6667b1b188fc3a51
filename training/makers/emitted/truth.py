"""The truth of a field from its heights: mask codes before and after metal moved, and heights that keep to their codes."""

import numpy as np

LIMIT_UM = 0.5
"""Below the local plateau; from here ground counts as valley, and moved metal that comes nearer has closed it."""


def codes_of(before, depth):
    """Mask codes 0-2 from groove depths in µm below the worn plateau, before and after metal was moved over them.

    The plateau itself is what wear lowers, so a groove that truncation alone made shallow is plateau."""
    footprint, open_ = before >= LIMIT_UM, depth >= LIMIT_UM
    return np.where(open_, 1, np.where(footprint, 2, 0)).astype(np.uint8)


def settle(height, codes):
    """Heights in µm beside the plateau, of which texture and folds no longer lift open ground or sink land past the limit."""
    low = np.where(codes == 1, -np.inf, -0.98 * LIMIT_UM)
    high = np.where(codes == 1, -LIMIT_UM, np.inf)
    return np.clip(height, low, high).astype(np.float32)
