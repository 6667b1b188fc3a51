"""Mask codes from the height maps before and after metal moved."""

import cv2
import numpy as np

from .chance import blurred
from .flow import Ground
from .wear import Base

VALLEY_DEPTH_UM = 0.5
PLATEAU, VALLEY, SMEARED, SCUFFED, NOT_ASSESSED = 0, 1, 2, 3, 255


def local_plateau(height: np.ndarray, land: np.ndarray, sigma_px: float = 22.0) -> np.ndarray:
    """Mean height of the land around each spot, µm."""
    weight = land.astype(np.float32)
    return blurred(height * weight + 1e-4 * height, sigma_px) / (blurred(weight, sigma_px) + 1e-4)


def tidy(area: np.ndarray, side: int = 5) -> np.ndarray:
    """Specks and pinholes of fewer px than half a window can't be seen, and go."""
    return cv2.medianBlur(area.astype(np.uint8), side).astype(bool)


def codes_of(base: Base, ground: Ground, scuff: np.ndarray, load: np.ndarray) -> np.ndarray:
    """Open where the groove still lies deep; smeared where it lay deep and moved metal now fills or roofs it.

    Slivers of filling below 5 px wide on a groove's shoulder can't be outlined and are left out. A groove that abrasion
    made shallow on its own has no metal at rest in it and stays plateau. A groove that still gapes within a scuffed band
    is open valley."""
    groove = base.depth >= VALLEY_DEPTH_UM
    level = local_plateau(ground.height, base.depth < 0.15)
    left = level - (ground.height - base.height) - (base.level - base.depth)
    closed = groove & (left < VALLEY_DEPTH_UM) & ((ground.rested > 0.12) | (ground.void > 0)) & (load > 0)
    still = groove & (left >= VALLEY_DEPTH_UM)
    codes = np.full(groove.shape, PLATEAU, np.uint8)
    codes[tidy(groove, 3) & tidy(still)] = VALLEY
    least = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    codes[tidy(closed & (ground.void > 0))] = SMEARED
    codes[cv2.morphologyEx(tidy(closed).astype(np.uint8), cv2.MORPH_OPEN, least) > 0] = SMEARED
    wide_open = cv2.morphologyEx((codes == VALLEY).astype(np.uint8), cv2.MORPH_OPEN, least) > 0
    codes[scuff & (load > 0) & ~wide_open] = SCUFFED
    return codes
