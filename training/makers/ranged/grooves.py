"""Sums of analytic grooves: each is drawn in its own strip, at any grid, and keeps what moved metal did to it."""

from dataclasses import dataclass

import numpy as np

from .draw import along, log_uniform
from .profiles import FAMILY, depth_um, worked
from .setting import Setting

LIMIT_UM = 0.5
"""Ground this far below the local plateau is open valley."""


@dataclass(frozen=True, kw_only=True)
class Ground:
    """Depths in µm below the local plateau: as the wear left them, and after metal closed them; rim height in µm; fold lines 0–1."""

    cut: np.ndarray
    depth: np.ndarray
    rim: np.ndarray
    fold: np.ndarray


def slope_deg(rng: np.random.Generator, width_um: float) -> float:
    """Slope of the walls: 6–27°, and for narrow grooves the steep half, since a shallow one would be a finishing scratch."""
    return float(rng.uniform(6, 27) if width_um > 10 or rng.random() < 0.3 else rng.uniform(16, 27))


def _closing(rng: np.random.Generator, length: int, half_px: float) -> np.ndarray:
    """Signed along the groove: above 0 it is closed; from short interruptions to long closures and the whole length."""
    step = max(3.0, half_px * log_uniform(rng, 1.0, 25.0))
    return along(rng, length, step) + rng.normal(0.8, 0.8)


def _groove(rng, setting: Setting, maps, worn, grid_um: float, lay_deg: float, centre, width_um: float) -> None:
    """Adds one groove to `maps` (cut, depth, rim, fold); `centre` is a point (row, column) of its axis on the grid."""
    angle = (lay_deg + rng.normal(0, 1.2)) % 180
    steep = 45 < angle < 135
    cut, depth, rim, fold = (map_ if steep else map_.T for map_ in maps)
    worn = worn if steep else worn.T
    major, minor = (centre if steep else centre[::-1])
    # Slope of the axis: minor coordinate gained per major one.
    gain = 1 / np.tan(np.deg2rad(angle)) if steep else np.tan(np.deg2rad(angle))
    cosine = 1 / np.hypot(1, gain)
    rows, cols = cut.shape
    half_px = width_um / 2 / grid_um
    family = str(rng.choice(FAMILY))
    deepest = depth_um(width_um, slope_deg(rng, width_um), family)

    line = np.arange(rows, dtype=np.float32)
    shape_along = along(rng, rows, rng.uniform(30, 200))
    half = half_px * np.clip(1 + 0.12 * shape_along, 0.6, 1.5)
    torn = rng.random() < 0.3
    if torn:
        ragged = 0.07 * along(rng, rows, max(2.0, half_px * rng.uniform(0.4, 2))) + 0.04 * along(rng, rows, max(2.0, half_px * 0.15))
        half = half * np.clip(1 + ragged * rng.uniform(0.5, 1.6), 0.6, 1.5)
    strength = np.clip(1 + 0.15 * along(rng, rows, rng.uniform(20, 150)), 0.4, 1.4)
    if rng.random() < 0.35:
        end, run = rng.uniform(0, rows), max(4.0, half_px * rng.uniform(1, 12))
        strength = strength * np.clip((line - end) * rng.choice([-1, 1]) / run + 0.5, 0, 1)
    axis = minor + (line - major) * gain + along(rng, rows, rng.uniform(150, 500)) * rng.uniform(0, 0.15) * half_px
    reach = int(np.ceil(half.max() * 1.35 / cosine)) + 1
    seen = np.flatnonzero((axis > -reach) & (axis < cols + reach) & (strength > 0))
    if not len(seen):
        return
    column = np.floor(axis[seen]).astype(np.int32)[:, None] + np.arange(-reach, reach + 1, dtype=np.int32)
    inside = (column >= 0) & (column < cols)
    row = np.broadcast_to(seen[:, None], column.shape)
    u = (column - axis[seen, None]) * (cosine / half[seen, None])
    inside &= np.abs(u) < 1.35
    spot = (row[inside], column[inside])
    u = u[inside].astype(np.float32)
    power = (np.float32(deepest) * strength.astype(np.float32))[spot[0]]

    table = worked(rng, family)
    ground = power * table[np.clip((u + 1) * (len(table) - 1) / 2, 0, len(table) - 1).astype(np.int32)]
    ground[np.abs(u) >= 1] = 0
    in_track = worn[spot]
    left = np.maximum(ground - setting.truncation_um * in_track, 0)
    final = left
    # Deep grooves are smeared the most.
    if rng.random() < setting.smear * (0.6 + 0.4 * min(1.0, deepest / 2)):
        # Metal moves along the stroke, so the ends of a closure follow it across the groove, raggedly.
        turn = np.deg2rad(setting.stroke_deg - angle)
        follow = np.clip(np.cos(turn) / (abs(np.sin(turn)) + 0.05) * np.sign(np.sin(turn)), -2, 2) * (1 if steep else -1)
        ragged = np.interp(np.linspace(-1.35, 1.35, 64), np.linspace(-1.35, 1.35, 14), rng.normal(0, 0.5, 14))
        ahead = half_px * (u * follow + ragged[np.clip((u + 1.35) * 23.5, 0, 63).astype(np.int32)])
        closing = _closing(rng, rows, half_px)[np.clip(spot[0] + ahead.astype(np.int32), 0, rows - 1)]
        side = rng.choice([-1, 0, 0, 1])
        if side:
            closing = closing - 0.8 * (1 + side * u) + 0.5
        closed = (closing > 0) & in_track
        level = np.float32(rng.uniform(0.02, 0.3)) + 0.1 * np.abs(along(rng, rows, 5.0))[spot[0]]
        final = np.where(closed, np.minimum(left, np.minimum(level, 0.45)), left)
        seam = rng.uniform(-0.7, 0.7) + 0.25 * along(rng, rows, max(4.0, 1.5 * half_px))[spot[0]]
        line_u = np.maximum(0.06, 0.8 / half_px)
        crease = np.exp(-(((u - seam) / line_u) ** 2)) * closed * (left >= LIMIT_UM)
        fold[spot] = np.maximum(fold[spot], crease * (along(rng, rows, max(3.0, half_px))[spot[0]] > -0.8))
    burr = 0.25 * min(deepest, 2.0) * rng.uniform(0, 1) * np.exp(-(((np.abs(u) - 1.05) / 0.13) ** 2))
    if torn:
        burr = burr * (1 + along(rng, rows, max(2.0, half_px * 0.3)))[spot[0]]
    burr = np.clip(burr, 0, 1.0) * np.where(in_track, 0.15, 1.0) * (power / max(deepest, 0.2))
    cut[spot] = np.maximum(cut[spot], left)
    depth[spot] = np.maximum(depth[spot], final)
    rim[spot] = np.maximum(rim[spot], burr)


def plough(rng: np.random.Generator, setting: Setting, worn: np.ndarray, grid_um: float) -> Ground:
    """Both bands of grooves on a grid whose pixels are `grid_um` wide; `worn` is the track on that grid."""
    shape = worn.shape
    maps = tuple(np.zeros(shape, np.float32) for _ in range(4))
    reach = np.hypot(*shape)
    for lay, cover in zip(setting.lays_deg, setting.cover, strict=True):
        groups = rng.uniform(-0.5, 0.5, int(rng.integers(2, 9))) * reach
        grouped = rng.random() < 0.4
        across = np.array([np.cos(np.deg2rad(lay)), -np.sin(np.deg2rad(lay))])
        covered, count = 0.0, 0
        while covered < cover * reach and count < 150:
            width = float(np.clip(setting.width_um * np.exp(rng.normal(0, 0.45)), 2, 60))
            place = rng.choice(groups) + rng.normal(0, 0.04) * reach if grouped else rng.uniform(-0.5, 0.5) * reach
            _groove(rng, setting, maps, worn, grid_um, lay, np.array(shape) / 2 + across * place, width)
            covered, count = covered + width / grid_um, count + 1
    cut, depth, rim, fold = maps
    return Ground(cut=cut, depth=depth, rim=rim * (depth < LIMIT_UM), fold=fold * (depth < LIMIT_UM))
