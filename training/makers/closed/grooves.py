"""Hone grooves, each a strip of cells about a wandering line with walls of its own."""

from dataclasses import dataclass

import numpy as np

from .noise import between, wander

LIMIT_UM = 0.5
"""Ground nearer to the plateau than this belongs to it."""


@dataclass(frozen=True, kw_only=True)
class Groove:
    """One groove's cells: index into the flat picture, u_um across and v_um along the groove, depth_um of the fresh
    ground below the plateau there, left_um and right_um distances of the rims at each cell (both positive)."""

    angle_deg: float
    depth_um: float
    width_um: float
    index: np.ndarray
    u_um: np.ndarray
    v_um: np.ndarray
    cell_depth_um: np.ndarray
    left_um: np.ndarray
    right_um: np.ndarray


def strip(angle_deg: float, point: tuple[float, float], reach_px: float, shape: tuple[int, int]):
    """Cells within reach of a line through point (x, y): flat index, distance across and along, in pixels."""
    dx, dy = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    steep = abs(dy) > abs(dx)
    lead, cross = (dy, dx) if steep else (dx, dy)
    rows, columns = shape
    steps, bound = (rows, columns) if steep else (columns, rows)
    start, base = (point[1], point[0]) if steep else (point[0], point[1])
    a = np.arange(steps)[:, None]
    centre = base + (a - start) * (cross / lead)
    half = int(reach_px / abs(lead)) + 2
    b = np.floor(centre).astype(np.int64) + np.arange(-half, half + 1)[None, :]
    ahead, aside = np.broadcast_to(a - start, b.shape), b - base
    inside = (b >= 0) & (b < bound)
    a_in, b_in = np.broadcast_to(a, b.shape)[inside], b[inside]
    x, y = (aside[inside], ahead[inside]) if steep else (ahead[inside], aside[inside])
    index = a_in * columns + b_in if steep else b_in * columns + a_in
    return index, -x * dy + y * dx, x * dx + y * dy


def draw_depth_and_wall(rng: np.random.Generator, pixel_size_um: float) -> tuple[float, float, float, float]:
    """Depth (µm), wall slope (degrees), flat share of the floor, width (µm)."""
    # Grooves far below the pixel size can't be seen, so the smallest are left to the fine scratches.
    depth = between(rng, 0.2, 10) if rng.random() < 0.3 else between(rng, max(0.4, 0.45 * pixel_size_um), 8)
    slope = float(np.clip(rng.normal(15, 6), 5, 30))
    flat = rng.choice([0.05, rng.uniform(0.05, 0.6)])
    width = 2 * depth / np.tan(np.radians(slope)) / (1 - flat)
    # Wide ones are held to 60 µm by giving up depth, so that the walls keep their slope.
    depth *= min(1.0, 60 / width)
    return depth, slope, float(flat), min(width, 60.0)


def draw_groove(
    rng: np.random.Generator,
    angle_deg: float,
    point: tuple[float, float],
    *,
    pixel_size_um: float,
    shape: tuple[int, int],
    ending: float,
    wavy: float,
    largest_um: float,
) -> Groove | None:
    """A groove along angle_deg through point (x, y px); `ending` is the chance that it fades out by itself."""
    depth, _slope, flat, width = draw_depth_and_wall(rng, pixel_size_um)
    if width > largest_um:
        depth, width = depth * largest_um / width, largest_um
    index, u, v = strip(angle_deg, point, 1.3 * width / pixel_size_um + 3, shape)
    if len(index) < 30:
        return None
    u, v = u * pixel_size_um, v * pixel_size_um
    u = u + wavy * width * wander(rng, v, between(rng, 8, 60) * width)
    swell = np.clip(1 + 0.15 * wander(rng, v, between(rng, 3, 30) * width), 0.5, 1.5)
    if rng.random() < ending:
        end, ramp = rng.uniform(v.min(), v.max()), between(rng, 2, 40) * width
        swell = swell * np.clip((v - end) * rng.choice([-1, 1]) / ramp, 0, 1) ** 0.7
    if rng.random() < ending / 2:
        # A shallow reach in the middle: the grain lost its grip for a while.
        middle, half = rng.uniform(v.min(), v.max()), between(rng, 2, 12) * width
        swell = swell * np.clip(np.abs(v - middle) / half, 0.0, 1) ** 1.5
    skew = rng.uniform(-0.3, 0.3)
    rag = min(rng.uniform(0.0, 0.06) * width, 1.2)
    fine = max(2 * pixel_size_um, between(rng, 0.1, 1) * width)
    left = np.maximum(0.5 * width * (1 - skew) * swell + rag * wander(rng, v, fine), 0.05)
    right = np.maximum(0.5 * width * (1 + skew) * swell + rag * wander(rng, v, fine), 0.05)
    away = np.where(u < 0, -u / left, u / right)
    shape_of_wall = np.clip((1 - away) / (1 - flat), 0, 1)
    ground = depth * swell * shape_of_wall
    # Grains in the stone leave lines along the floor, which keep the groove's own direction.
    lines = wander(rng, u, max(pixel_size_um, 0.08 * width)) * rng.uniform(0, 0.16)
    ground = np.where(away < 1, ground * (1 + lines), 0.0)
    return Groove(
        angle_deg=angle_deg, depth_um=depth, width_um=width, index=index, u_um=u, v_um=v,
        cell_depth_um=ground.astype(np.float32), left_um=left, right_um=right,
    )  # fmt: skip


def draw_band(
    rng: np.random.Generator, angle_deg: float, *, pixel_size_um: float, shape: tuple[int, int], weight: float
) -> list[Groove]:
    """The grooves of one lay, at random places and in groups; weight 0–1 thins the band."""
    rows, columns = shape
    reach_px = 0.5 * np.hypot(rows, columns)
    field_um = 2 * reach_px * pixel_size_um
    spacing = max(between(rng, 10, 120), field_um / 34) / weight
    ending, wavy = rng.uniform(0, 0.6), between(rng, 0.01, 0.25)
    spread_deg = between(rng, 0.3, 5)
    normal = np.radians(angle_deg + 90)
    grooves, place = [], rng.uniform(0, spacing)
    while place < field_um:
        offset = place / pixel_size_um - reach_px
        point = (columns / 2 + offset * np.cos(normal), rows / 2 + offset * np.sin(normal))
        groove = draw_groove(
            rng, angle_deg + rng.normal(0, spread_deg), point, pixel_size_um=pixel_size_um, shape=shape,
            ending=ending, wavy=wavy, largest_um=min(60, 0.22 * field_um),
        )  # fmt: skip
        if groove is not None:
            grooves.append(groove)
        place += rng.exponential(spacing) if rng.random() < 0.75 else 0.25 * spacing
    return grooves
