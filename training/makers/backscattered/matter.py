"""What lies at the surface, as backscatter yield relative to bare iron: films, carbon, moved and torn metal, graphite."""

import cv2
import numpy as np

from makers.backscattered.beam import CARBON, IRON, OXYGEN, SEEN, range_um, through_film, yield_of
from makers.backscattered.closure import LIMIT_UM, Closed
from makers.backscattered.texture import Grid, cloud, grains, soft_step

STATES = {"carbon": 0.55, "film": 0.25, "bare": 0.2}
"""Odds of dark valleys full of carbon, bright ones by a filmed plateau, and ones told by relief (common practice, no source)."""


def plain(
    rng: np.random.Generator, grid: Grid, depth: np.ndarray, state: str, kilovolt: float, stroke_deg: float, worn: np.ndarray
) -> np.ndarray:
    """Plateau and open valleys: crystals, film on the land, stains, and oil carbon in patches on the ground; depth in µm."""
    carbon_um = SEEN * range_um(kilovolt, CARBON) * rng.uniform(*((0.25, 0.9) if state == "carbon" else (0, 0.06)))
    film_um = SEEN * range_um(kilovolt, OXYGEN) * rng.uniform(*((0.4, 1.2) if state == "film" else (0, 0.08)))
    matter = 1 + rng.uniform(0, 0.03) * grains(rng, grid, rng.uniform(0, 180), rng.uniform(8, 25), rng.uniform(6, 18))
    in_valley = soft_step(depth, 0.35, 0.8)
    patchy = np.exp(0.35 * cloud(rng, grid, stroke_deg, 14, 8) + 0.25 * cloud(rng, grid, stroke_deg, 2.5, 2.5))
    matter *= through_film(carbon_um * patchy * in_valley, kilovolt, CARBON)
    mottle = np.clip(1 + 0.3 * cloud(rng, grid, stroke_deg, 30, 6), 0, 2) * (1 - in_valley)
    film = film_um * mottle + worn * 0.05 * np.clip(cloud(rng, grid, stroke_deg, 60, 8), 0, 2) * (1 - in_valley)
    matter *= through_film(film, kilovolt, OXYGEN)
    if rng.random() < 0.35:
        blot = soft_step(cloud(rng, grid, rng.uniform(0, 180), 60 + 40 * grid.pixel_um, 40 + 30 * grid.pixel_um), 0.7, 1.2)
        matter *= through_film(rng.uniform(0.03, 0.15) * blot, kilovolt, CARBON)
    return matter


def moved(rng: np.random.Generator, grid: Grid, matter: np.ndarray, closed: Closed, state: str, stroke_deg: float) -> np.ndarray:
    """Matter with the closures laid on: polished fine grain drawn out along the stroke, and a seam of carbon at
    their edge, darkest where they overhang open ground."""
    depth, cap, faint = closed
    if not cap.any():
        return matter
    contrast = rng.choice([-1, 1], p=[0.65, 0.35] if state == "film" else [0.3, 0.7]) * rng.uniform(0.08, 0.18)
    fine = rng.uniform(0.8, 2.0)
    texture = grains(rng, grid, stroke_deg, 3 * fine, fine) + 0.5 * cloud(rng, grid, stroke_deg, 25 * fine, 0.8 * fine)
    texture *= rng.uniform(0.06, 0.12)
    bright = float(np.median(matter[~cap])) if contrast < 0 else 1.0  # land with its film worked in, or bare iron pushed up
    metal = bright * (1 + contrast * (1 - 0.4 * faint) + texture * (1 - 0.25 * faint))
    laid = matter + cv2.GaussianBlur(cap.astype(np.float32), (0, 0), 0.7) * (metal - matter)
    edge = sum(cv2.distanceTransform(side.astype(np.uint8), cv2.DIST_L2, 3) for side in (cap, ~cap))
    patchy = np.clip(0.7 + 0.6 * cloud(rng, grid, stroke_deg, 6 + 4 * grid.pixel_um, 6 + 4 * grid.pixel_um), 0.1, 1.6)
    trapped = patchy * np.exp(-(((edge - 1) / np.clip(rng.uniform(0.2, 0.6) / grid.pixel_um, 0.8, 3)) ** 2))
    overhang = cv2.GaussianBlur((depth >= LIMIT_UM).astype(np.float32), (0, 0), 2.0)
    return laid * (1 - np.clip(rng.uniform(0.2, 0.5) * trapped * (0.35 + overhang) * (1 - 0.4 * faint), 0, 0.7))


def torn(
    rng: np.random.Generator, grid: Grid, matter: np.ndarray, scuffed: np.ndarray, kilovolt: float, stroke_deg: float
) -> np.ndarray:
    """Matter with torn metal: bare metal in bright streaks beside oxide in dark ones, broken across."""
    if not scuffed.any():
        return matter
    size = float(np.clip(rng.uniform(2, 5), 3 * grid.pixel_um, 16 * grid.pixel_um))
    streaks = cloud(rng, grid, stroke_deg, 7 * size, size) + 0.6 * cloud(rng, grid, stroke_deg, 1.5 * size, size)
    oxide = soft_step(streaks - rng.uniform(-0.2, 0.6), 0, 0.6)
    metal = 1.08 + 0.08 * grains(rng, grid, stroke_deg, 2 * size, 0.6 * size)
    metal *= through_film(rng.uniform(0.15, 0.5) * oxide, kilovolt, OXYGEN)
    return matter + cv2.GaussianBlur(scuffed.astype(np.float32), (0, 0), 0.7) * (metal - matter)


def pressed_in(matter: np.ndarray, share: np.ndarray, number: float) -> np.ndarray:
    """Matter with a substance of a mean atomic number lying in it, share from 0 to 1: graphite, carbon, hard particles."""
    return matter + share * (yield_of(number) / yield_of(IRON[0]) - matter)
