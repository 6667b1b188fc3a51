"""Metal moved by the ring: closures over grooves, and scuffed streaks; both run along the stroke.

Folds close the deep grooves of a honed liner and interrupt them (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548). A
closure is a stretch of one groove between two lines along the stroke, for the metal came over the groove with the ring.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter1d

from .trough import Groove

KINDS = ("none", "cap", "lip", "fold", "flush")


@dataclass(frozen=True, kw_only=True)
class Closures:
    """By groove (rows; one more for no groove) and by pixel across the stroke: kind, share of width, sign, strength."""

    kind: np.ndarray
    share: np.ndarray
    strength: np.ndarray


def closures(
    rng: np.random.Generator,
    grooves: list[Groove],
    span_px: int,
    pixel_size_um: float,
    much: float,
    slant: float,
    faint: float,
) -> Closures:
    """Close about much of the grooves' length; slant is the cosine of the groove to the line across the stroke."""
    shape = (len(grooves) + 1, span_px)
    kind, share, strength = np.zeros(shape, np.int8), np.ones(shape, np.float32), np.ones(shape, np.float32)
    wobble = gaussian_filter1d(rng.normal(size=span_px), max(2.0, 1.5 / pixel_size_um)) * 2
    fits = rng.dirichlet((2.0, 1.2, 1.2, 1.0))
    for number, groove in enumerate(grooves):
        wide = groove.width_um > 8 * pixel_size_um
        left = np.clip(much * rng.gamma(2.0, 0.5), 0, 0.9) * span_px
        while left > 0:
            length = groove.width_um * 2 + rng.exponential(rng.choice((6.0, 30.0, 90.0)) * max(1.0, pixel_size_um))
            length = int(np.clip(length * slant / pixel_size_um, 5, 0.5 * span_px))
            if rng.random() > left / length:
                break
            left -= length
            start = int(rng.integers(-length // 2, span_px))
            here = slice(max(start, 0), start + length)
            which = int(rng.choice(4, p=fits)) + 1 if wide else int(rng.choice((1, 4, 3), p=(0.55, 0.35, 0.1)))
            kind[number, here] = which
            if which == 2:
                ends = np.sin(np.linspace(0.15, np.pi - 0.15, length))[here.start - start :][: kind[number, here].size]
                share[number, here] = rng.choice((-1, 1)) * np.clip(
                    rng.uniform(0.3, 0.75) * ends + 0.15 * wobble[here], 0.1, 0.9
                )
            else:
                share[number, here] = rng.choice((-1, 1))
            strength[number, here] = rng.uniform(0.3, 0.5) if rng.random() < faint else rng.uniform(0.5, 1.2)
    return Closures(kind=kind, share=share, strength=strength)


def woven(rng: np.random.Generator, along: np.ndarray, across: np.ndarray, cell: tuple[float, float]) -> np.ndarray:
    """Smooth noise of unit spread with cells of the given length along and across the stroke, in the maps' unit."""
    spans = [(float(m.min()), float(m.max())) for m in (along, across)]
    size = [int((high - low) / c) + 5 for (low, high), c in zip(spans, cell, strict=True)]
    grid = rng.normal(size=(size[1], size[0])).astype(np.float32)
    at = [((m - low) / c + 1.5).astype(np.float32) for m, (low, _), c in zip((along, across), spans, cell, strict=True)]
    drawn = cv2.remap(grid, at[0], at[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    return drawn / max(float(drawn.std()), 0.2)


def streaks(
    rng: np.random.Generator, along: np.ndarray, across: np.ndarray, pixel_size_um: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Scuffed streaks (mask), how strong they are, and their relief: ploughed, torn or picked up."""
    px = pixel_size_um
    mask, force, relief = (
        np.zeros(along.shape, bool),
        np.zeros(along.shape, np.float32),
        np.zeros(along.shape, np.float32),
    )
    reach = float(along.max() - along.min())
    ragged = woven(rng, along, across, (25 * px, 9 * px)) * 0.18 + woven(rng, along, across, (7 * px, 2.5 * px)) * 0.1
    ploughed = woven(rng, along, across, (150 * px, 3.5 * px)) + 0.6 * woven(rng, along, across, (60 * px, 1.8 * px))
    torn = woven(rng, along, across, (4 * px, 9 * px)) + 0.8 * woven(rng, along, across, (18 * px, 3 * px))
    heaped = np.maximum(woven(rng, along, across, (22 * px, 7 * px)) - 0.4, 0) * 2 - 0.3
    weights = rng.dirichlet((1, 1, 1))
    mixed = ploughed * (0.2 + weights[0]) + torn * weights[1] * 1.2 + heaped * weights[2] * 1.3
    for _ in range(int(rng.integers(1, 6))):
        half = np.clip(rng.lognormal(np.log(22), 0.6), 8, 75) * px
        middle = rng.uniform(across.min() + 0.15 * reach, across.max() - 0.15 * reach)
        length = reach * rng.choice((rng.uniform(0.15, 0.5), 2.0), p=(0.5, 0.5))
        centre = rng.uniform(along.min(), along.max())
        end = np.clip((length / 2 - np.abs(along - centre)) / (4 * half), 0, 1) ** 0.5
        inside = np.abs(across - middle) / half < end * (0.85 + ragged) - 0.02
        strong = rng.uniform(0.45, 0.65) if rng.random() < 0.35 else rng.uniform(0.7, 1.2)
        force[inside] = np.maximum(force[inside], strong)
        mask |= inside
        if mask.mean() > 0.22:
            break
    relief[mask] = mixed[mask]
    return mask, force, relief
