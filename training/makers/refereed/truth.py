"""Mask codes read off height maps: what a groove was, what it is, what adhesion moved, what debris hides."""

import cv2
import numpy as np

VALLEY_UM = 0.5
"""Least depth of an open valley below the local plateau (shared definition of the pixel states)."""
TORN_UM = 0.2
"""Mean height that adhesion moved over a few µm before the ground counts as scuffed (this maker's own)."""


def cut(height_um: np.ndarray, wear_um: np.ndarray) -> np.ndarray:
    """The grooves' height above the plateau that wear by wear_um leaves: a groove loses that depth, and no more than it has."""
    return np.minimum(height_um + wear_um, 0)


def codes(
    before_um: np.ndarray, after_um: np.ndarray, scuff_um: np.ndarray, debris_um: np.ndarray, pixel_size_um: float
) -> np.ndarray:
    """Codes of heights in µm above the local plateau of the worn ground: grooves before and after metal closed them,
    the change by adhesion, and debris on top."""
    was, is_open = -before_um >= VALLEY_UM, -after_um >= VALLEY_UM
    state = np.zeros(before_um.shape, np.uint8)
    state[is_open] = 1
    state[was & ~is_open] = 2
    if scuff_um.any():
        moved = cv2.GaussianBlur(np.abs(scuff_um), (0, 0), max(1.2 / pixel_size_um, 1.0))
        state[moved > TORN_UM] = 3
    state[debris_um > VALLEY_UM] = 255
    return state
