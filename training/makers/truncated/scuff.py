"""Scuffing: adhesion tears and ploughs the surface in bands along the stroke (ASTM G40: localised damage by solid-phase
welding, from memory). Furrows along the stroke, torn scales across it and lumps of picked-up metal, over ground whose grooves
are mostly filled; bands are far wider than stroke marks and taper at their ends."""

from dataclasses import dataclass

import cv2
import numpy as np

from .frame import Frame, line_noise, noise
from .recipe import Recipe


@dataclass(frozen=True, kw_only=True)
class Scuff:
    """torn: where the surface is scuffed; relief_um: its height against the plateau; fill: share of groove depth filled;
    shade: its grey against the plateau's."""

    torn: np.ndarray
    relief_um: np.ndarray
    fill: float
    shade: np.ndarray


def _bands(rng: np.random.Generator, size: tuple[int, int], share: float) -> np.ndarray:
    """Positive inside the bands, falling to below zero outside."""
    across, along = size
    inside = np.full(size, -1.0, np.float32)
    rows, columns = np.arange(across, dtype=np.float32)[:, None], np.arange(along, dtype=np.float32)
    covered, tries = 0.0, 0
    while covered < share and tries < 14:
        tries += 1
        half = np.clip(rng.uniform(0.25, 0.8) * share * across / 2, 9, across / 4)
        reach = along * (rng.uniform(0.5, 2.5) if rng.random() < 0.6 else rng.uniform(0.2, 0.5))
        middle = rng.uniform(0, along)
        taper = np.clip(1.5 * (1 - np.abs((columns - middle) / reach) ** 2), -0.3, 1)
        width = half * taper * (1 + 0.22 * line_noise(rng, along, along / rng.uniform(3, 12)))
        centre = rng.uniform(0.05, 0.95) * across + 0.15 * half * line_noise(rng, along, along / 3)
        np.maximum(inside, (width[None] - np.abs(rows - centre[None])) / half, out=inside)
        covered = float((inside > 0).mean())
    return inside


def draw_scuff(rng: np.random.Generator, recipe: Recipe) -> Scuff:
    frame = Frame(recipe.stroke_deg, recipe.shape)
    size, pixel = frame.size, recipe.pixel_size_um
    inside = _bands(rng, size, recipe.scuff) + 0.18 * noise(rng, size, (rng.uniform(2, 5), rng.uniform(20, 70)))
    torn = frame.to_screen(inside) > 0
    torn = cv2.morphologyEx(torn.astype(np.uint8), cv2.MORPH_OPEN, np.ones((4, 4), np.uint8)) > 0
    strength = rng.uniform(0.3, 0.55) if rng.random() < 0.4 else rng.uniform(0.6, 1.5)
    furrow = noise(rng, size, (rng.uniform(2, 4), rng.uniform(60, 250))) + 1.2 * noise(
        rng, size, (rng.uniform(5, 14), 300)
    )
    scale = noise(rng, size, (rng.uniform(3, 8), rng.uniform(6, 30)))
    lump = np.clip(noise(rng, size, (rng.uniform(7, 16), rng.uniform(14, 50))) - 0.7, 0, 2)
    mix = rng.dirichlet([1.0, 0.8, 0.8])
    scale = scale + 0.6 * noise(rng, size, (rng.uniform(1.5, 4), rng.uniform(3, 12)))
    relief = (1.6 * mix[0] + 0.4) * furrow + (1.3 * mix[1] + 0.1) * scale + (3.5 * mix[2] + 0.2) * lump
    relief = frame.to_screen(relief) * strength * min(recipe.wall * 3.0 * pixel, 0.8)
    shade = rng.normal(0, 0.35) + 0.35 * frame.to_screen(noise(rng, size, (rng.uniform(4, 16), rng.uniform(40, 160))))
    return Scuff(torn=torn, relief_um=relief, fill=float(rng.uniform(0.75, 1.0)), shade=(shade * min(strength, 1)))


def tear(height_um: np.ndarray, plateau_um: np.ndarray, scuff: Scuff, torn: np.ndarray) -> np.ndarray:
    """Height with torn ground where it is scuffed."""
    ground = plateau_um + (height_um - plateau_um) * (1 - scuff.fill) + scuff.relief_um
    return np.where(torn, ground, height_um)
