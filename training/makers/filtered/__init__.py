"""Fields seen by a filtered detector in the lens: edges and materials without a side, on honed, run and scuffed ground."""

import numpy as np

from makers.filtered.camera import record
from makers.filtered.detector import signal
from makers.filtered.ground import lay_down
from makers.made import Made


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of `shape` (rows, cols) at pixel_size_um, µm, with its truth; everything follows from rng."""
    ground = lay_down(rng, shape, float(pixel_size_um))
    image = record(rng, signal(rng, ground, float(pixel_size_um)))
    return Made(image=image, codes=ground.codes, worn=ground.worn, kind=ground.kind)
