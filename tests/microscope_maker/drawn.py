"""A drawn field and its truth."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, kw_only=True)
class DrawnField:
    """image: (rows, cols) uint8 grey; codes: (rows, cols) uint8 mask codes 0-3, 255 not assessed; worn: (rows, cols) bool,
    True where the ring ran; kind: states and finish in words."""

    image: np.ndarray
    codes: np.ndarray
    worn: np.ndarray
    kind: str
