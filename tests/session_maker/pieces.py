"""Connected pieces of a mask that are smaller than a number of pixels."""

import cv2
import numpy as np


def small_pieces(mask: np.ndarray, below_px: int, connectivity: int) -> np.ndarray:
    """Return the pieces of ``mask`` (rows, cols) bool with fewer than ``below_px`` pixels, as a mask of the same shape."""
    _, label, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=connectivity)
    return (stats[:, cv2.CC_STAT_AREA] < below_px)[label] & mask
