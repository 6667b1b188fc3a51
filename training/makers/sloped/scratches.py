"""Shallow scratches of the plateau: the finishing stones' along both lays, running-in's and stray ones along the stroke."""

import cv2
import numpy as np

from .ground import Ground

Range = tuple[float, float]


def scratch_plateau(
    rng: np.random.Generator, ground: Ground, lays: tuple[float, float], stroke: float, per_mm: float, worn: bool
) -> None:
    """All scratches of a field, `per_mm` finishing ones across each lay; running-in takes half of their depth (common
    practice, no source). Each is shallower than the limit, so part of the plateau (semwear.terms)."""
    fade = 0.5 if worn else 1.0
    for deg in lays:
        add_scratches(rng, ground, deg, per_mm, (0.05 * fade, 0.22 * fade), (0.6, 1.6), (0.6, 2.0), 1.5)
    if worn:
        add_scratches(rng, ground, stroke, 60, (0.02, 0.08), (0.5, 1.2), (0.3, 1.6), 1.0)
    add_scratches(rng, ground, stroke, 4 if worn else 1.5, (0.2, 0.4), (1.2, 2.4), (0.4, 1.5), 1.5)


def add_scratches(
    rng: np.random.Generator, ground: Ground, deg: float, per_mm: float, depth: Range, width: Range, length: Range, spread: float
) -> None:
    """Draw scratches about one direction and take them off the relief where no groove lies: depth and width in µm, length in
    radii of the field, spread of the direction in degrees."""
    grid = ground.grid
    layer = np.zeros(grid.shape, np.float32)
    for _ in range(rng.poisson(per_mm * 2 * grid.radius / 1000)):
        angle = np.radians(deg + spread * rng.standard_normal())
        at, wide, deep = rng.uniform(-1, 1) * grid.radius, rng.uniform(*width), rng.uniform(*depth)
        long = rng.uniform(*length) * grid.radius
        direction, normal = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
        middle = normal * at + direction * rng.uniform(-1, 1) * grid.radius * 0.7
        ends = np.stack([middle - direction * long / 2, middle + direction * long / 2])
        ends = np.round((ends / grid.pixel + np.array([grid.shape[1] / 2, grid.shape[0] / 2])) * 16).astype(int).tolist()
        thick, seen = max(1, int(round(wide / grid.pixel))), deep * min(1.0, wide / grid.pixel)
        cv2.line(layer, ends[0], ends[1], float(seen), thick, cv2.LINE_8, 4)
    layer = cv2.GaussianBlur(layer, (0, 0), max(0.35 / grid.pixel, 0.6))
    ground.relief -= layer * (ground.cut < 0.3)
