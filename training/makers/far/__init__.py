"""Micrographs with known answers by another hand.

``make`` draws one training field; ``python -m training.makers.far OUT --fields N --seed S`` writes a folder of files.
"""

import numpy as np

from ..made import Made
from .beam import electron_picture
from .ground import draw_ground
from .recipe import draw_specimen

WORN_SHARE, SCUFF_SHARE = 0.6, 0.3
"""Shares of worn fields, and of specimens that scuff (own choice)."""


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """Draw one field; everything follows from the generator's state."""
    worn = rng.random() < WORN_SHARE
    specimen = draw_specimen(rng, "L", rng.random() < SCUFF_SHARE)
    specimen.hone.width = max(specimen.hone.width, 4.2 * pixel_size_um)
    specimen.shape, specimen.pixel = shape, pixel_size_um
    ground = draw_ground(rng, specimen, specimen.stroke, 0.0, worn)
    picture = electron_picture(rng, ground, specimen)
    return Made(
        image=np.round(np.clip(picture, 0, 1) * 255).astype(np.uint8), codes=ground.states, worn=np.full(shape, worn),
        kind=f"{specimen.beam.detector}, {'worn' if worn else 'unworn'}",
    )  # fmt: skip
