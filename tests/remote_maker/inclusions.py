"""Graphite flakes and pull-outs: dark look-alikes that are no valley.

Grey iron holds curved flakes of graphite that lie in the surface in every direction; carbon has a backscatter coefficient of
about 0.06 against iron's 0.28 (Reuter), so that it is dark in either mode. Pull-outs are irregular pits where a grain or a
carbide broke out.
"""

import cv2
import numpy as np

from .directions import turned
from .randomness import Rng, mottle, wander
from .specimen import Specimen
from .surface import Surface

SHIFT = 4


def add_inclusions(surface: Surface, specimen: Specimen, worn: bool, rng: Rng) -> None:
    """Lay graphite and pull-outs into the surface; ``worn``: metal drawn along the stroke covers part of the graphite."""
    area = surface.shape[0] * surface.shape[1] * (surface.pixel_um / 1000) ** 2
    flakes, pits = np.zeros(surface.shape, np.uint8), np.zeros(surface.shape, np.uint8)
    for _ in range(min(rng.poisson(specimen.flakes_per_mm2 * area * (40 / specimen.flake_um)), 600)):
        _fill(flakes, _flake(rng, surface, specimen.flake_um), rng)
    for _ in range(min(rng.poisson(specimen.pits_per_mm2 * area), 500)):
        _fill(pits, _pit(rng, surface), rng)
    graphite = flakes.astype(np.float32) / 255
    if graphite.any():
        patchy = np.clip(
            0.75 + 0.35 * mottle(rng, surface.shape, max(3 / surface.pixel_um, 2), max(3 / surface.pixel_um, 2)), 0, 1
        )
        graphite *= patchy
        if worn:
            size = int(np.hypot(*surface.shape)) + 4
            streaks = mottle(rng, (size, size), max(2 / surface.pixel_um, 1.5), max(25 / surface.pixel_um, 6))
            graphite *= np.clip(0.65 - 0.8 * turned(streaks, surface.shape, specimen.stroke_deg), 0.05, 1)
    free = 1 - np.clip(surface.scuff, 0, 0.9)
    _sink(surface, graphite * free, 0.5, 0.72)
    hollow = pits.astype(np.float32) / 255
    if hollow.any():
        inside = mottle(rng, surface.shape, max(1.5 / surface.pixel_um, 1.5), max(1.5 / surface.pixel_um, 1.5))
        hollow *= np.clip(0.75 + 0.3 * inside, 0.2, 1.2)
    _sink(surface, hollow * free, 1.3, 0.42)


def _sink(surface: Surface, weight: np.ndarray, depth_um: float, dark: float) -> None:
    """Darken where an inclusion lies and slope the metal down to it over about a pixel and a half."""
    if not weight.any():
        return
    soft = cv2.GaussianBlur(weight, (0, 0), max(0.6 / surface.pixel_um, 0.9))
    surface.slope_row -= depth_um / surface.pixel_um * np.gradient(soft, axis=0).clip(-0.4, 0.4) * 0.6
    surface.slope_col -= depth_um / surface.pixel_um * np.gradient(soft, axis=1).clip(-0.4, 0.4) * 0.6
    surface.tone *= 1 - dark * weight
    surface.edge += 0.35 * np.clip(soft - weight, 0, 1)


def _fill(picture: np.ndarray, outline: np.ndarray, rng: Rng) -> None:
    points = np.round(outline[:, ::-1] * (1 << SHIFT)).astype(np.int32)
    cv2.fillPoly(picture, [points], int(rng.integers(170, 256)), lineType=cv2.LINE_AA, shift=SHIFT)


def _flake(rng: Rng, surface: Surface, length_um: float) -> np.ndarray:
    """Return the outline, (n, 2) of row and col in px, of a curved flake."""
    count = 24
    length = length_um * np.exp(rng.normal(0, 0.5)) / surface.pixel_um
    bend = rng.normal(0, 1.1) * np.linspace(-0.5, 0.5, count) + 0.25 * np.cumsum(rng.standard_normal(count)) / 2
    course = rng.uniform(0, 2 * np.pi) + bend
    step = length / count
    line = np.stack([np.cumsum(np.sin(course)), np.cumsum(np.cos(course))], axis=1) * step
    line += rng.uniform([0, 0], surface.shape)
    half = rng.uniform(0.5, 1.9) / surface.pixel_um * np.sin(np.linspace(0.05, np.pi - 0.05, count)) ** 0.6
    half = half * np.exp(0.35 * wander(rng, count, 2.0))
    side = np.stack([np.cos(course), -np.sin(course)], axis=1) * half[:, None]
    return np.concatenate([line + side, (line - side)[::-1]])


def _pit(rng: Rng, surface: Surface) -> np.ndarray:
    """Return the outline of an irregular pit."""
    count = 28
    radius = np.exp(rng.normal(0, 0.6)) * 1.9 / surface.pixel_um
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)
    shape = 1 + 0.38 * sum(rng.normal() / k**0.8 * np.cos(k * turn + rng.uniform(0, 6)) for k in range(1, 6))
    stretch = rng.uniform(0.35, 1.0)
    ring = np.stack([np.sin(turn) * stretch, np.cos(turn)], axis=1) * (radius * np.clip(shape, 0.25, 2))[:, None]
    around = rng.uniform(0, np.pi)
    spin = np.array([[np.cos(around), -np.sin(around)], [np.sin(around), np.cos(around)]])
    return ring @ spin.T + rng.uniform([0, 0], surface.shape)
