"""Honed ground lit from the detector's side: heights in µm first, the truth by the heights, then a picture of them.

The stroke runs down the picture, rolled by up to 6°. Figures without a source are common practice, no source.
"""

import numpy as np

from makers.made import Made
from makers.sidelit.beam import picture
from makers.sidelit.blemish import debris, flakes, scratches, stains
from makers.sidelit.frame import Frame
from makers.sidelit.ground import unrun
from makers.sidelit.hone import finish
from makers.sidelit.matter import tone
from makers.sidelit.moved import move
from makers.sidelit.torn import tear
from makers.sidelit.track import run, track

STATES = {"unworn": 0.4, "worn": 0.13, "worn smeared": 0.26, "worn smeared scuffed": 0.15, "worn scuffed": 0.06}
"""Shares of the states: the project's own mix."""


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of shape (rows, cols) at pixel_size_um µm a pixel; everything follows from rng."""
    frame = Frame(rng, float(pixel_size_um), (int(shape[0]), int(shape[1])))
    state = str(rng.choice(list(STATES), p=list(STATES.values())))
    worn = state != "unworn"
    hone = finish(rng)
    ground = unrun(frame, hone)
    contact, border = track(frame, worn)
    surface = run(frame, ground, contact)
    moved = move(frame, ground.grooves, surface, contact, "smeared" in state)

    height, codes = moved.height, moved.codes
    light = tone(frame, hone.lays[0], surface.depth, moved, contact)
    flakes(frame, light, height)
    scratches(frame, height, codes, worn)
    light = stains(frame, light, worn)
    if "scuffed" in state:
        height, light = tear(frame, height, light, codes, contact)
    debris(frame, height, light, codes)

    kind = f"{state}, {hone.name}" + (", border" if border else "")
    return Made(image=picture(frame, height.astype(np.float32), light), codes=codes, worn=contact > 0.5, kind=kind)
