"""What lies in or on the section besides its grooves: graphite, stains, debris and charging."""

from dataclasses import dataclass

import cv2
import numpy as np

from .chance import decades, rough


@dataclass
class Matter:
    """Maps of the picture: graphite (0 to 1), film (0 to 1: oil, stain or tribofilm), lump (height in um of debris),
    hidden (bool: debris and charging, not assessed), glow (0 to 1, of charging)."""

    graphite: np.ndarray
    film: np.ndarray
    lump: np.ndarray
    hidden: np.ndarray
    glow: np.ndarray


def _flakes(rng: np.random.Generator, shape: tuple[int, int], pixel_um: float) -> np.ndarray:
    """Curved flakes seen end-on, tens of um long and a few wide, in grey iron."""
    map_ = np.zeros(shape, np.uint8)
    length = decades(rng, 12, 110)
    area_um2 = shape[0] * shape[1] * pixel_um**2
    for _ in range(min(120, int(1 + area_um2 / length**2 * decades(rng, 0.05, 0.5)))):
        long = length * rng.lognormal(0, 0.5) / pixel_um
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.25, 9)) + np.linspace(0, rng.normal(0, 1.2), 9)
        place = rng.uniform(0, 1, 2) * shape[::-1] + np.cumsum(np.stack([np.cos(heading), np.sin(heading)], 1), 0) * (long / 9)
        thick = max(1, round(decades(rng, 0.8, 4) / pixel_um))
        cv2.polylines(map_, [np.round(place * 8).astype(np.int32)], False, int(rng.integers(120, 255)), thick, cv2.LINE_AA, 3)
    frayed = map_.astype(np.float32) / 255
    return np.clip(frayed * (1 + 0.35 * rough(rng, shape, (2, 2))), 0, 1)


def _films(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Blots with soft or drying edges."""
    blot = rough(rng, shape, (decades(rng, 15, 90), decades(rng, 15, 90))) + 0.25 * rough(rng, shape, (5, 5))
    over = (blot - rng.uniform(0.3, 1.6)) / decades(rng, 0.05, 1)
    film = 1 / (1 + np.exp(-np.clip(over, -20, 20)))
    return film + rng.uniform(0, 0.6) * np.exp(-(over**2))


def strew(rng: np.random.Generator, shape: tuple[int, int], pixel_um: float) -> Matter:
    """Draw each kind of matter or none."""
    zero = np.zeros(shape, np.float32)
    matter = Matter(zero, zero, zero.copy(), np.zeros(shape, bool), zero.copy())
    if rng.random() < 0.4:
        matter.graphite = _flakes(rng, shape, pixel_um)
    if rng.random() < 0.35:
        matter.film = _films(rng, shape).astype(np.float32)
    count = int(decades(rng, 1, 9)) if rng.random() < 0.4 else 0
    for _ in range(count):
        size = decades(rng, max(0.8, 2 * pixel_um), max(2, 0.05 * min(shape) * pixel_um)) / pixel_um
        turn = np.sort(rng.uniform(0, 2 * np.pi, rng.integers(5, 11)))
        corner = np.stack([np.cos(turn) * rng.uniform(0.6, 1.4), np.sin(turn)], 1) * size * rng.uniform(0.5, 1, (turn.size, 1))
        speck = np.zeros(shape, np.uint8)
        cv2.fillPoly(speck, [np.round(corner + rng.uniform(0, 1, 2) * shape[::-1]).astype(np.int32)], 1)
        matter.hidden |= speck > 0
        matter.lump = np.maximum(matter.lump, speck * np.float32(size * pixel_um * 0.6))
    if count:
        matter.lump = cv2.GaussianBlur(matter.lump, (0, 0), 1.0) * (1 + 0.25 * rough(rng, shape, (3, 3)) * matter.hidden)
        if rng.random() < 0.25:  # loose specks charge: they glow, and smear the glow along the line of the scan
            halo = cv2.GaussianBlur(matter.hidden.astype(np.float32), (0, 0), sigmaX=12, sigmaY=1.5)
            matter.glow = np.clip(2 * halo + matter.hidden, 0, 1)
            matter.hidden |= halo > 0.25
    return matter
