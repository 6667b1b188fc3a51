"""What the ring leaves along the stroke: fine marks, scuffing, blankets over several grooves, burnish and stains.

Scratches along the stroke are unwanted but neither valley nor smear (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548).
Scuffing is torn, ploughed or picked-up metal in bands along the stroke; burnished streaks and oil stains are look-alikes.
"""

from dataclasses import dataclass

import numpy as np

from .bodies import Bodies
from .frames import ramp, smooth, spread
from .specimen import Specimen


@dataclass
class Track:
    marks: np.ndarray
    streaks: np.ndarray
    scuff: np.ndarray
    """1 inside scuffed bands."""
    relief: np.ndarray
    """Of the scuffed ground, µm."""
    scuff_tone: np.ndarray
    burnish: np.ndarray
    bodies: Bodies


def patch(
    rng: np.random.Generator, size: int, long: float, wide: float, ragged: float = 0.06
) -> tuple[tuple[slice, slice], np.ndarray]:
    """A ragged body's signed distance (pixels) in its window, long along the stroke."""
    n0, t0 = rng.uniform(0.1, 0.9, 2) * size
    rows = slice(int(max(0, n0 - 0.8 * wide)), int(min(size, n0 + 0.8 * wide + 2)))
    cols = slice(int(max(0, t0 - 0.8 * long)), int(min(size, t0 + 0.8 * long + 2)))
    n = (np.arange(rows.start, rows.stop, dtype=np.float32)[:, None] - n0) / (wide / 2)
    t = (np.arange(cols.start, cols.stop, dtype=np.float32)[None, :] - t0) / (long / 2)
    shape, bulk = (n.size, t.size), rng.uniform(1.5, 4)
    rough = (
        smooth(rng, shape, wide / 9, long / 7) * rng.uniform(0.1, 0.3)
        + smooth(rng, shape, 2.5, rng.uniform(4, 20)) * 0.05
    )
    rough = rough + smooth(rng, shape, rng.uniform(2, 4), long / 4) * ragged
    return (rows, cols), (1 - (np.abs(n) ** bulk + np.abs(t) ** bulk) ** (1 / bulk) + rough) * wide / 2


def scuffing(rng: np.random.Generator, specimen: Specimen, size: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    scuff, relief, tone = (np.zeros((size, size), np.float32) for _ in range(3))
    todo = specimen.scuffed * size * size * 0.5
    typical, faint = spread(rng, 14, 70), spread(rng, 0.4, 1.1)
    kinds = rng.dirichlet((0.7, 0.7, 0.7))
    for _ in range(30):
        if todo <= 0:
            break
        wide = max(9.0, typical * spread(rng, 0.6, 1.7))
        long = float(np.clip(wide * spread(rng, 4, 25), 50, 1.6 * size))
        window, inside = patch(rng, size, long, wide, rng.uniform(0.15, 0.5))
        mask = inside > 0
        todo -= 0.6 * mask.sum()
        kind = int(rng.choice(3, p=kinds))
        shape = mask.shape
        furrow = smooth(rng, shape, rng.uniform(1.5, 5), long / 3)
        if kind == 0:
            grain = spread(rng, 3, 9)
            torn = smooth(rng, shape, grain, grain * rng.uniform(1.2, 3))
            rough = 0.35 * furrow + 0.7 * torn + 0.4 * smooth(rng, shape, 2, 3)
            light = 0.10 * (torn > 0.9) - 0.12 * (torn < -0.9)
        elif kind == 1:
            rough = 0.9 * furrow + 0.15 * smooth(rng, shape, 2, 8)
            light = 0.06 * furrow
        else:
            lumps = smooth(rng, shape, rng.uniform(4, 9), rng.uniform(6, 22))
            rough = 0.45 * furrow + 1.1 * np.maximum(lumps, 0) + 0.2 * smooth(rng, shape, 2, 2)
            light = 0.08 * np.maximum(lumps, 0)
        scale = specimen.pixel_um**0.5 * faint
        edge = ramp(inside, 0, spread(rng, 1.5, 8))
        light = light + smooth(rng, shape, rng.uniform(4, 12), long / 3) * rng.uniform(0.0, 0.07)
        over = edge > scuff[window]
        scuff[window][over] = edge[over]
        relief[window][over] = (rough * scale * rng.uniform(0.4, 0.9))[over]
        tone[window][over] = ((light + rng.normal(0, 0.06)) * np.sqrt(faint) * np.ones(shape))[over]
    return scuff, relief, tone


def draw_track(rng: np.random.Generator, specimen: Specimen, size: int) -> Track:
    pixel = specimen.pixel_um
    streaks = smooth(rng, (size, size), spread(rng, 1, 2.5), spread(rng, 50, 400))
    coarse = smooth(rng, (size, size), rng.uniform(4, 12), spread(rng, 60, 300))
    fine = spread(rng, 0.02, 0.2) * min(1.0, pixel**0.5)
    fine = fine if rng.random() < 0.7 else 0.3 * fine
    few = np.maximum(np.abs(streaks + 0.4 * coarse) - rng.uniform(0.3, 1.8), 0)
    marks = -np.clip(fine * (0.3 * np.abs(streaks) + few), 0, 0.4)
    bodies = Bodies.none(size)
    if specimen.blanket:
        todo = 0.22 * specimen.blanket * min(1.0, 2 * specimen.closed) * size * size
        for _ in range(40):
            if todo <= 0:
                break
            wide = specimen.width_um / pixel * spread(rng, 1.5, 10)
            window, inside = patch(rng, size, min(wide * spread(rng, 1.3, 5), size), min(wide, 0.5 * size))
            todo -= (inside > 0).sum()
            strength = float(np.clip(specimen.clarity * rng.uniform(0.4, 1.3), 0.15, 1.2))
            level = np.clip(0.12 + 0.07 * smooth(rng, inside.shape, 6, 30), 0, 0.4)
            tone = rng.normal(0, 0.08) * strength
            cover = ramp(inside, -0.5, rng.uniform(0.7, 4))
            bodies.lay(window, cover, level, tone, 0.0, float(rng.random() < 0.5), strength)
    burnish = np.zeros((size, size), np.float32)
    for _ in range(int(rng.integers(0, 6)) if rng.random() < 0.5 else 0):
        wide = spread(rng, 8, 60)
        window, inside = patch(rng, size, wide * spread(rng, 2, 12), wide)
        burnish[window] += ramp(inside, 0, rng.uniform(1, 6)) * rng.normal(0, 0.07)
    scuff, relief, tone = scuffing(rng, specimen, size)
    return Track(marks, streaks, scuff, relief, tone, burnish, bodies)
