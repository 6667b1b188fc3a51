"""Hone grooves of one lay: straight, at random places, each with its own width, depth, cross-section and ends.

A honed bore is two bands of grooves placed at random at two angles (Puente León, CIRP Annals 51 (2002) 503). Depth follows
width through the wall's slope of 6–27 degrees. Finishing scratches lie along the lays and stay shallower than 0.5 µm.
"""

from dataclasses import dataclass

import numpy as np

from .bodies import Bodies, close_groove
from .frames import Frame, smooth, spread, wander
from .specimen import Specimen

SHALLOWEST_FLOOR_UM = 0.4


@dataclass
class Lay:
    depth: np.ndarray
    """µm below the plateau, before wear."""
    marks: np.ndarray
    """Finishing scratches, relief in µm."""
    striae: np.ndarray
    """Grit traces along the groove's floor, unit spread."""
    bodies: Bodies


def draw_lay(rng: np.random.Generator, specimen: Specimen, frame: Frame, share: float) -> Lay:
    size = frame.size
    depth = np.zeros((size, size), np.float32)
    bodies = Bodies.none(size)
    turn = specimen.stroke - frame.angle
    stroke = (float(np.cos(turn)), float(np.sin(turn)))
    todo = share * size
    clusters = rng.uniform(0, size, max(2, int(rng.integers(2, 9))))
    clustered = rng.uniform(0, 0.6)
    sigma, slope, mild = rng.uniform(0.15, 0.55), rng.uniform(12, 27), rng.uniform(0, 0.2)
    ends = rng.uniform(0, 0.4)
    ragged = rng.uniform(0.01, 0.08)
    for _ in range(150):
        if todo <= 0:
            break
        width = specimen.width_um * float(np.exp(rng.normal(0, sigma)))
        width = max(width / specimen.pixel_um, 3.2)
        place = rng.uniform(0, size)
        if rng.random() < clustered:
            place = float(rng.choice(clusters) + rng.normal(0, 3 * width)) % size
        floor = width * specimen.pixel_um / 2 * np.tan(np.radians(slope * rng.uniform(0.6, 1.0)))
        floor = float(np.clip(floor, 0.85 + rng.exponential(0.4), 8))
        if rng.random() < mild:
            floor = rng.uniform(SHALLOWEST_FLOOR_UM, 0.8)
        todo -= width
        half = width / 2 * (1 + 0.08 * wander(rng, size, spread(rng, 60, 400)) + 0.3 * ragged * wander(rng, size, 4))
        half = np.maximum(half, 1.3)
        bow = rng.normal(0, 0.004) * np.linspace(-1, 1, size) ** 2 * size
        centre = (place + bow + 0.015 * width * wander(rng, size, 90)).astype(np.float32)
        rows = slice(int(max(0, centre.min() - half.max() - 2)), int(min(size, centre.max() + half.max() + 3)))
        if rows.stop <= rows.start:
            continue
        lean = rng.uniform(-0.35, 0.35)
        x = (np.arange(rows.start, rows.stop, dtype=np.float32)[:, None] - centre) / half
        x = x + min(ragged, 0.6 / float(half.mean())) * smooth(rng, x.shape, 2, spread(rng, 3, 12)) * 1.5
        x = np.clip(np.abs(x - lean * (1 - np.minimum(x * x, 1))), 0, 1)
        profile = 1 - x ** rng.uniform(1.3, 4.5)
        along = 1 + 0.18 * wander(rng, size, spread(rng, 30, 200))
        if rng.random() < ends:
            stop, fade = rng.uniform(0.15, 0.85) * size, rng.uniform(2, 12) * width
            along = along * np.clip((stop - np.arange(size)[:: int(rng.choice((-1, 1)))]) / fade, 0, 1)
        if rng.random() < 0.15:
            along = along * np.clip(1 - 1.2 * np.exp(-(((np.arange(size) / size - rng.random()) / 0.08) ** 2)), 0, 1)
        np.maximum(depth[rows], profile * (floor * np.clip(along, 0, 2)).astype(np.float32), out=depth[rows])
        closed = specimen.closed * rng.uniform(0.5, 1.5)
        deep = (floor * along - specimen.truncation_um).astype(np.float32)
        if closed > 0.004 and deep.max() > 0.5:
            close_groove(rng, bodies, specimen, centre, half, deep, stroke, min(closed * 1.2, 1.4))
    dense = spread(rng, 0.02, 0.2) * {"rough": 1.0, "plateau": 0.8, "fine": 0.6}[specimen.finish]
    streaks = smooth(rng, (size, size), spread(rng, 1, 2.5), spread(rng, 40, 250))
    marks = np.clip(-(np.abs(streaks) ** rng.uniform(1, 3)) * dense * (streaks < 0), -0.4, 0).astype(np.float32)
    return Lay(depth, marks, smooth(rng, (size, size), rng.uniform(1, 3), rng.uniform(20, 120)), bodies)
