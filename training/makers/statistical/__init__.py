"""Micrographs from surface statistics: a height map with a reported texture, wear as an operator on it, and a picture from its slopes."""

import numpy as np

from makers.made import Made

from . import alike, hone, instrument, picture, wear


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field of the given shape (rows, cols) at pixel_size_um (um) with its truth."""
    pixel, shape = float(pixel_size_um), (int(shape[0]), int(shape[1]))
    ground = hone.ground(rng, shape, pixel)
    surface = wear.run(rng, ground, pixel, alike.scratches(rng, shape, pixel, ground.stroke))
    grain, relief, shade = alike.debris(rng, shape, pixel)
    extra = {
        "graphite": alike.graphite(rng, shape, pixel),
        "patch": alike.patches(rng, shape, pixel),
        "debris": grain,
        "relief": relief,
        "shade": shade,
    }
    signal, style = picture.seen(rng, surface, pixel, extra)
    glow = alike.charging(rng, shape)
    image = instrument.developed(rng, instrument.lit(rng, instrument.scanned(rng, signal)), glow)
    codes = surface.codes.copy()
    codes[(grain > 0.5) | (glow > 0.5)] = 255
    return Made(image=image, codes=codes, worn=surface.worn, kind=f"{surface.name}_{style}")
