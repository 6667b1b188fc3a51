"""Scuffing: junctions that seize, grow along the stroke, plough, pluck and smear what they pick up.

A junction's contact grows as it slides, by a random factor for each stretch (junction growth under combined stress:
McFarlane and Tabor, Proc. R. Soc. A 202 (1950) 244, from memory), until it breaks and starts small again. Strong junctions
tear a rough band into the surface, faint ones score the lands they touch and leave grooves open.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.reserve_maker.finish import Wear
from tests.reserve_maker.random_fields import fractal_noise, line_noise, ramp, smooth_noise


@dataclass(frozen=True, kw_only=True)
class Scuffed:
    """height_um: surface with scuffs; footprint: bool; torn: 0 to 1, how freshly torn the metal is."""

    height_um: np.ndarray
    footprint: np.ndarray
    torn: np.ndarray


def junction_strength(shape: tuple[int, int], share: float, wear: Wear, pixel: float, rng) -> np.ndarray:
    """Return the strength of seizure, 0 outside junctions, up to 1; share: area to be reached."""
    rows, cols = shape
    strength = np.zeros(shape, np.float32)
    bands = rng.uniform(0, rows, max(1, int(rng.integers(1, 4))))  # junctions gather where the ring bears hardest
    area, wanted = 0.0, share * rows * cols
    for _ in range(400):
        if area >= wanted:
            break
        length = int(min(cols * 1.2, rng.lognormal(np.log(250), 0.8) / pixel))
        start = int(rng.uniform(-0.3 * length, cols - 0.3 * length))
        first, last = max(0, start), min(cols, start + length)
        if last - first < 20:
            continue
        growth = np.cumsum(0.10 * line_noise(length, 12 / pixel, rng)) * pixel / 4
        growth += np.log(np.clip(np.arange(length) * pixel / 25, 0.05, 1))
        width = wear.scuff_width_um * np.exp(np.clip(growth, -2.5, 0.5)) * rng.lognormal(-0.2, 0.4)
        width *= np.clip((length - np.arange(length)) * pixel / rng.uniform(4, 25), 0, 1) ** 0.5
        middle = rng.normal(rng.choice(bands), rows * 0.09) if rng.random() < 0.7 else rng.uniform(0, rows)
        centre = middle + line_noise(length, 120 / pixel, rng) * 1.5 / pixel
        part = slice(first - start, last - start)
        half = (width / 2 / pixel).astype(np.float32)[part]
        low = int(max(0, np.min(centre) - half.max() - 6))
        high = int(min(rows, np.max(centre) + half.max() + 6))
        if high - low < 3:
            continue
        across = np.abs(np.arange(low, high, dtype=np.float32)[:, None] - centre[part]) / np.maximum(half, 0.3)
        level = np.float32(np.clip(wear.scuff_strength * rng.lognormal(0, 0.35), 0.12, 1))
        inside = level * np.clip(1.35 * (1.2 - across * across), 0, 1)
        window = strength[low:high, first:last]
        area += float(((inside > 0.45 * level) & (window <= 0.1)).sum())
        np.maximum(window, inside, out=window)
    return strength


def scuff(height: np.ndarray, level: np.ndarray, wear: Wear, pixel: float, rng: np.random.Generator) -> Scuffed:
    """Return the surface with seized streaks; height and level are µm in the stroke frame."""
    shape = height.shape
    share = min(0.21, wear.scuffed_share * np.exp(rng.normal(0, 0.25)))
    if wear.scuffed_share == 0:
        return Scuffed(height_um=height, footprint=np.zeros(shape, bool), torn=np.zeros(shape, np.float32))
    strength = junction_strength(shape, share, wear, pixel, rng)
    ragged = fractal_noise(shape, max(3.0, 5 / pixel), rng, octaves=3, stretch=2.5)
    tracks = smooth_noise(shape, (max(1.5, 1.6 / pixel), 50 / pixel), rng)
    part = strength / max(0.05, float(strength.max())) + 0.16 * tracks + 0.12 * ragged
    inside = ramp(part, 0.30, 0.45) * (strength > 0)
    ploughed = smooth_noise(shape, (max(1.2, 1.0 / pixel), 120 / pixel), rng)
    ploughed = ploughed + 0.8 * smooth_noise(shape, (max(1.5, 3.5 / pixel), 200 / pixel), rng)
    scored = np.clip(0.8 + 0.5 * smooth_noise(shape, (25 / pixel, 90 / pixel), rng), 0.15, 1.8)
    torn = fractal_noise(shape, max(3.0, 8 / pixel), rng, octaves=5, hurst=0.6, stretch=2.2)
    chatter = fractal_noise(shape, max(2.0, 5 / pixel), rng, octaves=3, hurst=0.5, stretch=0.5)
    plucked = -np.clip(torn - 0.7, 0, 2) * 1.4
    pasted = ramp(fractal_noise(shape, max(4.0, 14 / pixel), rng, octaves=3, stretch=3), 0.5, 0.9) * (0.5 + 0.25 * torn)
    deep = np.float32(0.2) + strength
    texture = deep * (0.20 * scored * ploughed + 0.22 * np.minimum(torn, 1) + 0.10 * chatter) + strength**1.5 * (
        plucked + pasted
    )
    touched = ramp(height - level, -0.5 - 2.0 * strength**2, -0.25 - 2.0 * strength**2)
    weight = inside * touched
    surface = level - 0.1 * deep + texture + 0.25 * np.minimum(height - level, 0) * (1 - strength)
    merged = height * (1 - weight) + surface * weight
    region = cv2.GaussianBlur(weight, (0, 0), max(2.0, 6 / pixel), sigmaY=max(1.0, 2 / pixel)) > 0.42
    return Scuffed(height_um=merged.astype(np.float32), footprint=region, torn=(weight * strength).astype(np.float32))
