"""Fine marks: scratches as single strokes, and the streaky skin of metal that flowed along the stroke.

Every scratch is drawn with a length, a width and a depth of its own into a sheet whose rows run along the marks; the sheet is
then laid over the picture. Marks along the stroke are fine (below the limit of an open valley) and belong to the plateau.
"""

import numpy as np

from .directions import across_axis, diagonal, turned
from .randomness import Rng, log_uniform, mottle, wander
from .surface import Surface


def scratches(
    rng: Rng,
    shape: tuple[int, int],
    deg: float,
    pixel_um: float,
    per_mm2: float,
    depth_um: float,
    length_um: float,
    width_um: float,
) -> tuple[np.ndarray, np.ndarray]:
    """Return slope across ``deg`` and depth in µm (float32 pictures) of scratches of given median depth, length and width."""
    size = diagonal(shape)
    sheet, deep = np.zeros((size, size), np.float32), np.zeros((size, size), np.float32)
    count = rng.poisson(min(per_mm2 * (size * pixel_um / 1000) ** 2, 6000)) if per_mm2 > 0 else 0
    for _ in range(count):
        length = max(int(log_uniform(rng, 0.3, 2.5) * length_um / pixel_um), 4)
        width = width_um * np.exp(rng.normal(0, 0.4))
        sigma = max(width / 2.4 / pixel_um, 0.55)
        depth = depth_um * np.exp(rng.normal(0, 0.6)) * min(width / 2.4 / pixel_um / 0.55, 1)
        reach = int(3 * sigma) + 1
        row, start = rng.uniform(reach, size - reach - 1), int(rng.uniform(-length / 2, size - length / 2))
        first, last = max(start, 0), min(start + length, size)
        rows = np.arange(int(row) - reach, int(row) + reach + 1)
        inside = (rows >= 0) & (rows < size)
        rows, away = rows[inside], (rows[inside] - row) / sigma
        place = (np.arange(first, last) - start) / length
        taper = np.minimum(np.minimum(place, 1 - place) * 6, 1)
        profile = np.exp(-(away**2) / 2) * depth
        deep[rows[0] : rows[-1] + 1, first:last] += (profile[:, None] * taper[None, :]).astype(np.float32)
        slope = away / (sigma * pixel_um) * profile
        sheet[rows[0] : rows[-1] + 1, first:last] += (slope[:, None] * taper[None, :]).astype(np.float32)
    if depth_um > 0:
        lines = np.gradient(wander(rng, size, max(1.2 / pixel_um, 1.2))) / pixel_um
        sheet += (0.12 * depth_um * lines)[:, None].astype(np.float32) * (1 + 0.4 * mottle(rng, sheet.shape, 40, 200))
    return turned(sheet, shape, deg), turned(deep, shape, deg)


def skin(rng: Rng, shape: tuple[int, int], deg: float, pixel_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the slope across the stroke and the tone (mean 0) of metal that flowed along it: tongues and fine scales."""
    size = diagonal(shape)
    streaks = mottle(rng, (size, size), max(0.8 / pixel_um, 1.0), max(14 / pixel_um, 8))
    scales = mottle(rng, (size, size), max(2.2 / pixel_um, 1.6), max(5 / pixel_um, 3))
    slope = np.gradient(streaks, axis=0) / pixel_um * 0.07
    broken = np.maximum(np.gradient(scales, axis=1) / pixel_um, 0)
    tone = 0.05 * streaks + 0.07 * scales - 0.13 * np.minimum(broken, 1.5)
    return turned(slope.astype(np.float32), shape, deg), turned(tone.astype(np.float32), shape, deg)


def add_slope(surface: Surface, slope: np.ndarray, deg: float, weight: np.ndarray | float) -> None:
    """Add a slope across ``deg`` to the surface, weighted."""
    row, col = across_axis(deg)
    part = slope * weight
    surface.slope_row += np.float32(row) * part
    surface.slope_col += np.float32(col) * part


def add_scratches(surface: Surface, marks: tuple[np.ndarray, np.ndarray], deg: float, weight: np.ndarray) -> None:
    """Add scratches to the surface: their slopes, and the light that their bottoms lack."""
    slope, depth = marks
    add_slope(surface, slope, deg, weight)
    surface.tone *= 1 - np.clip(0.4 * depth, 0, 0.25) * weight
