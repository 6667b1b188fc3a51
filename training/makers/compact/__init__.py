"""Maker of training fields in plain analytic geometry: lines for grooves, intervals for closures, boolean maps for states.

`surface` draws the ground after the test with its truth, `picture` what a secondary-electron detector shows of it. Every
parameter is drawn afresh and widely for each field, so that two fields look as if from different laboratories.
"""

import numpy as np

from ..made import Made
from .picture import scan
from .surface import VALLEY_DEPTH_UM, ground

__all__ = ["VALLEY_DEPTH_UM", "make"]


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field with its truth; everything follows from rng."""
    tilt_deg = float(rng.uniform(3, 30)) if rng.random() < 0.25 else 0.0
    surface = ground(rng, pixel_size_um, shape, tilt_deg)
    image, hidden = scan(rng, surface, tilt_deg)
    codes = np.where(hidden, np.uint8(255), surface.codes)
    return Made(image=image, codes=codes, worn=surface.worn, kind=surface.kind)
