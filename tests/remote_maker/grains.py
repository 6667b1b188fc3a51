"""Contrast of the metal itself: grains by channelling, lamellae of pearlite, films and stains.

Grains are Voronoi cells of random seeds, each with its own yield (channelling: a few per cent at most on ground metal; from
memory). Pearlite shows its lamellae only where pixels are fine enough for them. Tribofilm lies in patches drawn along the
stroke, stains lie anywhere; both lower the yield.
"""

import cv2
import numpy as np

from .directions import diagonal, turned
from .randomness import Rng, log_uniform, mottle
from .specimen import Specimen
from .surface import Surface


def add_grains(surface: Surface, specimen: Specimen, rng: Rng) -> None:
    """Multiply the tone by that of the grains and, where fine enough, by lamellae; only what is metal in the open shows."""
    pixel, contrast = surface.pixel_um, specimen.setting.channelling
    grain_px = max(log_uniform(rng, 12, 45) / pixel, 8)
    scale = max(int(grain_px / 16), 1)
    small = tuple(side // scale + 2 for side in surface.shape)
    seeds = np.full(small, 255, np.uint8)
    count = max(int(small[0] * small[1] * (scale / grain_px) ** 2), 4)
    seeds[rng.integers(0, small[0], count), rng.integers(0, small[1], count)] = 0
    _, cell = cv2.distanceTransformWithLabels(seeds, cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL)
    cell = cv2.resize(cell.astype(np.float32), surface.shape[::-1], interpolation=cv2.INTER_NEAREST).astype(np.int32)
    tone = rng.normal(0, contrast, cell.max() + 1).astype(np.float32)[cell]
    if pixel < 0.32 and rng.random() < 0.7:
        tone += _lamellae(rng, surface, cell, contrast)
    fine = mottle(rng, surface.shape, max(0.9 / pixel, 1.2), max(0.9 / pixel, 1.2))
    coarse = mottle(rng, surface.shape, max(5 / pixel, 3), max(5 / pixel, 3))
    tone += specimen.roughness * (0.7 * fine * (1 + 0.6 * coarse) + 0.4 * coarse)
    surface.tone *= 1 + tone * (1 - 0.7 * np.minimum(surface.scuff + surface.covered, 1))


def _lamellae(rng: Rng, surface: Surface, cell: np.ndarray, contrast: float) -> np.ndarray:
    """Return the tone of lamellae, each grain with its own direction and spacing (about 0.5-1.2 µm where cut obliquely)."""
    turn = rng.uniform(0, np.pi, cell.max() + 1).astype(np.float32)
    wave = (2 * np.pi * surface.pixel_um / rng.uniform(0.7, 1.6, cell.max() + 1)).astype(np.float32)
    share = (rng.random(cell.max() + 1) < 0.7).astype(np.float32)
    row, col = np.indices(surface.shape, dtype=np.float32)
    phase = wave[cell] * (np.cos(turn)[cell] * row + np.sin(turn)[cell] * col)
    phase += 1.2 * mottle(rng, surface.shape, 2 / surface.pixel_um, 2 / surface.pixel_um)
    return 0.7 * contrast * share[cell] * np.sin(phase)


def add_films(surface: Surface, specimen: Specimen, worn: bool, rng: Rng) -> None:
    """Lower the tone under tribofilm (worn surfaces only) and under stains."""
    pixel, tone = surface.pixel_um, specimen.setting.film_tone
    if worn and specimen.wear.film > 0:
        size = diagonal(surface.shape)
        sheet = mottle(rng, (size, size), max(14 / pixel, 4), max(70 / pixel, 10))
        sheet += 0.6 * mottle(rng, (size, size), max(3 / pixel, 2), max(9 / pixel, 4))
        sheet += 0.4 * mottle(rng, (size, size), max(1 / pixel, 1.5), max(5 / pixel, 3))
        sheet = turned(sheet, surface.shape, specimen.stroke_deg)
        limit = np.quantile(sheet[::7, ::7], 1 - specimen.wear.film)
        surface.tone *= 1 - (1 - tone) * np.clip((sheet - limit) * specimen.wear.film_edge + 0.2, 0, 1) * (
            1 - surface.inner * 0.6
        )
    if rng.random() < 0.35:
        sheet = mottle(rng, surface.shape, surface.shape[0] / 4, surface.shape[0] / 4)
        sheet += 0.2 * mottle(rng, surface.shape, 30, 30)
        surface.tone *= 1 - rng.uniform(0.04, 0.18) * np.clip((sheet - rng.uniform(0.4, 1.4)) * 4, 0, 1)
