"""Micrographs of honed liner sections by a brief electron simulator.

Heights and materials come first, and the truth with them; then which electrons they free and which of those a detector
gets; then the instrument's own faults. Nothing is painted, so grooves, folds and flakes look as their relief makes them."""

import numpy as np

from ..made import Made
from .electrons import emit
from .instrument import record
from .surface import build


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of `shape` px at pixel_size_um (µm), all of it drawn from rng.

    Charging (glow) comes after the detectors, since it floods what they get."""
    ground = build(rng, pixel_size_um, tuple(shape))
    signal, mode = emit(rng, ground.height, ground.atomic, pixel_size_um)
    picture = record(rng, signal * ground.glow)
    return Made(image=picture, codes=ground.codes, worn=ground.worn, kind=f"{ground.name}, {mode}")
