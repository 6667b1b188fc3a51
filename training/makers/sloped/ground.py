"""Heights of a field, what covers each pixel, and the truth that follows."""

import numpy as np

from .grid import Grid

LIMIT_UM = 0.5
"""Below the local plateau: the limit between plateau and open valley (semwear.terms)."""


class Ground:
    """Maps of (rows, cols): z height of the grooves as they lie now (µm); cut their depth without moved metal (µm, positive);
    relief of scratches, seams and lips, too small for the truth (µm); metal moved, 0 to 1; grey change of yield; scuff,
    debris bool."""

    def __init__(self, grid: Grid):
        self.grid = grid
        self.z, self.cut, self.relief, self.metal, self.grey = (np.zeros(grid.shape, np.float32) for _ in range(5))
        self.scuff, self.debris = np.zeros(grid.shape, bool), np.zeros(grid.shape, bool)

    def codes(self) -> np.ndarray:
        """Mask codes (rows, cols) uint8, as semwear.terms has them."""
        valley = self.z <= -LIMIT_UM
        codes = np.zeros(self.grid.shape, np.uint8)
        codes[valley] = 1
        codes[(self.cut >= LIMIT_UM) & ~valley] = 2
        codes[self.scuff] = 3
        codes[self.debris] = 255
        return codes
