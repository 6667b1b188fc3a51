"""Scuffing: torn and ploughed streaks along the stroke."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.leading_maker.kept import Kept
from tests.leading_maker.noise import F, blur, noise, smooth
from tests.leading_maker.section import Section, Track


@dataclass(frozen=True, kw_only=True)
class Scuffing:
    """(rows, cols): where bool; soft 0-1 float; height µm; tear: unit noise of the torn metal."""

    where: np.ndarray
    soft: np.ndarray
    height: np.ndarray
    tear: np.ndarray


def scuff(rng: np.random.Generator, kept: Kept, s: Section, track: Track, torn: np.ndarray) -> Scuffing:
    """Draw the scuffing of a field; ``torn`` (rows, cols) frays its edges. None lies outside the track."""
    (rows, cols), px, shape, stroke = s.shape, s.px, s.shape, s.stroke
    none = np.zeros(shape, F)
    if not s.scuffs:
        return Scuffing(where=none > 0, soft=none, height=none, tear=none)
    q = np.full(shape, -1, F)
    for _ in range(rng.integers(1, 5)):
        middle, half = rng.uniform(-0.45, 0.45) * cols * px, s.ext * rng.uniform(0.03, 0.16)
        length, start = rows * px * rng.uniform(0.25, 1.2), rng.uniform(-0.5, 0.5) * rows * px
        win = smooth(length / 2 - np.abs(s.v - start), 0, 0.25 * length)
        q = np.maximum(q, (1 - np.abs(s.u - middle) / half) * win + (win - 1) * 0.6)
    q += 0.22 * noise(rng, shape, stroke, max(0.18 * s.ext, 25) / px, max(0.012 * s.ext, 2.5) / px)
    q += 0.12 * noise(rng, shape, stroke, max(12 / px, 8), max(2.5 / px, 2.5)) + 0.06 * noise(
        rng, shape, stroke, max(4 / px, 4), max(1.2 / px, 2)
    )
    q += F(0.1) * torn
    where = blur(((q > 0.30) & track.worn).astype(F), 0.8) > 0.5
    plough = kept("ploughing").uniform(0.2, 0.9)
    furrows = noise(rng, shape, stroke, 90 / px, max(2.2 / px, 1.8)) + noise(rng, shape, stroke, 160 / px, max(6 / px, 3))
    tear = noise(rng, shape, stroke + np.pi / 2, max(9 / px, 5), max(2.5 / px, 2)) + noise(
        rng, shape, stroke, max(6 / px, 4), max(3 / px, 2.2)
    )
    tear = np.where(tear > 0.3, tear, 0.5 * tear).astype(F)
    tear = tear + F(0.5) * noise(rng, shape, stroke, max(2.5 / px, 2), max(0.9 / px, 1.3))
    height = (plough * furrows + (1 - 0.6 * plough) * tear).astype(F) * F(kept("scuffing's height").uniform(0.5, 0.95))
    _, label, stats, _ = cv2.connectedComponentsWithStats(where.astype(np.uint8), connectivity=8)
    tiny = stats[:, cv2.CC_STAT_AREA] < max(25, 20 / px**2)
    tiny[0] = False
    where &= ~tiny[label]
    return Scuffing(where=where, soft=blur(where.astype(F), 0.7), height=height, tear=tear)
