"""Maker of micrographs whose surface is replayed: every grit's stroke, then every event of the run, then the two detectors."""

import numpy as np

from ..made import Made
from .grain import turned
from .honing import draw_finish, hone
from .kinematics import draw_head
from .matrix import graphite, pull_outs
from .picture import look
from .surface import Surface, codes
from .wear import draw_grains, draw_run, draw_track, replay

NOT_ASSESSED = 255


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field: honed, in some six of ten run, seen."""
    pixel_size_um = float(pixel_size_um)
    size = int(np.ceil(np.hypot(*shape))) + 6
    angle = rng.uniform(0, np.pi)
    finish = draw_finish(rng, pixel_size_um, shape)
    lays = 1 if rng.random() < 0.07 else 2
    groove, land = hone(rng, size, pixel_size_um, draw_head(rng), finish, lays=lays)
    run = draw_run(rng) if rng.random() < 0.6 else None
    surface = Surface.honed(groove, land, draw_track(rng, size, min(shape), run is not None))
    per_mm2 = rng.choice([0, rng.uniform(20, 150), rng.uniform(150, 500)], p=[0.3, 0.4, 0.3])
    carbon = graphite(rng, size, pixel_size_um, per_mm2)
    pit = pull_outs(rng, size, pixel_size_um, int(rng.choice([0, rng.integers(1, 12)])))
    if run is not None:
        replay(rng, surface, draw_grains(rng, size, pixel_size_um), run)
    image, lost = look(rng, surface, carbon, pit, angle, pixel_size_um, shape)
    found = turned(codes(surface), angle, shape, nearest=True)
    found[lost] = NOT_ASSESSED
    worn = turned(surface.worn.astype(np.uint8), angle, shape, nearest=True) > 0
    words = [finish.name, "run" if run else "unrun"]
    if (found == 2).any():
        words.append("smeared")
    if (found == 3).any():
        words.append("scuffed")
    return Made(image=image, codes=found, worn=worn, kind=" ".join(words))
