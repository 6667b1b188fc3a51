"""Scuffing: metal torn and ploughed by adhesion, in streaks and patches along the stroke."""

from dataclasses import dataclass

import cv2
import numpy as np

from makers.filtered.grain import cloud


@dataclass(frozen=True)
class Scuff:
    """Maps of (rows, cols): where, True on torn or ploughed metal; relief, its height, µm, 0 elsewhere;
    torn, 0–1, share of tearing; crack, 0–1, torn edges."""

    where: np.ndarray
    relief: np.ndarray
    torn: np.ndarray
    crack: np.ndarray


def scuff(rng: np.random.Generator, worn: np.ndarray, stroke: tuple, pixel_um: float, share: float) -> Scuff:
    """Scuff about `share` of worn; stroke: distances along and across it, µm. Sizes: common practice, no source."""
    along, across = stroke
    side_um = min(worn.shape) * pixel_um
    broad = float(np.clip(np.exp(rng.uniform(np.log(12), np.log(120))), 16 * pixel_um, max(0.3 * side_um, 16 * pixel_um)))
    streak = cloud(rng, along, across, (broad * rng.uniform(4, 12), broad))
    patch = cloud(rng, along, across, (broad * 2.5, broad * 1.5))
    comb = cloud(rng, along, across, (max(broad * 0.8, 8 * pixel_um), max(broad * 0.1, 2 * pixel_um)))
    score = streak + rng.uniform(0.2, 0.8) * patch + 0.18 * comb
    where = (score > np.quantile(score[worn], 1 - share)) & worn
    small = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    where = cv2.morphologyEx(where.astype(np.uint8), cv2.MORPH_OPEN, small)
    where = (cv2.morphologyEx(where, cv2.MORPH_CLOSE, small) > 0) & worn
    cell = max(float(np.exp(rng.uniform(0, np.log(6)))), 2.2 * pixel_um)
    bent = across + cloud(rng, along, across, (cell * 6, cell * 6)) * np.float32(0.3 * cell)
    plough = cloud(rng, along, bent, (cell * 14, cell)) + 0.5 * cloud(rng, along, across, (cell * 30, cell * 2.5))
    # tearing leaves tongues that break off across the stroke one behind the other, and rough grain on them
    rise = along / np.float32(cell * rng.uniform(4, 9)) + 0.6 * cloud(rng, along, bent, (cell * 7, cell * rng.uniform(1, 2)))
    terrace = rise - np.floor(rise)
    grit = cloud(rng, along, across, (max(1.0, 2 * pixel_um), max(0.6, 1.5 * pixel_um)))
    lumps = cloud(rng, along, bent, (cell * 6, cell * 4))
    torn = np.clip(0.5 + 1.5 * patch + rng.uniform(-1.2, 1.2), 0, 1)
    height = rng.uniform(0.25, 0.7) * min(1.0, cell / 2) ** 0.5
    relief = where * height * ((1 - torn) * plough + torn * (1.6 * terrace - 0.8 + 0.4 * lumps))
    relief = relief + where * np.float32(rng.uniform(0.06, 0.2)) * (0.3 + torn) * grit
    crack = where * torn * np.clip(4 * (terrace - 0.75) * (0.4 + lumps) + 0.15 * grit, 0, 1)
    return Scuff(where, relief.astype(np.float32), (torn * where).astype(np.float32), crack.astype(np.float32))
