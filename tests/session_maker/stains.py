"""Stains and films: patches that change the brightness and nothing else."""

import numpy as np

from tests.session_maker.canvas import Canvas
from tests.session_maker.noise import smooth_noise
from tests.session_maker.relief import Relief


def add_stains(rng: np.random.Generator, relief: Relief, stroke: Canvas, darkening: float, in_track: bool) -> None:
    """Darken patches by ``darkening``, of 1: along the stroke in a track, round elsewhere; shapes are an own choice."""
    if darkening <= 0:
        return
    if in_track:
        film = smooth_noise(rng, stroke.shape, 260, 55) + 0.4 * smooth_noise(rng, stroke.shape, 40, 10)
        film = stroke.to_picture(film)
    else:
        shape = relief.codes.shape
        film = smooth_noise(rng, shape, 130, 130) + 0.35 * smooth_noise(rng, shape, 16, 16)
    film = 1 / (1 + np.exp(-(film - 1.3) * 7))
    relief.brightness *= 1 - darkening * film
