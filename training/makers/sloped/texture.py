"""Fine roughness of lands, valley floors and moved metal."""

from dataclasses import dataclass

import numpy as np

from .grid import Grid
from .noise import grain, streaky


@dataclass(frozen=True, kw_only=True)
class Rough:
    """Maps of (rows, cols): heights of land, floor and metal in µm; patch, slow changes of yield of unit deviation."""

    land: np.ndarray
    floor: np.ndarray
    metal: np.ndarray
    patch: np.ndarray


def textures(
    rng: np.random.Generator, grid: Grid, land_um: float, lay: float, stroke: float, *, worn: bool, smeared: bool
) -> Rough:
    """Roughness of a field whose lands deviate by `land_um`: an unworn land keeps the stones' lay (degrees), moved metal has
    flowed along the stroke (degrees). Amounts: common practice, no source."""
    fine = grain(rng, grid, 0.8)
    land = fine * (0.6 if worn else 1.0) * land_um
    if not worn:
        land = land + land_um * 1.5 * streaky(rng, grid, lay, 0.8, 15)
    floor = 0.09 * fine + 0.16 * grain(rng, grid, 1.8)
    metal = 0.02 * fine
    patch = grain(rng, grid, 25)
    if smeared:
        metal = metal + 0.10 * max(1.0, grid.pixel / 0.8) * streaky(rng, grid, stroke, 1.1, 7)
    return Rough(land=land, floor=floor, metal=metal, patch=patch)
