"""Honed fields drawn statistics first: each feature is a level set of a random field. Pixel size in µm, shape in px."""

import numpy as np

from ..made import Made
from .grooves import draw_ground
from .instrument import expose
from .light import light
from .lookalikes import strew
from .wear import run_ring

__all__ = ["make"]


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of shape (rows, cols) px, a pixel pixel_size_um µm wide; everything follows from rng."""
    draw = rng.random()
    stroke = rng.uniform(0, 180) if draw < 0.2 else rng.normal(90 if draw < 0.6 else 0, 4)
    ground = draw_ground(rng, shape, pixel_um=pixel_size_um, stroke_deg=stroke)
    surface = run_ring(rng, ground, pixel_um=pixel_size_um, stroke_deg=stroke)
    clutter = strew(rng, shape, pixel_um=pixel_size_um)
    picture = light(rng, surface, clutter, pixel_um=pixel_size_um, stroke_deg=stroke)
    image = expose(rng, picture, pixel_um=pixel_size_um)
    codes = np.where(clutter.hidden, 255, surface.codes).astype(np.uint8)
    return Made(image=image, codes=codes, worn=surface.worn, kind=f"thresholded {surface.history}")
