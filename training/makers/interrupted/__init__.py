"""Fields in which context decides: closures that look like plateau, told from it only by the interruption of a groove's line."""

import numpy as np

from ..made import Made
from .ground import honed
from .picture import taken
from .ring import run
from .story import tell


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    story = tell(rng, min(shape) * pixel_size_um, pixel_size_um, min(shape))
    surface = run(rng, honed(rng, shape, pixel_size_um, story), pixel_size_um, story)
    image, hidden = taken(rng, surface, story, pixel_size_um)
    codes = np.where(hidden, 255, surface.codes).astype(np.uint8)
    kind = " ".join(
        (story.wear, story.closure if story.smear else "open", "scuffed" if story.scuff else "calm", story.scene)
    )
    return Made(image=image, codes=codes, worn=surface.worn, kind=kind)
