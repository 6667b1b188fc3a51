"""Grey iron itself: flakes of graphite that end at the surface, and pits where flakes or grains were pulled out. Neither is
valley. Flakes are curved, some 10–100 µm long and a few µm wide (ISO 945-1 form I, from memory); graphite is dark because
carbon sends back few electrons (backscatter coefficient about 0.06 against 0.28 of iron, Reuter)."""

import cv2
import numpy as np

from .frame import noise
from .recipe import Recipe


def _flake(rng: np.random.Generator, length: float) -> np.ndarray:
    heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.25, 12))
    steps = length / 12 * np.stack([np.cos(heading), np.sin(heading)], 1)
    return np.cumsum(steps, 0)


def _blob(rng: np.random.Generator, radius: float) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, 14, endpoint=False)
    long = rng.uniform(1, 2.2)
    away = radius * (1 + 0.3 * rng.standard_normal(14)).clip(0.4, 1.8)
    points = np.stack([away * np.cos(turn) * long, away * np.sin(turn)], 1)
    c, s = np.cos(angle := rng.uniform(0, np.pi)), np.sin(angle)
    return points @ np.array([[c, s], [-s, c]])


def draw_graphite(rng: np.random.Generator, recipe: Recipe) -> np.ndarray:
    """Share of each pixel that is graphite, 0–1."""
    rows, cols = recipe.shape
    map_ = np.zeros(recipe.shape, np.uint8)
    pixel = recipe.pixel_size_um
    area_um2 = rows * cols * pixel**2
    for _ in range(min(int(rng.poisson(recipe.graphite * area_um2 / 2500 + recipe.graphite * 3)), 90)):
        length = np.clip(rng.lognormal(np.log(28), 0.5) / pixel, 12, max(rows, cols) / 2)
        points = _flake(rng, float(length)) + rng.uniform(0, 1, 2) * (cols, rows)
        thick = max(int(round(rng.uniform(0.8, 3.0) / pixel)), 1)
        grey = int(rng.uniform(110, 255))
        cv2.polylines(map_, [np.round(points * 8).astype(np.int32)], False, grey, min(thick, 14), cv2.LINE_AA, 3)
    share = cv2.GaussianBlur(map_.astype(np.float32) / 255, (0, 0), rng.uniform(0.6, 1.3))
    return share * np.clip(0.8 + 0.35 * noise(rng, recipe.shape, (3, 3)), 0.2, 1.2)


def draw_pull_outs_um(rng: np.random.Generator, recipe: Recipe) -> np.ndarray:
    """Depth of pits."""
    rows, cols = recipe.shape
    pits = np.zeros(recipe.shape, np.float32)
    for _ in range(int(rng.choice([0, rng.integers(1, 7), rng.integers(7, 26)], p=[0.45, 0.4, 0.15]))):
        radius = float(np.clip(rng.lognormal(np.log(2.0), 0.6) / recipe.pixel_size_um, 2, min(rows, cols) / 22))
        points = _blob(rng, radius) + rng.uniform(0, 1, 2) * (cols, rows)
        depth = rng.uniform(0.15, 0.5) * radius * recipe.pixel_size_um * min(3 * recipe.wall, 1)
        cv2.fillPoly(pits, [np.round(points * 8).astype(np.int32)], float(min(depth, 3)), cv2.LINE_8, 3)
    return cv2.GaussianBlur(pits, (0, 0), 1.2) * np.clip(1 + 0.25 * noise(rng, recipe.shape, (9, 9)), 0.4, 1.6)
