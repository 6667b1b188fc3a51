"""Fields made by lighting a drawn relief with lamps and printing it through drawn tone curves."""

import cv2
import numpy as np

from makers.made import Made

from .camera import expose
from .field import Scene, draw_scene
from .lamps import light
from .noise import cloud, log_between


def _paint(rng: np.random.Generator, scene: Scene, flat: bool) -> tuple[np.ndarray, np.ndarray]:
    """Own brightness of each state, and its gloss."""
    shape = scene.codes.shape
    paint = scene.stains.copy()
    # Floors: carbon or oil makes them dark, loose grit or fresh fracture bright; some differ by rim and texture only.
    look = rng.choice(["dark", "bright", "plain"], p=[0.6, 0.2, 0.2])
    amount = {"dark": -rng.uniform(0.15, 0.6), "bright": rng.uniform(0.12, 0.45), "plain": rng.choice([-1, 1]) * rng.uniform(0.05, 0.12)}[
        look
    ]
    filling = np.clip((scene.depth - 0.35) / log_between(rng, 0.2, 1.5), 0, 1)
    patchy = np.clip(1 + rng.uniform(0, 0.5) * cloud(rng, shape, rng.uniform(4, 40)), 0.3, 1.5)
    grit = 1 + rng.uniform(0.05, 0.35) * cloud(rng, shape, rng.uniform(1, 2.5))
    paint *= 1 + np.float32(amount) * filling * patchy
    if look == "plain":
        grit = 1 + 1.8 * (grit - 1)
    paint = np.where(scene.codes == 1, paint * (1 + (grit - 1) * filling), paint)
    worn_tone = rng.uniform(-0.06, 0.08)
    paint += scene.worn * np.float32(worn_tone)
    paint = np.where(scene.burnished, paint * (1 + rng.choice([-1, 1], p=[0.4, 0.6]) * rng.uniform(0.04, 0.22)), paint)
    paint = np.where(scene.packed, paint * (1 + rng.uniform(-0.25, 0.2)) * (0.5 + 0.5 * grit), paint)
    paint = np.where(scene.codes == 3, paint * (1 + rng.uniform(-0.15, 0.3)) * (0.4 + 0.6 * grit), paint)
    paint *= 1 - scene.graphite * rng.uniform(0.4, 0.85)
    paint = np.where(scene.lumps > 0, paint * (rng.uniform(0.4, 0.8) if flat else rng.uniform(0.9, 1.5)), paint)
    gloss = np.where(scene.burnished, 1.0, np.where(scene.codes == 0, np.where(scene.worn, 0.7, 0.4), 0.1)).astype(np.float32)
    return paint, gloss


def _cast(rng: np.random.Generator, lumps: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Shadow of debris, 0-1, on a side of its own: not that away from the lamps, as if the detector were another."""
    if not lumps.any():
        return lumps
    turn, far = rng.uniform(0, 2 * np.pi), min(rng.uniform(0.3, 1.2) * float(lumps.max()) / pixel_size_um, 40.0)
    move = np.float32([[1, 0, far * np.cos(turn)], [0, 1, far * np.sin(turn)]])
    moved = cv2.warpAffine((lumps > 0).astype(np.float32), move, lumps.shape[::-1])
    return cv2.GaussianBlur(moved, (0, 0), 1 + far / 3) * (lumps <= 0) * np.float32(rng.uniform(0, 0.5))


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field: a side of a pixel in um, shape (rows, cols). All of it follows from rng."""
    scene = draw_scene(rng, pixel_size_um, shape)
    flat = rng.random() < 0.2
    paint, gloss = _paint(rng, scene, flat)
    lit = light(rng, scene.height.astype(np.float32), gloss, pixel_size_um, flat)
    lit = np.maximum(lit, 0.05) * np.maximum(paint, 0.05) * (1 - _cast(rng, scene.lumps, pixel_size_um))
    lit += scene.glare * rng.uniform(0.8, 1.6)
    return Made(image=expose(rng, lit.astype(np.float32)), codes=scene.codes, worn=scene.worn, kind=scene.kind)
