"""The hone: two bands of grooves, each cut by grains that follow one lay."""

from dataclasses import dataclass

import numpy as np

from .frame import Frame, line, smooth, spread

SLOPES_DEG = (6.0, 27.0)
WIDTHS_UM = (2.0, 60.0)
DEPTHS_UM = (0.2, 10.0)
FINISH_UM = 0.4
"""Finishing scratches stay shallower than this."""


@dataclass
class Hone:
    """Picture-sized maps: depth below the plateau and rim above it (µm), finishing roughness (µm), how readily a groove
    closes (about unit deviation, constant across a groove)."""

    depth: np.ndarray
    rim: np.ndarray
    finish: np.ndarray
    yielding: np.ndarray


def lays(stroke: float, included: float) -> tuple[float, float]:
    """Directions of both lays (radians): the circumference, across the stroke, bisects the included hone angle."""
    return stroke + np.pi / 2 - included / 2, stroke + np.pi / 2 + included / 2


def profile(across_um: np.ndarray, width_um: np.ndarray | float, slope_deg: float, deepest_um: float) -> np.ndarray:
    """Depth (µm) of a groove: walls of one slope from rim to rim, a rounded floor no deeper than `deepest_um`."""
    wall = np.tan(np.radians(slope_deg)) * np.maximum(width_um / 2 - np.abs(across_um), 0)
    # Worn grains round the floor, so that the walls are straight only in the upper part.
    return np.where(wall < 0.6 * deepest_um, wall, deepest_um * (1 - 0.4 * np.exp(-(wall / deepest_um - 0.6) / 0.4)))


def _places(rng: np.random.Generator, length_um: float, spacing_um: float) -> np.ndarray:
    count = int(np.clip(rng.poisson(length_um / spacing_um), 1, 110))
    places = rng.uniform(0, length_um, count)
    if rng.random() < 0.5:  # a grain's neighbours on the stone cut beside it
        parents = rng.uniform(0, length_um, max(1, count // 4))
        near = rng.choice(parents, count) + rng.normal(0, 1.2 * spacing_um, count)
        places = np.where(rng.random(count) < 0.6, near, places)
    return places % length_um


def _edge(rng: np.random.Generator, count: int, torn: float, width_px: float) -> np.ndarray:
    """A rim's distance from the middle over half the width: torn in large and small bites, and in places only."""
    where = np.clip(0.6 + 0.5 * line(rng, count, 5 * width_px), 0, 1.5)
    bites = line(rng, count, 1.3 * width_px) + 0.6 * line(rng, count, 0.5 * width_px)
    return np.clip(1 + torn * where * bites, 0.6, 1.4)


def _band(rng: np.random.Generator, frame: Frame, width_um: float, share: float) -> tuple[np.ndarray, ...]:
    px, side = frame.pixel_um, frame.side
    depth, rim, yielding = frame.blank(), frame.blank(), frame.blank()
    slope_mean, spread_of_width = spread(rng, 10, 23), rng.uniform(0.15, 0.6)
    wavy_um, torn, ending = width_um * spread(rng, 0.02, 0.35), spread(rng, 0.015, 0.16), rng.uniform(0, 0.5)
    rim_um, flat = spread(rng, 0.02, 0.35), rng.uniform(0.35, 1.0)
    along = np.arange(side)
    for place in _places(rng, side * px, width_um / share):
        width = float(np.clip(width_um * np.exp(rng.normal(0, spread_of_width)), *WIDTHS_UM))
        slope = float(np.clip(slope_mean * np.exp(rng.normal(0, 0.25)), *SLOPES_DEG))
        deepest = float(np.clip(flat * np.tan(np.radians(slope)) * width / 2, *DEPTHS_UM))
        centre = place / px + (wavy_um * line(rng, side, side / rng.uniform(1, 5)) / px)
        keep = np.clip(1 + 0.25 * line(rng, side, 12 * width / px), 0.2, 1.3)
        if rng.random() < ending:
            fade = max(4.0, 3 * width / px)
            keep *= np.clip(rng.choice([-1, 1]) * (along - rng.uniform(0, side)) / fade, 0, 1)
        edges = [_edge(rng, side, torn, width / px) for _ in range(2)]
        half = width / 2 / px
        top = max(0, int(centre.min() - 1.6 * half - 2))
        end = min(side, int(centre.max() + 1.6 * half + 3))
        if end <= top:
            continue
        across = (np.arange(top, end, dtype=np.float32)[:, None] - centre[None]).astype(np.float32)
        edge = np.where(across > 0, *edges)
        cut = profile(across * px, width * edge * np.clip(keep, 0.3, 1), slope, deepest) * np.minimum(keep, 1.1)
        out = np.abs(across) / half - 1.12
        pushed = rim_um * np.exp(-((out / 0.16) ** 2)) * np.minimum(keep, 1) * rng.uniform(0.2, 1) * edge
        deeper = cut > depth[top:end]
        ease = rng.normal(0, 0.8) + 0.8 * line(rng, side, spread(rng, 0.6, 12) * width / px)
        yielding[top:end] = np.where(deeper, ease[None], yielding[top:end])
        depth[top:end] = np.maximum(depth[top:end], cut)
        rim[top:end] = np.maximum(rim[top:end], pushed)
    return depth, rim, yielding


def honed(rng: np.random.Generator, shape: tuple[int, int], pixel_um: float, stroke: float) -> Hone:
    """A newly honed field."""
    included = np.radians(
        rng.uniform(20, 150) if rng.random() < 0.4 else rng.choice([45, 130], p=[0.65, 0.35]) + rng.normal(0, 12)
    )
    field_um = min(shape) * pixel_um
    width = spread(rng, max(6.5, 4 * pixel_um), min(45.0, 0.25 * field_um))
    share = spread(rng, 0.13, 0.5)
    balance = 1.0 if rng.random() < 0.6 else spread(rng, 0.08, 0.8)
    shares = [share, share * balance]
    rng.shuffle(shares)
    finish_um = spread(rng, 0.02, 0.12)
    depths, rims, yields, fine = [], [], [], []
    for lay, part in zip(lays(stroke, included), shares, strict=True):
        frame = Frame(shape, pixel_um, lay)
        depth, rim, ease = _band(rng, frame, width * spread(rng, 0.75, 1.33), part)
        # Fine grains leave long scratches in the same lay, on plateau and floor alike.
        scratches = smooth(rng, depth.shape, spread(rng, 1, 3), spread(rng, 60, 400) / pixel_um)
        depths.append(frame.to_picture(depth))
        rims.append(frame.to_picture(rim))
        yields.append(frame.to_picture(ease))
        fine.append(frame.to_picture(scratches))
    first = depths[0] >= depths[1]
    finish = np.clip(finish_um * (fine[0] + fine[1]), -FINISH_UM, 0.15)
    depth = np.maximum(*depths)
    # Walls are torn in bites of their own, not in steps that run down the whole wall.
    bite = max(1.5, spread(rng, 0.6, 3) / pixel_um)
    torn = spread(rng, 0.03, 0.2) * smooth(rng, shape, bite, bite)
    depth = np.clip(depth * (1 + 0.7 * torn), 0, DEPTHS_UM[1])
    rim = np.maximum(*rims) * np.clip(1 - depth / 0.3, 0, 1) * np.clip(1 + 3 * torn, 0, 2)
    return Hone(depth, rim, finish, np.where(first, yields[0], yields[1]))
