"""Scuffing: streaks along the stroke that are a pile of torn sheets, ploughed lines and scars where metal was pulled out."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.sheet_maker.noise import Rng, blotches, curve, streaks, unit_vector
from tests.sheet_maker.setting import Specimen
from tests.sheet_maker.sheets import fill, front_line


@dataclass(frozen=True, kw_only=True)
class Scuff:
    """Where metal is scuffed (bool), its height over the land in µm, and its tone (1 = as the land)."""

    where: np.ndarray
    height_um: np.ndarray
    tone: np.ndarray


def band(rng: Rng, specimen: Specimen) -> list[np.ndarray]:
    """Return outlines of the thin streaks that make up one band: long along the stroke, side by side, uneven at the ends."""
    rows, cols = specimen.shape
    along = unit_vector(specimen.stroke_deg)
    across = np.array([-along[1], along[0]])
    pixel = specimen.pixel_size_um
    width = float(np.clip(rng.lognormal(np.log(26), 0.8), 5, 160)) / pixel
    width = float(np.clip(width, 8, 0.3 * cols))
    length = max(min(rng.lognormal(np.log(450), 0.7) / pixel, 1.5 * float(np.hypot(rows, cols))), 5 * width)
    middle = np.array([rng.uniform(0, cols), rng.uniform(0, rows)])
    thin = max(3.0 / pixel, width / 9, 3.5)
    outlines = []
    for _ in range(int(2.6 * width / thin) + 2):
        q = rng.triangular(-0.5, 0, 0.5)
        long = length * (1 - (1.8 * abs(q)) ** 2) * rng.uniform(0.35, 1.0) + 4 * thin
        shift = rng.uniform(-0.5, 0.5) * (length - long) * 0.9
        n = max(16, int(long / 10))
        p = np.linspace(-0.5, 0.5, n)
        half = thin * rng.lognormal(-0.5, 0.35) * np.clip((0.5 - np.abs(p)) / rng.uniform(0.1, 0.4), 0.05, 1) ** 0.6
        drift = np.outer(curve(rng, n, n / 3) * 0.25 * thin, across)
        line = middle + across * q * width + np.outer(p * long + shift, along) + drift
        edge = [half * np.clip(1 + 0.22 * curve(rng, n, 3), 0.3, 2) for _ in range(2)]
        outlines.append(np.concatenate([line + across * edge[0][:, None], (line - across * edge[1][:, None])[::-1]]))
    return outlines


def torn_pile(rng: Rng, specimen: Specimen, where: np.ndarray) -> np.ndarray:
    """Return heights of overlapping tongues of metal drawn out along the stroke, in parts of the strength."""
    pile = np.zeros(specimen.shape, np.float32)
    along = unit_vector(specimen.stroke_deg) * rng.choice((-1, 1))
    across = np.array([-along[1], along[0]])
    ys, xs = np.nonzero(where)
    pixel = specimen.pixel_size_um
    width_px, length_px = max(6 / pixel, 5.0), max(24 / pixel, 18.0)
    for _ in range(min(int(2.2 * len(xs) / (width_px * length_px)) + 3, 2500)):
        start = rng.integers(0, len(xs))
        width, length = width_px * rng.lognormal(0, 0.5), length_px * rng.lognormal(0, 0.6)
        n = max(8, int(width / 1.5))
        q = np.linspace(-0.5, 0.5, n)
        crown = np.sqrt(np.clip(1 - (2 * q) ** 2, 0, 1)) * length * front_line(rng, n, lobes=0.3, feather=0.25)
        root = np.array([xs[start], ys[start]]) + np.outer(q * width, across)
        root = root - np.outer(crown[rng.permutation(n)] * rng.uniform(0.0, 0.25) + crown * rng.uniform(0, 0.6), along)
        outline = np.concatenate([root, (root + along * crown[:, None])[::-1]])
        fill(pile, outline, float(rng.normal(0.1, 0.55)))
    return pile


def scuff(rng: Rng, specimen: Specimen, open_depth_um: np.ndarray) -> Scuff:
    """Scuff about the specimen's share of the area; deep grooves stay open in places under weak scuffing."""
    rows, cols = specimen.shape
    mask = np.zeros(specimen.shape, np.uint8)
    target = specimen.scuffed * float(np.clip(rng.normal(1, 0.3), 0.3, 1.6))
    for _ in range(60):
        if mask.mean() >= min(target, 0.3) or target <= 0:
            break
        fresh = mask.copy()
        for outline in band(rng, specimen):
            fill(fresh, outline, 1)
        if fresh.mean() <= min(1.3 * target + 0.01, 0.32):
            mask = fresh
    if not mask.any():
        flat = np.zeros(specimen.shape, np.float32)
        return Scuff(where=mask > 0, height_um=flat, tone=flat + 1)
    pixel, strength = specimen.pixel_size_um, specimen.scuff_strength
    stroke = specimen.stroke_deg
    pile = torn_pile(rng, specimen, mask > 0)
    ploughed = streaks(rng, specimen.shape, stroke, along_px=max(70 / pixel, 60), across_px=max(1.8 / pixel, 1.8))
    ploughed += 0.8 * streaks(rng, specimen.shape, stroke, along_px=max(200 / pixel, 120), across_px=max(6 / pixel, 4))
    ploughed += 0.6 * streaks(
        rng, specimen.shape, stroke, along_px=max(40 / pixel, 40), across_px=max(0.6 / pixel, 1.2)
    )
    torn = blotches(rng, specimen.shape, max(1.2 / pixel, 1.6)) + 0.6 * blotches(rng, specimen.shape, 1.1)
    scarred = np.clip(
        streaks(rng, specimen.shape, stroke, along_px=max(50 / pixel, 36), across_px=max(6 / pixel, 5)) - 0.6, 0, 1
    )
    scarred = np.clip(scarred * 2.5, 0, 1) * np.clip(strength * 1.3, 0, 1)
    height = strength * (0.75 * pile + 0.26 * ploughed + torn * (0.05 + 0.28 * scarred) - 0.7 * scarred)
    height *= float(np.clip(pixel, 0.3, 1.5)) ** 0.6
    keeps_open = (open_depth_um > 1.2 + 1.8 * strength) & (
        blotches(rng, specimen.shape, max(30 / pixel, 12)) > strength
    )
    mask[cv2.morphologyEx(keeps_open.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0] = 0
    lift = float(rng.choice((-1, 1), p=(0.35, 0.65)) * rng.uniform(0.05, 0.12))
    tone = 1 + strength * (
        lift + 0.05 * pile + 0.08 * ploughed * (1 - scarred) + 0.06 * torn * scarred - 0.06 * scarred
    )
    return Scuff(where=mask > 0, height_um=height.astype(np.float32), tone=np.clip(tone, 0.4, 1.6).astype(np.float32))
