"""Wear as truncation: the ring takes the highest ground first, as the Abbott curve is read from its top (ISO 13565-2), so what
lies below the cut keeps its height and grooves only get narrower and shallower as seen from the new plateau.

Plateau left by the cut carries fine marks along the stroke and a few scratches along it, which are not valley."""

from dataclasses import dataclass

import numpy as np

from .frame import Frame, noise
from .hone import Honed, cut, draw_groove
from .recipe import Recipe
from .section import Section

VALLEY_DEPTH_UM = 0.5


@dataclass(frozen=True, kw_only=True)
class Cut:
    """worn: where the ring ran; plateau_um: level of the local plateau; depth_um: of hone grooves below that level;
    height_um: the whole surface; marks_um: depth of the marks along the stroke."""

    worn: np.ndarray
    plateau_um: np.ndarray
    depth_um: np.ndarray
    height_um: np.ndarray
    marks_um: np.ndarray


def truncation_um(rng: np.random.Generator, recipe: Recipe) -> tuple[np.ndarray, np.ndarray]:
    """Depth taken off each pixel, and where the ring ran."""
    if not recipe.worn:
        return np.zeros(recipe.shape, np.float32), np.zeros(recipe.shape, bool)
    frame = Frame(recipe.stroke_deg, recipe.shape)
    across, along = frame.size
    load = noise(rng, frame.size, (across * rng.uniform(0.15, 0.5), along * rng.uniform(0.4, 1.5)))
    load = 1 + recipe.load_waviness * np.clip(load / 2, -1, 1)
    worn = np.ones(frame.size, np.float32)
    if recipe.border:
        rows = np.arange(across, dtype=np.float32)[:, None] - across * rng.uniform(0.3, 0.7)
        run_out = max(3.0, 0.02 * across)
        load = load * np.clip(rows / run_out, 0, 1)
        worn = np.broadcast_to((rows > 0).astype(np.float32), frame.size)
        if rng.random() < 0.5:
            load, worn = load[::-1], worn[::-1]
    taken = frame.to_screen(np.ascontiguousarray(load)) * recipe.cut_um
    ran = frame.to_screen(np.ascontiguousarray(worn)) > 0.5
    return np.where(ran, np.maximum(taken, 0), 0).astype(np.float32), ran


def truncate(honed: Honed, taken_um: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Height after the cut, and depth of hone grooves below the new local plateau."""
    height = np.minimum(honed.burr_um + honed.texture_um - honed.groove_um, np.where(taken_um > 0, -taken_um, np.inf))
    return height.astype(np.float32), np.maximum(honed.groove_um - taken_um, 0)


def _stroke_marks_um(rng: np.random.Generator, recipe: Recipe) -> np.ndarray:
    """Depth of marks along the stroke below the plateau."""
    frame = Frame(recipe.stroke_deg, recipe.shape)
    across, along = frame.size
    pixel = recipe.pixel_size_um
    strength = np.exp(rng.uniform(np.log(0.04), np.log(0.35)))
    fine = noise(rng, frame.size, (rng.uniform(1.2, 2.5), along * rng.uniform(0.2, 1.2)))
    broad = noise(rng, frame.size, (rng.uniform(4, 12), along * rng.uniform(0.5, 2)))
    marks = np.clip((0.7 * fine + 0.9 * broad) * min(strength * recipe.wall * 2 * pixel, 0.09), -0.2, 0.2)
    for _ in range(int(rng.choice([0, rng.integers(1, 6), rng.integers(6, 20)], p=[0.4, 0.4, 0.2]))):
        depth = recipe.depth_um * rng.uniform(0.2, 0.8)
        wall = recipe.wall * rng.uniform(0.9, 1.6)
        cut(marks, draw_groove(rng, frame, Section(kind="vee", wall=wall, depth_um=depth), 0.4, 0.2, 0.7), pixel)
    return frame.to_screen(marks)


def wear_down(rng: np.random.Generator, recipe: Recipe, honed: Honed) -> Cut:
    taken, worn = truncation_um(rng, recipe)
    height, depth = truncate(honed, taken)
    height = height + honed.striae_um * np.minimum(depth, 1.0)
    marks = np.zeros(recipe.shape, np.float32)
    if recipe.worn:
        marks = _stroke_marks_um(rng, recipe)
        height = np.where(worn, np.minimum(height, -taken - marks), height)
    return Cut(worn=worn, plateau_um=-taken, depth_um=depth, height_um=height, marks_um=marks)
