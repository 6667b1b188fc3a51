"""Micrographs of honed ground with known answers, made by lips of metal that reach over grooves along the stroke.

``make`` draws one training field; ``python -m training.makers.away OUT --fields N --seed S`` writes a folder of files.
"""

import numpy as np

from ..made import Made
from .field import draw_specimen, make_field
from .ground import Frame

WORN_SHARE = 0.6
"""Share of worn fields (own choice)."""


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """Draw one field; everything follows from the generator's state."""
    worn = rng.random() < WORN_SHARE
    specimen = draw_specimen(rng)
    field = make_field(rng, specimen, Frame(*shape, float(pixel_size_um)), worn)
    return Made(
        image=np.rint(255 * field.grey).astype(np.uint8), codes=field.codes, worn=np.full(shape, worn),
        kind=f"{specimen['beam']['detector']}, {'worn' if worn else 'unworn'}",
    )  # fmt: skip
