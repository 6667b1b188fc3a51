"""The paint of open valleys: ribbons of grey along each band, rims as edge lines; greys as share of the plateau's."""

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np

from .bands import FINE, LIMIT_UM, Band, fill, runs
from .textures import loguniform, wave

RIBBONS = 9


@dataclass(frozen=True)
class Palette:
    """How valleys look in this picture: grey of the floor, of a wall towards or away from the detector (lit), of rims, loss in
    deep narrow grooves (starve), scatter from groove to groove, roughness of the floor, shares of carbon-filled grooves and torn rims."""

    floor: float
    lit: float
    rim: float
    starve: float
    scatter: float
    rough: float
    carbon: float
    torn: float


def palette(rng: np.random.Generator, backscattered: bool) -> Palette:
    """Draw one: dark, bright, or told by rims and texture alone."""
    look = rng.choice(3, p=[0.5, 0.2, 0.3])
    floor = [-loguniform(rng, 0.15, 0.7), loguniform(rng, 0.12, 0.5), rng.normal(0, 0.03)][look]
    strong = 0.5 if backscattered else 1.0  # backscattered electrons hardly mark an edge
    rim = loguniform(rng, 0.04, 0.5) * strong
    rough = loguniform(rng, 0.02, 0.25)
    if look == 2:
        rim, rough = max(rim, 0.22), max(rough, 0.12)
    lit, starve = loguniform(rng, 0.03, 0.45), loguniform(rng, 0.02, 0.35) * (look != 1)
    scatter = min(loguniform(rng, 0.02, 0.15), 0.3 * abs(floor) + 0.03)  # or a dark palette would leave some grooves unseen
    return Palette(floor, lit, rim, starve, scatter, rough, float(rng.choice([0.0, rng.uniform(0.1, 0.9)])), rng.uniform(0, 1))


def ribbons(rng: np.random.Generator, bands: list[Band], shape: tuple[int, int], look: Palette,
            light: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Grey of the bands, their rims (signed), strength 0-1 of the whole paint, and how rough the floor is (0-1)."""
    fine = (shape[0] * FINE, shape[1] * FINE)
    tone, rims, strength, rough = np.zeros((4, *fine), np.float32)
    edges = np.linspace(-1, 1, RIBBONS + 1)
    pieces = []
    for band in bands:
        lit = float(band.across @ light)
        wide = float(np.median(band.left + band.right))
        carbon = band.turn < look.carbon
        bed = look.floor + look.scatter * rng.standard_normal() - 0.25 * carbon * (band.turn + 0.5)
        # few electrons climb out where the groove is deep for its width
        bed -= look.starve * min(float(np.median(band.depth)) / (0.15 * wide + 0.5), 1.5)
        peakiness, wall = rng.uniform(0.5, 2), max(band.wall, 0.15)
        for u0, u1 in pairwise(edges):
            u = (u0 + u1) / 2
            down = min((1 - abs(u)) / wall, 1.0) ** peakiness
            on_wall = 1.0 if abs(u) > 1 - wall else 0.0
            # the wall on the detector's side turns its back on it
            grey = bed * down - np.sign(u) * lit * look.lit * on_wall * (1 - 0.4 * down)
            grey += 0.02 * rng.standard_normal()
            fill(tone, band.at(u0), band.at(u1), float(np.clip(grey, -0.93, 1.2)))
        floor = 0.25 if carbon else rng.uniform(0.5, 1.2)
        fill(rough, band.at(-0.9), band.at(0.9), floor)
        # strength follows the depth along the groove: a shallow end is a faint one
        levels = np.round(_visible(band.depth) * 8) / 8
        left, right = band.at(-1.15), band.at(1.15)
        cuts = [0, *(np.flatnonzero(np.diff(levels)) + 1), len(levels)]
        for a, b in pairwise(cuts):
            pieces.append((float(levels[a]), left[a:b + 1], right[a:b + 1]))
        fill(rims, band.at(-1.0), band.at(1.0), 0)  # a groove cut later interrupts the rims of the earlier
        _rims(rng, rims, band, look, lit)
    for level, one, two in sorted(pieces, key=lambda piece: piece[0]):  # where bands overlap the deeper place counts
        fill(strength, one, two, level)
    return tuple(cv2.resize(m, shape[::-1], interpolation=cv2.INTER_AREA) for m in (tone, rims, strength, rough))


def _visible(depth: np.ndarray) -> np.ndarray:
    """How strongly a groove of this depth (µm) shows, 0-1: little under the limit, most of it soon above."""
    return np.where(depth < LIMIT_UM, 0.35 * depth / LIMIT_UM, np.clip(0.68 + 0.24 * np.log(np.maximum(depth, LIMIT_UM) / LIMIT_UM), 0, 1))


def _rims(rng: np.random.Generator, sheet: np.ndarray, band: Band, look: Palette, lit: float) -> None:
    for u, facing in ((-1.0, -lit), (1.0, lit)):
        points = band.at(u)
        keep = runs(wave(rng, len(points), 8) > rng.uniform(-2.5, 0.6), 2) if look.torn > 0.4 else [slice(0, len(points))]
        grey = look.rim * (1 + 0.5 * facing) * rng.uniform(0.6, 1.2)
        for run in keep:
            cv2.polylines(sheet, [np.round(points[run] * FINE * 8).astype(np.int32)], False, float(grey),
                          int(rng.integers(1, 3 + (look.torn > 0.7))), cv2.LINE_8, 3)
