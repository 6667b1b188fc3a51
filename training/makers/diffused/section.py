"""Cross-sections of hone grooves: V, trapezoid, U and ragged, from two wall slopes and a floor."""

from dataclasses import dataclass

import numpy as np

from .frame import log_uniform

SLOPE_DEG = (6.0, 27.0)
WIDTH_UM = (2.0, 60.0)
DEPTH_UM = (0.2, 10.0)


@dataclass(frozen=True, kw_only=True)
class Section:
    """A groove of width_um between its rims and depth_um below the plateau (µm); its walls
    take up left and right of the width (shares)."""

    form: str
    width_um: float
    depth_um: float
    left: float
    right: float

    def depth(self, place: np.ndarray) -> np.ndarray:
        """Depth (µm) at places across the groove, -0.5 at one rim and 0.5 at the other; 0 outside."""
        rise = np.minimum((place + 0.5) * (1 / self.left), (0.5 - place) * (1 / self.right))
        np.clip(rise, 0, 1, out=rise)
        if self.form == "u":
            rise *= 2 - rise
        return rise * self.depth_um

    @property
    def slopes_deg(self) -> tuple[float, float]:
        """Mean slope of the two walls, degrees."""
        return tuple(
            float(np.degrees(np.arctan2(self.depth_um, share * self.width_um))) for share in (self.left, self.right)
        )


def draw_section(rng: np.random.Generator, width_um: float, form: str) -> Section:
    """Width is given, slopes are drawn; the depth follows from both and from the floor, hence is only loosely tied to the width."""
    floor = 0.0 if form == "v" else rng.uniform(0.05, 0.7)
    slopes = np.tan(np.radians([log_uniform(rng, *SLOPE_DEG) for _ in range(2)]))
    depth = float(np.clip(width_um * (1 - floor) / (1 / slopes).sum(), *DEPTH_UM))
    walls = (1 / slopes) / (1 / slopes).sum() * (1 - floor)
    return Section(form=form, width_um=width_um, depth_um=depth, left=float(walls[0]), right=float(walls[1]))
