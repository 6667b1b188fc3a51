"""Textures of plateau, groove floor, moved and torn metal made one by one, mixed by state and blurred as electrons spread.

The stroke runs down the picture, within 4°; directions are in ° from the rows, clockwise as seen. Figures without a source are
common practice, no source.
"""

import numpy as np

from makers.made import Made
from makers.mixed.beam import camera, signal
from makers.mixed.blemish import debris, film, stain
from makers.mixed.cut import cut
from makers.mixed.finish import finish
from makers.mixed.layers import layers
from makers.mixed.matter import matter
from makers.mixed.relief import relief
from makers.mixed.scene import Scene
from makers.mixed.scuff import streaks
from makers.mixed.states import states
from makers.mixed.track import track

STATES = {"unworn": 0.4, "worn": 0.5, "worn smeared": 0.75, "worn smeared scuffed": 0.95, "worn scuffed": 1.0}
"""Summed shares of the states: the project's own mix."""


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of shape (rows, cols) at pixel_size_um µm a pixel; everything follows from rng."""
    scene = Scene(rng, float(pixel_size_um), (int(shape[0]), int(shape[1])))
    chance = rng.random()
    state = next(name for name, up_to in STATES.items() if chance < up_to)
    worn = state != "unworn"
    ran, border = track(scene, worn)
    hone = finish(scene)
    cuts = cut(scene, hone, ran, "smeared" in state)
    truth = states(cuts)
    scuff = streaks(scene, ran, rng.uniform(0.05, 0.45)) if "scuffed" in state else np.zeros(scene.shape, bool)
    truth.codes[scuff] = 3
    drawn = layers(scene, hone, cuts, truth, scuff, ran)
    height = relief(scene, drawn)
    light = stain(scene, matter(scene, drawn))
    if worn:
        light = film(scene, light, drawn.soft, drawn.contact)
    sig = debris(scene, signal(scene, height, light), truth.codes, drawn.grit)
    kind = f"{hone.name} {state}" + (" border" if border else "")
    return Made(image=camera(scene, sig), codes=truth.codes, worn=ran, kind=kind)
