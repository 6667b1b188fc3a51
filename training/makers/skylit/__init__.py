"""Maker of training fields: grooves of three profiles seen by backscattered electrons, dark where little sky is open.

The surface is built first (heights in µm, groove by groove), moved metal then closes parts of the grooves, the truth is read
from the heights, and the picture is rendered from heights and materials.
"""

import numpy as np

from ..made import Made
from .picture import render
from .scene import build, truth


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field with its truth; shape is (rows, cols), the whole field either ran or didn't."""
    scene = build(rng, float(pixel_size_um), (int(shape[0]), int(shape[1])))
    image = render(rng, scene)
    return Made(image=image, codes=truth(scene), worn=np.full(shape, scene.worn), kind=scene.kind)
