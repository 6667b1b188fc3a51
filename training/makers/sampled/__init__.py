"""Fields drawn by a spatial statistician: every population as wide as it could be, heights decide the truth."""

import numpy as np

from makers.made import Made

from .picture import take
from .surface import draw_ground


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    ground = draw_ground(rng, pixel_size_um, shape)
    image, codes = take(rng, ground, pixel_size_um)
    return Made(image=image, codes=codes, worn=ground.worn, kind=ground.kind)
