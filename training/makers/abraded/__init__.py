"""Honed sections as a height map in µm, abraded by truncation and by moved metal, seen by their slopes and rims."""

import numpy as np

from ..made import Made
from .extras import add_extras
from .microscope import electrons, record
from .surface import make_surface


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One simulated micrograph of `shape` (rows, cols) px with pixels of `pixel_size_um` µm; everything follows from `rng`."""
    surface = make_surface(rng, shape, pixel_size_um)
    film, charge, hidden = add_extras(rng, surface, pixel_size_um)
    image = record(rng, electrons(rng, surface, film, charge, pixel_size_um))
    codes = surface.codes.copy()
    codes[hidden] = 255
    return Made(image=image, codes=codes, worn=surface.worn, kind=f"heights {surface.kind}")
