"""A field's relief while it is being made: heights, brightness of its matter, states."""

from dataclasses import dataclass

import numpy as np


@dataclass(kw_only=True)
class Relief:
    """(rows, cols) each: heights, µm; brightness of the matter, 1 for bare iron; codes, uint8 mask codes 0-3."""

    heights: np.ndarray
    brightness: np.ndarray
    codes: np.ndarray
