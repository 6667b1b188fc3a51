"""Micrographs with known answers, drawn from another idea of the surface, of the electron picture and of the data bar.

``make`` draws one training field; ``python -m training.makers.other OUT --fields N --seed S`` writes a folder of files.
"""

from dataclasses import replace

import numpy as np

from ..made import Made
from .electrons import draw_setting, electron_signal, expose
from .ground import draw_ground
from .specimen import draw_specimen

WORN_SHARE, LEAST_WIDTH_PX, DEEPEST_UM = 0.6, 5.0, 7.0
"""Share of worn fields, narrowest typical groove and its deepest (own choice, as in the files that this maker writes)."""


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """Draw one field; everything follows from the generator's state."""
    worn = rng.random() < WORN_SHARE
    specimen = draw_specimen("training", rng)
    wider = max(1.0, LEAST_WIDTH_PX * pixel_size_um / specimen.width_um)
    specimen = replace(
        specimen, pixel_size_um=pixel_size_um, shape=shape, width_um=wider * specimen.width_um,
        depth_um=min(wider * specimen.depth_um, DEEPEST_UM),
    )  # fmt: skip
    setting = draw_setting(specimen, rng)
    ground = draw_ground(specimen, worn=worn, rng=rng)
    picture = expose(electron_signal(ground, specimen, setting, rng), setting, specimen, rng)
    return Made(
        image=np.round(picture * 255).astype(np.uint8), codes=ground.codes, worn=np.full(shape, worn),
        kind=f"{specimen.finish}, {specimen.wear if worn else 'unworn'}",
    )  # fmt: skip
