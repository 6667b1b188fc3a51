"""Bodies of metal laid over a groove by a ring that moves along the stroke.

Every closure has an outline, a level of its upper skin below the plateau, a margin and a tone. The metal comes over the
upstream edge and travels along the stroke, so outlines are functions of the place q where the stroke through a point
meets the groove's middle; the front looks downstream. That folds interrupt the grooves, the deep ones most, is
Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548; the kinds are common practice, no source.
"""

from dataclasses import dataclass

import numpy as np

from .frames import ramp, smooth, spread, wander
from .specimen import CLOSURES, Specimen


@dataclass
class Bodies:
    """Maps on one canvas: cover 0–1, level (µm below the plateau), tone (grey), seam (a crack's line), skin (which of
    the specimen's two, 0–1) and strength of that skin."""

    cover: np.ndarray
    level: np.ndarray
    tone: np.ndarray
    seam: np.ndarray
    skin: np.ndarray
    strength: np.ndarray

    @classmethod
    def none(cls, size: int) -> "Bodies":
        return cls(*(np.zeros((size, size), np.float32) for _ in range(6)))

    def lay(self, window: tuple[slice, slice], cover, level, tone, seam, skin: float, strength: float) -> None:
        over = cover > np.maximum(self.cover[window], 0.02)
        np.maximum(self.cover[window], cover, out=self.cover[window])
        for name, value in (("level", level), ("tone", tone), ("seam", seam), ("skin", skin), ("strength", strength)):
            into = getattr(self, name)[window]
            into[over] = np.broadcast_to(value, over.shape)[over]


def outline(rng: np.random.Generator, kind: str, x: np.ndarray, q: np.ndarray, length: float, half: float) -> tuple:
    """Signed distance inside the body in pixels, and its seam. x: across the groove in half widths, -1 at the upstream
    edge; q: along it in pixels from the body's middle; half: half the groove's width in pixels."""
    count = int(4 * length + 60)
    coarse, fine = np.clip(half * spread(rng, 0.5, 2.5), 2, 40), spread(rng, 1.5, 6)
    table = wander(rng, count, coarse) * rng.uniform(0.08, 0.3) + wander(rng, count, fine) * rng.uniform(0.02, 0.14)
    fray = np.interp(q.ravel() + 2 * length + 30, np.arange(table.size), table).reshape(q.shape).astype(np.float32)
    rough = min(half * rng.uniform(0.3, 1.2), length / 5)
    ragged = smooth(rng, x.shape, max(2, half * 0.4), max(2, half * 0.6)) + 0.4 * smooth(rng, x.shape, 2, 2)
    bulge = rng.uniform(0, 1.1) * min(half, length / 4) * np.square(x + rng.uniform(-0.6, 0.6))
    ends = (length / 2 - np.abs(q)) - bulge + ragged * rough * 0.6
    back = (x + rng.uniform(1.05, 1.3)) * half
    seam = np.zeros_like(x)
    if kind in ("cap", "lip"):
        lobes = 1 if kind == "cap" else rng.uniform(1, 4)
        round_ = np.sqrt(np.clip(1 - np.abs(2 * q / max(length, 1)) ** (2 if kind == "cap" else 4), 0, 1))
        if kind == "lip":
            round_ = round_ * (0.8 + 0.2 * np.cos(lobes * 6 * q / max(length, 1)))
        reach = rng.uniform(1.1, 2.2) if kind == "cap" else rng.uniform(0.6, 1.4)
        front = (-1 + reach * round_ + fray - x) * half + ragged * rng.uniform(0, 0.25) * min(half, 8)
        return np.minimum(np.minimum(front, back), ends + 2), seam
    across = np.minimum(back, (rng.uniform(1.0, 1.25) - x) * half)
    if kind == "lips":
        middle, slit = rng.uniform(-0.4, 0.5) + fray, rng.choice((0.0, rng.uniform(0.1, 0.35)))
        seam = np.exp(-((((x - middle) * half) / 1.0) ** 2))
        across = np.minimum(across, (np.abs(x - middle) - slit) * half + (2 if slit == 0 else 0))
        seam = seam * (slit == 0)
    if kind == "fold":
        seam = np.exp(-((((x - rng.uniform(0.0, 0.8) - 1.3 * fray) * half) / rng.uniform(0.7, 1.3)) ** 2))
    return np.minimum(across, ends), seam


def close_groove(
    rng: np.random.Generator,
    bodies: Bodies,
    specimen: Specimen,
    centre: np.ndarray,
    half: np.ndarray,
    deep: np.ndarray,
    stroke: tuple[float, float],
    closed: float,
) -> None:
    """Lay bodies along one groove until `closed` of its length is under metal.

    centre, half, deep (µm after truncation): of the groove at each column; stroke: its unit vector in the canvas
    (along, across).
    """
    size = centre.size
    sign, shear = (1 if stroke[1] >= 0 else -1), stroke[0] / stroke[1]
    lots, width = closed * size, 2 * float(half.mean())
    for _ in range(60):
        if lots <= 0:
            return
        kind = str(rng.choice(CLOSURES, p=specimen.closures))
        length = width * specimen.stretch * spread(rng, 0.25, 4) * (2.5 if kind in ("lip", "lips", "flush") else 1)
        length = float(np.clip(length, 2, min(0.6 * size, 1.6 * lots + 6)))
        lots -= length * (0.8 if kind == "cap" else 1)
        start = rng.uniform(-0.1 * length, size - 0.5 * length)
        lean = abs(shear) * width * 0.7
        cols = slice(int(max(0, start - lean - 3)), int(min(size, start + length + lean + 3)))
        if cols.stop - cols.start < 2:
            continue
        wide = 1.4 * half[cols].max() + 2
        rows = slice(int(max(0, centre[cols].min() - wide)), int(min(size, centre[cols].max() + wide + 1)))
        if rows.stop - rows.start < 2:
            continue
        n = np.arange(rows.start, rows.stop, dtype=np.float32)[:, None] - centre[None, cols]
        t = np.arange(cols.start, cols.stop, dtype=np.float32)[None, :] - (start + length / 2)
        x = sign * n / half[None, cols]
        inside, seam = outline(rng, kind, x, t - shear * n, length, float(half[cols].mean()))
        if rng.random() < 0.18 and length > 8:
            torn = smooth(rng, inside.shape, spread(rng, 3, 12), spread(rng, 3, 12))
            inside = np.minimum(inside, (rng.uniform(0.5, 1.5) - torn) * 3)
        inside = np.minimum(inside, (deep[None, cols] - 0.45) * 12)
        feather = rng.uniform(2, 6) if kind == "film" else rng.uniform(0.6, 1.4)
        cover = ramp(inside, -0.5, feather * float(np.clip(0.25 / specimen.pixel_um, 1, 2.5)))
        level, tone, strength = skin_of(rng, kind, specimen, x)
        if kind == "crumbled":
            lumps = smooth(rng, x.shape, rng.uniform(2, 5), rng.uniform(2, 5))
            level, tone = np.clip(level + 0.12 * lumps, 0, 0.47), tone + 0.08 * lumps
        bodies.lay((rows, cols), cover, level, tone, seam, float(rng.random() < 0.6), strength)


def skin_of(rng: np.random.Generator, kind: str, specimen: Specimen, x: np.ndarray) -> tuple:
    """Level (µm below the plateau), tone and strength of a body's upper skin."""
    trough = np.sqrt(np.clip(1 - x * x, 0, 1))
    strength = float(np.clip(specimen.clarity * rng.uniform(0.3, 1.5), 0.15, 1.2))
    tone = strength * float(rng.choice((-1, 1), p=(0.6, 0.4))) * rng.uniform(0.03, 0.2)
    if kind == "fill":
        return rng.uniform(0.1, 0.45) * trough, tone * 0.6, strength * 0.9
    if kind == "crumbled":
        return rng.uniform(0.15, 0.4) * trough, -rng.uniform(0.04, 0.16), strength
    if kind == "flush":
        return rng.uniform(0, 0.12) * trough, tone * 0.45, 0.5 * strength
    if kind == "film":
        return rng.uniform(0, 0.3) * trough, tone * 0.8, 0.7 * strength
    return -rng.uniform(0, 0.18) * np.ones_like(x) + rng.uniform(0, 0.25) * trough, tone, strength
