"""Bodies of moved metal laid into the grooves: caps, bridges, tongues and pressed-in flakes, joined by a smooth union."""

from dataclasses import dataclass

import numpy as np

from .frame import Frame
from .grooves import Carved
from .noise import Textures, smooth_min, smoothstep

LIMIT_UM = 0.5
"""Of a valley's depth below the local plateau (semwear.terms)."""


@dataclass(frozen=True)
class Bodies:
    """distance: signed µm to the union's outline, negative inside; sunk: µm that its top lies below the plateau."""

    distance: np.ndarray
    sunk: np.ndarray


def draw_bodies(rng: np.random.Generator, frame: Frame, textures: Textures, carved: Carved, width_um: float, share: float) -> Bodies:
    """share: 0–1, roughly of the grooves' length that is closed."""
    slide, aside = frame.stroke
    row = carved.key * 2.31 + rng.uniform(0, 40)
    ragged = textures.noise(slide / 6 + 3, aside / 2.2) * (0.5 + 0.1 * width_um)
    ragged += textures.noise(slide / 1.5, aside / 0.7 + 9) * 0.25
    quantile = np.float32(np.sqrt(2) * 1.1 * (2 * share - 1))
    length = width_um * np.exp(rng.uniform(np.log(1.2), np.log(12)))
    caps = (-quantile - textures.noise(carved.along / length, row)) * length * 0.4
    distance = caps + ragged
    if rng.random() < 0.6:  # short bridges, which interrupt a groove
        short = width_um * rng.uniform(0.5, 1.2) + 1
        bridges = (1.3 - 1.2 * share - textures.noise(carved.along / short, row + 11)) * short * 0.5
        distance = smooth_min(distance, bridges + ragged * 0.7, 0.5)
    if rng.random() < 0.6:  # tongues drawn along the stroke from the rim that the ring leaves last
        breadth = max(np.exp(rng.uniform(np.log(1.5), np.log(12))), 3 * frame.pixel_um)
        bent = aside / breadth + 0.5 * textures.noise(slide / (4 * breadth), aside / (4 * breadth))
        # Tongues of one breadth in a row would be a comb: most are held back, and broad ones carry narrow ones.
        reach = 0.5 * textures.noise(bent + 5, carved.key * 0.71) + 0.7 * textures.noise(bent / 3.7 + 2, carved.key * 0.37)
        reach += 0.8 * textures.noise(carved.along / (6 * width_um), row + 3) + 2 * share - 1.0
        inside = width_um * 0.5 + np.float32(rng.choice([-1, 1])) * carved.side
        distance = smooth_min(distance, inside - reach * width_um * 0.7 + 0.5 * ragged, 0.4)
    if rng.random() < 0.5:  # flakes pressed in: whole cells, their borders left as seams
        size = max(3.0, width_um * rng.uniform(0.3, 1))
        border, number = textures.cells(slide / (1.7 * size), aside / size)
        flakes = np.where(number < share, (0.08 - border) * size, size * 0.5)
        distance = np.minimum(distance, flakes)
    sunk = rng.uniform(0.0, 0.3) + 0.1 * textures.smooth_noise(slide / (3 * width_um), aside / width_um)
    return Bodies(distance, np.clip(sunk, -0.15, None).astype(np.float32))


def close(depth: np.ndarray, bodies: Bodies, lip_um: float) -> np.ndarray:
    """Depth after closure, µm: under a body the ground rises to its top, over an edge lip_um wide; it never sinks."""
    cover = smoothstep(-bodies.distance / np.float32(lip_um))
    return depth - np.maximum(depth - bodies.sunk, 0) * cover


def states(before: np.ndarray, after: np.ndarray) -> np.ndarray:
    """Mask codes from the depth below the local plateau before and after closure, µm."""
    footprint = before >= LIMIT_UM
    return np.where(footprint, np.where(after >= LIMIT_UM, 1, 2), 0).astype(np.uint8)
