"""The honed ground: two bands of grooves placed at random at two angles about the circumference."""

from dataclasses import dataclass

import numpy as np

from makers.backscattered.texture import Grid, wander

STEEPEST_WALL = np.tan(np.radians(27))
"""Walls of hone grooves slope by 6 to 27° (tests/SOURCES.md, derived there)."""


@dataclass(frozen=True)
class Finish:
    """One way of honing: included angle in degrees, groove width and depth in µm, share of the area cut by grooves."""

    hone_angle_deg: float
    width_um: float
    depth_um: float
    share: float


@dataclass
class Groove:
    """One groove on the pixels `at` (flat indices): along its lay in µm, place across it in half widths (-1 to 1), depth in µm."""

    lay_deg: float
    half_um: float
    at: np.ndarray
    along: np.ndarray
    place: np.ndarray
    depth: np.ndarray


def draw_finish(rng: np.random.Generator, pixel_um: float) -> Finish:
    """A finish at random: angles of 30 to 60° or 140 to 150°, widths of 5 to 60 µm, depths of 1 to 6 µm and some near 0.5 µm
    (tests/SOURCES.md, from memory there); magnification follows the width that is to be seen (common practice, no source)."""
    name = str(rng.choice(["plateau", "single", "helical"], p=[0.5, 0.28, 0.22]))
    width = 15 * (pixel_um / 0.5) ** 0.45 * np.exp(rng.normal(0, 0.35)) * (0.75 if name == "single" else 1)
    depth = rng.uniform(1.0, 6.0) if rng.random() < 0.85 else rng.uniform(0.65, 1.1)
    angle = rng.uniform(138, 152) if name == "helical" else rng.uniform(28, 65)
    share = rng.uniform(0.22, 0.4) if name == "single" else rng.uniform(0.12, 0.3)
    return Finish(float(angle), float(np.clip(width, max(4.0, 9 * pixel_um), 50)), float(depth), float(share))


def lays(finish: Finish, stroke_deg: float) -> tuple[float, float]:
    """Directions of the two families in degrees; the circumference bisects the hone angle."""
    return stroke_deg + 90 - finish.hone_angle_deg / 2, stroke_deg + 90 + finish.hone_angle_deg / 2


def hone(rng: np.random.Generator, grid: Grid, finish: Finish, stroke_deg: float) -> list[Groove]:
    """All grooves of a field; at least one passes near its centre."""
    cut, balance = [], rng.uniform(0.35, 0.65)
    for lay, part in zip(lays(finish, stroke_deg), (balance, 1 - balance), strict=True):
        lay_deg = lay + rng.normal(0, 0.5)
        along, across = grid.axes(lay_deg)
        low, high = float(across.min()), float(across.max())
        middles = list(rng.uniform(low, high, min(rng.poisson(finish.share * part * (high - low) / finish.width_um), 60)))
        if part >= 0.5:
            middles.append(rng.uniform(0.25 * low, 0.25 * high))
        cut += [groove(rng, grid, finish, lay_deg, along, across - np.float32(middle)) for middle in middles]
    return [each for each in cut if each.at.size]


def groove(rng: np.random.Generator, grid: Grid, finish: Finish, lay_deg: float, along: np.ndarray, across: np.ndarray) -> Groove:
    """One groove about the line across = 0: its width, wall form, tool marks and depth vary, and some run out."""
    half = float(np.clip(finish.width_um * np.exp(rng.normal(0, 0.3)), 7 * grid.pixel_um, 60)) / 2
    lean = np.float32(np.tan(np.radians(rng.normal(0, 0.4))))
    at = np.flatnonzero(np.abs(across + lean * along) < 1.35 * half)
    along, across = along.ravel()[at], (across + lean * along).ravel()[at]
    reach = half * np.exp(0.09 * wander(rng, along, 3 * half) + 0.03 * wander(rng, along, 0.5 * half))
    place = (across + 0.08 * half * wander(rng, along, 8 * half)) / reach
    kept = np.abs(place) < 1
    at, along, place = at[kept], along[kept], place[kept]
    form, fall = rng.uniform(1.6, 3.5), rng.uniform(0.9, 1.3)
    depth = (1 - np.abs(place) ** np.float32(form)) ** np.float32(fall)
    depth *= 1 + 0.1 * wander(rng, place * half, max(0.15 * half, 2 * grid.pixel_um)) + 0.12 * wander(rng, along, 6 * half)
    if rng.random() < 0.15 and at.size:
        end = rng.uniform(along.min(), along.max())
        depth *= np.clip((along - end) * rng.choice([-1, 1]) / (4 * half), 0, 1)
    deepest = min(max(finish.depth_um * np.exp(rng.normal(0, 0.25)), 0.8), STEEPEST_WALL * half, 7.0)
    return Groove(lay_deg, half, at, along, place, np.clip(deepest * depth, 0, 10).astype(np.float32))


def ground(grid: Grid, grooves: list[Groove]) -> np.ndarray:
    """Depth below the plateau, (rows, cols) float32 µm: the deepest groove counts where several cross."""
    depth = np.zeros(grid.shape[0] * grid.shape[1], np.float32)
    for each in grooves:
        depth[each.at] = np.maximum(depth[each.at], each.depth)
    return depth.reshape(grid.shape)
