"""The exact state of every pixel, from heights.

A groove's ground at least VALLEY_DEPTH_UM below the local plateau is open valley. Ground that would be that deep but
for moved metal, and now is within VALLEY_DEPTH_UM, is smeared. Torn or ploughed metal is scuffed, even where a groove
ran. Pull-outs and scratches along the stroke are no valleys, however deep. What hides the surface is not assessed.
"""

import numpy as np

from ..terms import VALLEY_DEPTH_UM, MaskCode
from .surface import Surface


def state_codes(surface: Surface, hidden: np.ndarray) -> np.ndarray:
    """Return the mask codes of a surface, uint8 (rows, cols).

    `hidden` is a bool map of debris, charging or the specimen's edge.
    """
    codes = np.full(surface.depth_um.shape, MaskCode.PLATEAU, np.uint8)
    was_open = surface.open_um >= VALLEY_DEPTH_UM
    is_open = surface.depth_um >= VALLEY_DEPTH_UM
    codes[was_open & is_open] = MaskCode.OPEN_VALLEY
    codes[was_open & ~is_open & (surface.closed > 0.05)] = MaskCode.SMEARED
    codes[surface.scuff >= 0.5] = MaskCode.SCUFFED
    codes[hidden] = MaskCode.NOT_ASSESSED
    return codes
