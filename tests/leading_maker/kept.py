"""What a specimen keeps over its fields: a figure of its finish or of the microscope is drawn under a name.

``kept("gain")`` gives the generator that the figure of that name is drawn from. A specimen's own gives the same figure each
time it is asked; the generator of a single field serves every name in turn.
"""

import zlib
from collections.abc import Callable

import numpy as np

Kept = Callable[[str], np.random.Generator]


def of_specimen(*seed: int) -> Kept:
    """Return the figures kept by the specimen of a seed: the same for each of its fields."""
    return lambda name: np.random.default_rng([*seed, zlib.crc32(name.encode())])


def of_one_field(rng: np.random.Generator) -> Kept:
    """Return the figures of a field that stands alone, drawn as the drawing comes to them."""
    return lambda name: rng
