"""Where moved metal covers a groove: caps, tongues, lips, burnished stretches and bridges."""

import cv2
import numpy as np

from .grid import Grid
from .hone import Groove
from .noise import Line, smooth

CLOSURES = ("cap", "tongue", "lip", "burnished", "bridge")
CLOSURE_SHARES = (0.23, 0.28, 0.19, 0.20, 0.10)
Stretch = tuple[float, float, str]


def draw_closures(rng: np.random.Generator, grid: Grid, groove: Groove, share: float, lean: float) -> list[Stretch]:
    """Closed stretches of a groove as (from, to, kind), measured across the stroke in µm; about `share` of its length is
    closed. `lean` is the cosine between the groove and the line across the stroke."""
    found: list[Stretch] = []
    at = -grid.half - rng.uniform(0, 60)
    least = 12 * grid.pixel
    while at < grid.half:
        kind = str(rng.choice(CLOSURES, p=CLOSURE_SHARES))
        if kind == "bridge":
            length = groove.width * rng.uniform(0.6, 1.2)
        else:
            length = 55 * float(np.exp(0.45 * rng.standard_normal()))
        length = max(length * lean, least)
        gap = max(length * (1 - share) / share * float(np.exp(0.35 * rng.standard_normal())), least)
        at += gap * (rng.random() if not found else 1.0)
        found.append((at, at + length, kind))
        at += length
    return found


def cover_of(
    rng: np.random.Generator,
    pixel: float,
    groove: Groove,
    stretch: Stretch,
    place: tuple[np.ndarray, np.ndarray, np.ndarray],
    lines: tuple[Line, Line],
    pinholes: np.ndarray,
) -> np.ndarray:
    """How far the metal of one closure covers each of n pixels, 0 to 1: (n,). `place` is p and q in µm and y, from -1 to 1
    across the groove; `lines` make edges ragged (fine, slow); pinholes, 0 to 1, stay open in caps: all (n,)."""
    start, stop, kind = stretch
    (p, q, y), (fine, slow) = place, lines
    half_width = groove.width / 2
    slant = rng.uniform(-0.25, 0.25, 2)  # moved metal rarely ends squarely
    inside = np.minimum(p - start - slant[0] * y * half_width, stop - p - slant[1] * y * half_width)
    side = 1.0 if rng.random() < 0.5 else -1.0
    edge = max(0.8, 1.1 * pixel)
    if kind == "tongue":
        taper = max(0.28 * (stop - start), 3.0)
        reach = -1.1 + 2.4 * np.clip(inside / taper, -0.5, 1.0) + 0.20 * fine(p) * (inside < taper)
        return smooth(0.5 + (reach - side * y) * half_width / edge)
    ragged = 0.7 if kind in ("bridge", "burnished") else 1.4
    cover = smooth(0.5 + (inside + ragged * fine(q)) / edge)
    if kind == "lip":
        slit = max(rng.uniform(2.2, 4.0), 3.2 * pixel)
        tip = max(groove.limit - slit / half_width, 0.05) + 0.5 * slow(p) / half_width
        cover = np.minimum(cover, smooth(0.5 + (tip - side * y) * half_width / edge))
    if kind == "cap":
        cover = cover * (1 - pinholes)
    return cover


def pinhole_map(rng: np.random.Generator, grid: Grid) -> np.ndarray:
    """Round holes of 0.7 to 1.6 µm radius, one to 260 µm² (common practice, no source): (rows, cols), 0 to 1."""
    holes = np.zeros(grid.shape, np.float32)
    for _ in range(int(grid.area / 260)):
        x, y = rng.uniform(0, grid.shape[1]), rng.uniform(0, grid.shape[0])
        radius = max(rng.uniform(0.7, 1.6), 1.2 * grid.pixel) / grid.pixel
        cv2.circle(holes, (int(x * 16), int(y * 16)), int(radius * 16), 1.0, -1, cv2.LINE_8, 4)
    return cv2.GaussianBlur(holes, (0, 0), 0.5)
