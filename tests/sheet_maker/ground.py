"""What the cast iron adds to the honed ground: graphite flakes, pull-outs, roughness of floors and lands, waviness."""

import cv2
import numpy as np

from tests.sheet_maker.noise import Rng, blob, blotches
from tests.sheet_maker.setting import Specimen


def flakes(rng: Rng, specimen: Specimen) -> np.ndarray:
    """Return where graphite is seen, 0 to 1: bent slivers in loose clusters, up to some 80 µm long (common practice)."""
    seen = np.zeros(specimen.shape, np.float32)
    pixel, (rows, cols) = specimen.pixel_size_um, specimen.shape
    area_mm2 = rows * cols * pixel**2 * 1e-6
    for _ in range(min(rng.poisson(specimen.graphite * 60 * area_mm2 + specimen.graphite), 220)):
        x, y = rng.uniform(0, cols), rng.uniform(0, rows)
        for _ in range(rng.integers(2, 7)):
            length = rng.lognormal(np.log(22), 0.7) / pixel
            along = np.linspace(0, 1, 14)
            turn = rng.uniform(0, 2 * np.pi) + rng.normal(0, 0.8) * along + np.cumsum(rng.normal(0, 0.16, 14))
            points = np.cumsum(np.stack([np.cos(turn), np.sin(turn)], 1) * length / 14, axis=0)
            points += (x, y) + rng.normal(0, 38 / pixel, 2)
            half = max(rng.lognormal(np.log(0.7), 0.5) / pixel, 0.5) * np.sin(np.pi * np.clip(along, 0.06, 0.97)) ** 0.6
            half = half * (1 + 0.35 * rng.standard_normal(14))
            normal = np.stack([-np.sin(turn), np.cos(turn)], 1) * half[:, None]
            ring = np.concatenate([points + normal, (points - normal)[::-1]])
            cv2.fillPoly(seen, [np.round(ring * 8).astype(np.int32)], 1.0, cv2.LINE_8, 3)
    return cv2.GaussianBlur(seen, (0, 0), 0.7) if specimen.graphite else seen


def pull_outs(rng: Rng, specimen: Specimen) -> np.ndarray:
    """Return depth in µm of pits where grains came out: ragged, steep-walled, 2 to 15 µm across."""
    depth = np.zeros(specimen.shape, np.float32)
    pixel, (rows, cols) = specimen.pixel_size_um, specimen.shape
    for _ in range(min(rng.poisson(specimen.pull_outs * (4 + 40 * rows * cols * pixel**2 * 1e-6)), 120)):
        radius = max(rng.lognormal(np.log(2.4), 0.5) / pixel, 1.2)
        ring = blob(rng, radius) + (rng.uniform(0, cols), rng.uniform(0, rows))
        cv2.fillPoly(depth, [np.round(ring * 8).astype(np.int32)], float(rng.uniform(0.4, 2.0)), cv2.LINE_8, 3)
    return cv2.GaussianBlur(depth, (0, 0), 0.9)


def rough_skin(rng: Rng, specimen: Specimen, depth: np.ndarray, worn: bool) -> np.ndarray:
    """Return roughness in µm: torn and folded metal on groove floors, finer on the lands, finer still where worn."""
    pixel = specimen.pixel_size_um
    torn = blotches(rng, depth.shape, max(1.1, 0.9 / pixel)) + 0.7 * blotches(rng, depth.shape, max(2.5, 3 / pixel))
    skin = rng.standard_normal(depth.shape, dtype=np.float32)
    skin = cv2.GaussianBlur(skin, (0, 0), 0.8) * 2
    within = np.clip(depth / 0.8, 0, 1)
    unit = min(pixel, 0.6)
    return (torn * within * 0.16 * specimen.torn + skin * (0.03 if worn else 0.05)) * unit**0.5 + 0.15 * blotches(
        rng, depth.shape, 200
    )
