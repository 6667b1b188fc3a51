"""Grooves of one lay cut into the maps of a field, and closed where metal has moved."""

from dataclasses import dataclass

import numpy as np

from .closing import Stretch, cover_of, draw_closures
from .grid import Grid
from .hone import LIMIT_UM, Finish, Groove, draw_grooves
from .noise import Line, smooth


@dataclass(kw_only=True)
class Maps:
    """Maps of (rows, cols) that grooves are cut into: heights before and after closing (µm), moved metal and fold lines, 0 to
    1; and maps that shape them: rough and streak of unit spread, pinholes from 0 to 1."""

    before: np.ndarray
    after: np.ndarray
    metal: np.ndarray
    fold: np.ndarray
    rough: np.ndarray
    streak: np.ndarray
    pinholes: np.ndarray


def cut_family(rng: np.random.Generator, grid: Grid, lay: float, finish: Finish, wear: float, closing: float, maps: Maps) -> None:
    """Cut one lay (radians from the circumference) after `wear` µm of wear, closed over about the share `closing`."""
    c, s = np.float32(np.cos(lay)), np.float32(np.sin(lay))
    u, v = (c * grid.p + s * grid.q).ravel(), (-s * grid.p + c * grid.q).ravel()
    order = np.argsort(v)
    v_sorted = v[order]
    before, after, rough = maps.before.ravel(), maps.after.ravel(), maps.rough.ravel()
    lines = Line(rng, grid.half, max(1.6, 2.0 * grid.pixel)), Line(rng, grid.half, 14.0)
    for groove in draw_grooves(rng, grid, finish, wear):
        wander, swell = Line(rng, grid.half, 120.0), Line(rng, grid.half, 60.0)
        jag = Line(rng, grid.half, 4.0)
        room = groove.width * 0.75 + 5
        low, high = np.searchsorted(v_sorted, [groove.centre - room, groove.centre + room])
        at = order[low:high]
        if not len(at):
            continue
        along = u[at]
        y = (v[at] - groove.centre - 1.1 * wander(along)) * (2 / groove.width)
        y = y * (1 + 0.06 * swell(along)) + (0.3 * jag(along) / groove.width)
        keep = np.abs(y) < 1.12
        at, along, y = at[keep], along[keep], y[keep]
        depth = groove.depth * groove.profile(np.abs(y))
        ground = -depth * (1 + 0.05 * swell(along)) + 0.10 * np.minimum(depth, 1) * rough[at]
        now = ground.copy()
        if closing > 0:
            share = float(np.clip(closing + 0.08 * rng.standard_normal(), 0.08, 0.7))
            place = grid.p.ravel()[at], grid.q.ravel()[at], y
            for stretch in draw_closures(rng, grid, groove, share, max(abs(float(c)), 0.45)):
                close(rng, grid, groove, stretch, at, place, ground, now, lines, maps)
        before[at] = np.minimum(before[at], ground)
        after[at] = np.minimum(after[at], now)


def close(
    rng: np.random.Generator,
    grid: Grid,
    groove: Groove,
    stretch: Stretch,
    at: np.ndarray,
    place: tuple[np.ndarray, np.ndarray, np.ndarray],
    ground: np.ndarray,
    now: np.ndarray,
    lines: tuple[Line, Line],
    maps: Maps,
) -> None:
    """Close one stretch, in `now` (heights in µm) and the maps of metal and folds. The n pixels of the groove: flat index `at`,
    place (p and q in µm, y from -1 to 1 across), heights `ground` as cut: all (n,). The slit beside a lip keeps its depth."""
    near = np.flatnonzero((place[0] > stretch[0] - 5) & (place[0] < stretch[1] + 5))
    if not len(near):
        return
    kind, slow, half_width = stretch[2], lines[1], groove.width / 2
    p, q, y = (values[near] for values in place)
    r, at = np.abs(y), at[near]
    cover = cover_of(rng, grid.pixel, groove, stretch, (p, q, y), lines, maps.pinholes.ravel()[at])
    sunk = -rng.uniform(0.05, 0.22)
    level = {"bridge": 0.02, "burnished": -0.04}.get(kind, sunk)
    top = level + (0.04 if kind == "burnished" else 0.08) * maps.streak.ravel()[at]
    old = ground[near]
    if kind == "lip":
        old = np.where(old < -LIMIT_UM, np.minimum(old, -min(groove.depth, 1.6)), old)
    now[near] = np.maximum(old, np.minimum(old * (1 - cover) + np.minimum(top, 0.1) * cover, 0.1))

    weight = cover * smooth((groove.limit + 0.06 - r) * half_width / max(0.8, grid.pixel) + 0.5)
    weight *= 0.85 if kind == "burnished" else 1.0
    trace = max(0.7, 0.9 * grid.pixel)
    rim = np.exp(-(((r - groove.limit) * half_width / trace) ** 2))
    if kind in ("cap", "tongue") and rng.random() < 0.5:
        rim = rim * (y > 0)
    if kind == "burnished" and groove.width > 14:
        rim = np.maximum(rim, 0.8 * np.exp(-(((y - 0.2 * slow(p)) * half_width / trace) ** 2)))
    metal, fold = maps.metal.ravel(), maps.fold.ravel()
    metal[at] = np.maximum(metal[at], weight)
    fold[at] = np.maximum(fold[at], rim * cover * (0.75 + 0.25 * slow(p)))
