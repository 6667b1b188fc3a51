"""Cross-section of a groove: the shape of the grit that cut it, sunk to a depth.

Hone-groove walls slope 6–27° (facts of the trade, from published depths and widths). A grit of fixed shape
sunk less deep leaves a narrower groove, and so does truncation: taking t off the top is the same as sinking the grit by t
less. So width tells depth: at a level L below the top a vee is 2(D − L)/tan(slope) wide, an arc of radius R 2√(2R(D − L))
(a circle's chord for depths far below R)."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Section:
    """Grit shape: kind vee, arc or floor; wall is the tangent of the wall slope (of the rim, for an arc sunk to depth_um);
    skew makes one wall steeper than the other."""

    kind: str
    wall: float
    depth_um: float
    floor_um: float = 0.0
    skew: float = 0.0

    @property
    def radius_um(self) -> float:
        return 2 * self.depth_um / self.wall**2

    def rise(self, across_um: np.ndarray) -> np.ndarray:
        """Height of the grit's shape above its tip at a distance across the groove."""
        away = np.abs(across_um)
        if self.skew:
            away = away * np.where(across_um > 0, 1 + self.skew, 1 - self.skew).astype(np.float32)
        if self.kind == "arc":
            return away * away / (2 * self.radius_um)
        return self.wall * np.maximum(away - self.floor_um / 2, 0) if self.floor_um else self.wall * away

    def half_width_um(self, depth_um: np.ndarray | float) -> np.ndarray:
        """Half the width at the rim of a groove so deep (both walls alike)."""
        depth = np.maximum(depth_um, 0)
        if self.kind == "arc":
            return np.sqrt(2 * self.radius_um * depth)
        return np.where(depth > 0, self.floor_um / 2 + depth / self.wall, 0.0)

    def width_um(self, depth_um: float, level_um: float = 0.0) -> float:
        """Full width at a level below the top."""
        half = float(self.half_width_um(depth_um - level_um))
        return half / (1 + self.skew) + half / (1 - self.skew)
