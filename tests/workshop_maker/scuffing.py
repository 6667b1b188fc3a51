"""Scuffing: short torn marks where the load is highest, growing into bands along the stroke, with lumps of picked-up metal.

Inside a band the metal is ploughed into furrows, torn in scales across the stroke and welded on in lumps; the grooves
under it are filled or torn up, in faint bands only half so.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .recipe import Wear
from .roughness import above_share, roughness


@dataclass(frozen=True, kw_only=True)
class Scuff:
    """inside: the bands; relief_um: their relief about the worn plateau; keeps: share of a groove's depth left; tone."""

    inside: np.ndarray
    relief_um: np.ndarray
    keeps: np.ndarray
    tone: np.ndarray


def _bands(rng: np.random.Generator, load: np.ndarray, share: float, pixel_um: float) -> np.ndarray:
    shape = load.shape
    span = min(1.0, shape[0] * pixel_um / 500)
    score = roughness(rng, shape, 40 / pixel_um + 160 * span / pixel_um, max(13 * span / pixel_um, 9))
    score += 0.7 * roughness(
        rng, shape, 20 / pixel_um + 50 * span / pixel_um, max(5 * span / pixel_um, 4)
    ) + 0.8 * np.log(load)
    score += 0.3 * roughness(rng, shape, 14 / pixel_um, max(0.9, 1.6 / pixel_um))
    bands = (score > above_share(score, share)).astype(np.uint8)
    wide = max(5, int(round(4.0 / pixel_um)) | 1)
    bands = cv2.morphologyEx(bands, cv2.MORPH_OPEN, np.ones((wide, 3), np.uint8))
    bands = cv2.morphologyEx(bands, cv2.MORPH_CLOSE, np.ones((3, wide * 2 + 1), np.uint8))
    count, marks, facts, _ = cv2.connectedComponentsWithStats(bands, connectivity=4)
    long_enough = facts[:, cv2.CC_STAT_WIDTH] > np.maximum(1.8 * facts[:, cv2.CC_STAT_HEIGHT], 12 / pixel_um)
    keep = long_enough | (facts[:, cv2.CC_STAT_WIDTH] > 0.4 * shape[1])
    keep[0] = False
    return keep[marks]


def scuff(rng: np.random.Generator, load: np.ndarray, wear: Wear, pixel_um: float) -> Scuff:
    """Return the scuffed bands of one field."""
    shape = load.shape
    if wear.scuffed <= 0:
        flat = np.zeros(shape, np.float32)
        return Scuff(inside=np.zeros(shape, bool), relief_um=flat, keeps=flat, tone=flat)
    inside = _bands(rng, load, wear.scuffed, pixel_um)
    strength = wear.scuff_strength
    local = np.clip(0.9 + 0.3 * roughness(rng, shape, 60 / pixel_um, 15 / pixel_um), 0.7, 1.6)
    furrows = 0.4 * roughness(rng, shape, 45 / pixel_um, max(0.8, 1.0 / pixel_um))
    furrows += 0.55 * roughness(rng, shape, 120 / pixel_um, max(1.2, 3.2 / pixel_um))
    torn = roughness(rng, shape, max(0.9, 1.2 / pixel_um), max(1.0, 3.5 / pixel_um))
    torn += 0.8 * roughness(rng, shape, max(0.9, 3.2 / pixel_um), max(1.2, 7 / pixel_um))
    where = np.clip(roughness(rng, shape, 28 / pixel_um, 7 / pixel_um) + 0.55, 0.1, 2)
    scales = -0.75 * np.clip(torn - 0.5, 0, 2.5) * where
    lump = roughness(rng, shape, 8 / pixel_um, 3.2 / pixel_um) + 0.3 * roughness(rng, shape, 2 / pixel_um, 1 / pixel_um)
    lumps = 0.85 * np.clip(lump - 1.2, 0, 1.8) * (1 + 0.25 * torn)
    grain = 0.09 * roughness(rng, shape, max(0.9, 0.7 / pixel_um), max(0.8, 0.5 / pixel_um))
    phase = np.arange(shape[1], dtype=np.float32)[None] * pixel_um / wear.lap_um
    phase = phase + 1.3 * roughness(rng, shape, 14 / pixel_um, 4.5 / pixel_um) + 0.25 * torn
    laps = 0.5 * (phase % 1.0 - 0.5) * np.clip(where - 0.2, 0, 1.3)
    fine = 0.12 * roughness(rng, shape, 25 / pixel_um, max(0.7, 0.4 / pixel_um))
    coarse = max(1.0, pixel_um / 0.45) ** 0.8
    relief = strength * coarse * local * (furrows + fine + 0.7 * scales + laps + lumps + grain)
    soft = cv2.GaussianBlur(inside.astype(np.float32), (0, 0), max(0.7, 0.5 / pixel_um))
    keeps = np.clip(1 - soft * (1.25 - 0.4 * (strength < 0.75)), 0, 1)
    patch = 0.7 + 0.4 * roughness(rng, shape, 40 / pixel_um, 6 / pixel_um)
    tone = soft * wear.scuff_tone * patch + soft * strength * (
        0.07 * torn * np.minimum(where, 1) - 0.05 * np.clip(-furrows, 0, 1.5)
    )
    return Scuff(
        inside=inside, relief_um=(relief * soft).astype(np.float32), keeps=keeps.astype(np.float32),
        tone=tone.astype(np.float32),
    )  # fmt: skip
