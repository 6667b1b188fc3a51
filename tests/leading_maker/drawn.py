"""What the drawing of one field returns."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """One field with its truth: image (rows, cols) uint8; codes (rows, cols) uint8 mask codes 0-3 or 255; worn (rows, cols)
    bool, True where the ring ran; kind: short name of what was drawn."""

    image: np.ndarray
    codes: np.ndarray
    worn: np.ndarray
    kind: str
