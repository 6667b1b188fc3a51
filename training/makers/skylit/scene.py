"""One surface: its heights and materials, and the truth that follows from them."""

from dataclasses import dataclass

import cv2
import numpy as np

from .closing import pinhole_map
from .cutting import Maps, cut_family
from .grid import grid_of
from .hone import FINISHES, LIMIT_UM
from .noise import blobs, streaks
from .scratches import finishing, stroke_scratches
from .scuffing import relief, scuff_streaks
from .spots import debris_map, flakes


@dataclass(kw_only=True)
class Scene:
    """Pixel side in µm and maps of (rows, cols): floor of the grooves before and after closing and height of everything (µm,
    0 at the plateau); metal, fold lines, graphite, scuffed and debris from 0 to 1; streak and stroke_marks of unit spread."""

    pixel: float
    kind: str
    worn: bool
    floor_before: np.ndarray
    floor: np.ndarray
    height: np.ndarray
    metal: np.ndarray
    fold: np.ndarray
    streak: np.ndarray
    stroke_marks: np.ndarray
    graphite: np.ndarray
    scuffed: np.ndarray
    debris: np.ndarray


def build(rng: np.random.Generator, pixel: float, shape: tuple[int, int]) -> Scene:
    """Draw a surface: four in ten unworn, half of the worn ones with moved metal, half of those scuffed (this maker's own
    mix). Included hone angles of 30 to 60° are usual (tests/SOURCES.md, from memory there); 120 to 140°: common practice,
    no source. Running-in takes two thirds of the finishing scratches (common practice, no source)."""
    stroke = float(np.clip(rng.normal(0, np.deg2rad(4)), -np.deg2rad(10), np.deg2rad(10)))
    grid = grid_of(pixel, shape, stroke)
    worn = rng.random() >= 0.4
    smeared = worn and rng.random() < 0.5
    torn = smeared and rng.random() < 0.5
    finish = FINISHES[str(rng.choice(list(FINISHES)))]
    included = rng.uniform(120, 140) if rng.random() < 0.15 else rng.uniform(36, 70)
    lays = [side * np.deg2rad(included / 2 + rng.normal(0, 1.0)) for side in (1, -1)]
    wear = rng.uniform(0.1, 0.5) if worn else 0.0
    closing = rng.uniform(0.14, 0.64) if smeared else 0.0

    streak = streaks(rng, grid, 1.7, 26.0)
    before, after, metal, fold, none = (np.zeros(shape, np.float32) for _ in range(5))
    pinholes = pinhole_map(rng, grid) if smeared else none
    rough = blobs(rng, shape, 2.2 / pixel)
    maps = Maps(before=before, after=after, metal=metal, fold=fold, rough=rough, streak=streak, pinholes=pinholes)
    for lay in lays:
        cut_family(rng, grid, lay, finish, wear, closing, maps)
    metal = metal * (after > -LIMIT_UM)

    scratch = finishing(rng, grid, lays, finish.scratch_um * (0.35 if worn else 1.0))
    marks = streaks(rng, grid, 2.6, 160.0) if worn else none
    lines = stroke_scratches(rng, grid, int(rng.integers(1, 5)) if worn else int(rng.integers(0, 2)))
    wave = 0.25 * blobs(rng, shape, 150 / pixel) + (0.02 if worn else 0.04) * rough
    land = np.clip(1 + after / 0.4, 0, 1) * (1 - metal)
    height = after + (scratch + 0.03 * marks + lines) * land + wave

    graphite = flakes(rng, grid) * np.clip(1 + before / LIMIT_UM, 0, 1)
    height = height - 0.7 * graphite
    scuffed = scuff_streaks(rng, grid, rng.uniform(0.03, 0.20)) if torn else none
    if torn:
        soft = cv2.GaussianBlur(scuffed, (0, 0), 0.8)
        height = height * (1 - soft) + soft * (wave - 0.2 + relief(rng, grid, scuffed))
        metal, fold, graphite = (covered * (1 - soft) for covered in (metal, fold, graphite))
        before, after = (np.where(scuffed > 0.5, 0, floor) for floor in (before, after))
    debris = debris_map(rng, grid)
    if debris.any():
        dome = np.sqrt(cv2.distanceTransform((debris > 0.5).astype(np.uint8), cv2.DIST_L2, 3) * pixel)
        height = height * (debris < 0.5) + 2.2 * dome + 0.3 * rough * debris
    return Scene(
        pixel=pixel,
        kind="worn" + " smeared" * smeared + " scuffed" * torn if worn else "unworn",
        worn=worn,
        floor_before=before,
        floor=after,
        height=height.astype(np.float32),
        metal=metal,
        fold=fold,
        streak=streak,
        stroke_marks=marks,
        graphite=graphite,
        scuffed=scuffed,
        debris=debris,
    )


def truth(scene: Scene) -> np.ndarray:
    """Mask codes (rows, cols) uint8 from the grooves' floors before and after closing, the scuffed streaks and the debris."""
    open_now = scene.floor <= -LIMIT_UM
    codes = np.zeros(scene.floor.shape, np.uint8)
    codes[(scene.floor_before <= -LIMIT_UM) & ~open_now] = 2
    codes[open_now] = 1
    codes[scene.scuffed > 0.5] = 3
    codes[scene.debris > 0.5] = 255
    return codes
