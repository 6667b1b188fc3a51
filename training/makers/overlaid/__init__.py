"""Fields on which smeared metal has a body: outline, thickness, upper skin and margin, laid over the groove by the ring.

Grooves and the ring's path are drawn as bands on turned canvases (frames, lays, track), closures as bodies over their own
groove (bodies), the truth from the depths before and after (surface), and last the secondary-electron picture (picture).
"""

import numpy as np

from makers.made import Made

from .picture import expose, yield_map
from .specimen import draw_specimen
from .surface import draw_surface


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    specimen = draw_specimen(rng, pixel_size_um, shape)
    surface = draw_surface(rng, specimen, shape)
    grey = yield_map(rng, surface, pixel_size_um)
    codes = surface.codes.copy()
    image = expose(rng, grey, codes)
    state = "unworn"
    if specimen.worn:
        state = "scuffed" if specimen.scuffed else "closed" if specimen.closed > 0.15 else "worn"
    return Made(image=image, codes=codes, worn=surface.worn, kind=f"overlaid {specimen.finish} {state}")
