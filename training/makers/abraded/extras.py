"""What lies in or on the iron without being a groove: graphite, pull-outs, films and debris."""

from itertools import pairwise

import cv2
import numpy as np

from .noise import field, log_uniform
from .surface import Surface

DARKEST = 1 - 0.06 / 0.28
"""Of graphite: carbon's backscatter coefficient over that of iron (Reuter)."""


def _flakes(rng: np.random.Generator, shape: tuple[int, int], pixel_um: float) -> np.ndarray:
    """Curved graphite flakes as a cover 0…1."""
    cover = np.zeros(shape, np.uint8)
    length = log_uniform(rng, 15, 120) / pixel_um  # of the flakes, common practice, no source
    for _ in range(int(log_uniform(rng, 3, 40))):
        size, heading, bend = length * rng.uniform(0.3, 1.0), rng.uniform(0, 2 * np.pi), 0.5 * rng.standard_normal()
        angles = heading + bend * np.linspace(-1, 1, 9) + 0.2 * rng.standard_normal(9)
        steps = np.column_stack([np.cos(angles), np.sin(angles)]) * size / 9
        path = np.cumsum(steps, axis=0) + rng.uniform(0, 1, 2) * [shape[1], shape[0]]
        thick = max(1, round(float(rng.uniform(0.8, 4.0) / pixel_um)))
        points = [tuple(int(value) for value in np.round(point * 8)) for point in path]
        for place, (start, stop) in enumerate(pairwise(points)):
            # Flakes taper towards their ends.
            swell = 1 - abs(place - 3.5) / 5.5
            cv2.line(cover, start, stop, 255, max(1, round(min(thick, 14) * swell)), cv2.LINE_AA, shift=3)
    ragged = cover.astype(np.float32) / 255 + 0.25 * field(rng, shape, 3, 3) * (cover > 0)
    return np.clip(ragged, 0, 1)


def _blobs(rng: np.random.Generator, shape: tuple[int, int], count: int, radius: float) -> np.ndarray:
    """Irregular particles of about `radius` px as bool."""
    wobble = np.linspace(0, 2 * np.pi, 17)[:-1]
    canvas = np.zeros(shape, np.uint8)
    for _ in range(count):
        reach = radius * log_uniform(rng, 0.5, 2.0) * rng.uniform(0.6, 1.2, wobble.size)
        stretch = np.array([rng.uniform(0.6, 1.6), 1.0])
        points = (
            np.column_stack([np.cos(wobble), np.sin(wobble)]) * reach[:, None] * stretch
            + rng.uniform(0, 1, 2) * shape[::-1]
        )
        cv2.fillPoly(canvas, [np.round(points).astype(np.int32)], 1)
    # Corners of the polygons are worn round.
    return cv2.GaussianBlur(canvas.astype(np.float32), (0, 0), max(0.6, 0.12 * radius)) > 0.5


def add_extras(
    rng: np.random.Generator, surface: Surface, pixel_um: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Change `surface` in place; return film (0…1 darkness of films and graphite), charge (0…1) and hidden (bool, code 255)."""
    shape = surface.height.shape
    film = np.zeros(shape, np.float32)
    if rng.random() < 0.4:
        flakes = _flakes(rng, shape, pixel_um) * (surface.rough < 0.5)
        # Carbon still sends back a fifth of what iron does.
        film = np.maximum(film, rng.uniform(0.4, DARKEST) * flakes)
        surface.height -= flakes * rng.uniform(0.0, 1.2)
    if rng.random() < 0.25:
        pits = _blobs(rng, shape, int(rng.integers(2, 15)), float(np.clip(rng.uniform(2, 7) / pixel_um, 2, 12)))
        pits = cv2.GaussianBlur((pits & (surface.codes == 0)).astype(np.float32), (0, 0), 0.9)
        surface.height -= pits * rng.uniform(0.6, 2.5)
    if rng.random() < 0.35:
        reach = log_uniform(rng, 12, 90)
        stain = field(rng, shape, reach, reach) + 0.25 * field(rng, shape, 6, 6)
        film = np.maximum(
            film, rng.uniform(0.12, 0.45) * np.clip((stain - rng.uniform(0.6, 1.6)) * log_uniform(rng, 1.5, 8), 0, 1)
        )
    charge, hidden = np.zeros(shape, np.float32), np.zeros(shape, bool)
    if rng.random() < 0.3:
        hidden = _blobs(
            rng, shape, int(rng.integers(1, 9)), float(np.clip(log_uniform(rng, 1.5, 15) / pixel_um, 3, 30))
        )
        bright = rng.uniform(0.4, 1.2)
        # A grain on the surface keeps the electrons beside it from the detector: a shadow that is no valley.
        dim = cv2.GaussianBlur(hidden.astype(np.float32), (0, 0), rng.uniform(3, 9))
        film = np.maximum(film, rng.uniform(0.2, 0.7) * dim * ~hidden)
        lump = cv2.GaussianBlur(hidden.astype(np.float32), (0, 0), 1.5)
        surface.height = np.where(hidden, 0, surface.height) + lump * (1.5 + 0.3 * field(rng, shape, 4, 4))
        for part in (film, surface.depth, surface.lines, surface.rough, surface.smooth):
            part[hidden] = 0
        charge = bright * lump * hidden
    return film, charge, hidden
