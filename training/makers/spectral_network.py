"""Groove networks as masks: thresholds of strongly drawn-out random fields, or line processes, in each lay's frame."""

from dataclasses import dataclass

import cv2
import numpy as np

from makers.spectral_fields import above, blur, frame, log_uniform, stretched, warp


@dataclass(kw_only=True)
class Lay:
    """One family of grooves: where they are, a field for closing them along their length, one value a groove (both of
    unit spread), distance to the edge in pixels (inside positive), direction in degrees, usual width in pixels."""

    grooves: np.ndarray
    along: np.ndarray
    per_groove: np.ndarray
    inside: np.ndarray
    angle: float
    width: float


def _rows(rng: np.random.Generator, n: int, cells: int, length: float) -> np.ndarray:
    """n independent smooth lines of unit spread, correlation `length` cells."""
    knots = max(3, int(cells / max(length, 1.0)) + 3)
    rough = rng.standard_normal((n, knots), dtype=np.float32)
    return cv2.resize(rough.T, (n, cells), interpolation=cv2.INTER_CUBIC).T if n else np.zeros((0, cells), np.float32)


def _centres(rng: np.random.Generator, span: float, pitch: float) -> np.ndarray:
    """Places of lines across `span`: random, regular, or in clusters."""
    how = rng.random()
    n = int(np.clip(span / pitch, 1, 900))
    if how < 0.4:
        return rng.uniform(0, span, max(1, rng.poisson(n)))
    if how < 0.65:
        step = rng.uniform(0.1, 0.4)
        return (np.arange(n) + rng.uniform(0, 1) + step * rng.standard_normal(n)) * span / n
    strands = int(rng.integers(2, 6))
    hearts = rng.uniform(0, span, max(1, n // strands))
    return (hearts[:, None] + pitch * rng.uniform(0.1, 0.5) * rng.standard_normal((len(hearts), strands))).ravel()


def line_lay(
    rng: np.random.Generator, shape: tuple[int, int], angle: float, width: float, pitch: float, *, straight: bool
) -> Lay:
    """Line process: each groove has its place, width, wander and ends; a shared bend makes the family curve."""
    cell = float(np.clip(width / 2, 1.5, 12))
    (n_v, n_u), to_grid = frame(shape, angle, cell, 1.0)
    stub = max(width, 3.0) / cell  # a groove width in cells along the lay
    centres = _centres(rng, n_v, pitch)
    n = len(centres)
    spread = rng.uniform(0.05, 0.8)
    widths = np.clip(width * np.exp(spread * rng.standard_normal(n)), 0.9, max(width, 0.1 * n_v))
    u = np.linspace(-1, 1, n_u, dtype=np.float32)
    bend = 0.0 if straight else rng.normal(0, 0.02) * n_v
    own = 0.0 if straight else log_uniform(rng, 0.05, 0.5) * width
    wander = bend * u**2 + own * _rows(rng, n, n_u, log_uniform(rng, 8, 150) * stub)
    swell = np.exp(rng.uniform(0, 0.3) * _rows(rng, n, n_u, log_uniform(rng, 2.5, 60) * stub))
    half = widths[:, None] / 2 * swell
    if rng.random() < 0.45:  # ends and interruptions that honing left: tapered
        gap = _rows(rng, n, n_u, log_uniform(rng, 15, 200) * stub) + rng.uniform(0.5, 2.0)
        half = half * np.clip(gap * log_uniform(rng, 0.8, 12), -0.5, 1)
    tilt = rng.normal(0, 0.015 if straight else 0.04) * rng.standard_normal(n) * n_v * 0.3
    close = _rows(rng, n, n_u, log_uniform(rng, 0.5, 40) * max(width, 4) / cell)
    close = close + rng.uniform(0, 0.8) * _rows(rng, n, n_u, 2.0)
    whole = rng.standard_normal(n)
    inside = np.full((n_v, n_u), -12.0, np.float32)
    along, per_groove = np.zeros((n_v, n_u), np.float32), np.zeros((n_v, n_u), np.float32)
    slant = rng.normal(0, 1.0)
    columns = np.arange(n_u)
    for j in range(n):
        mid = centres[j] + tilt[j] * u + wander[j]
        low = max(0, int(mid.min() - half[j].max() - 3))
        high = min(n_v, int(mid.max() + half[j].max() + 4))
        if high <= low:
            continue
        off = np.arange(low, high, dtype=np.float32)[:, None] - mid[None, :]
        mine = half[j][None, :] - np.abs(off)
        better = mine > inside[low:high]
        inside[low:high][better] = mine[better]
        place = np.clip(columns[None, :] + slant * off / cell, 0, n_u - 1.001)
        left = place.astype(int)
        part = place - left
        slanted = (1 - part) * close[j][left] + part * close[j][left + 1]
        along[low:high][better] = slanted[better]
        per_groove[low:high][better] = whole[j]
    depth = warp(inside, to_grid, shape)
    if rng.random() < 0.6:  # torn edges
        rough = stretched(rng, shape, log_uniform(rng, 2, 25), log_uniform(rng, 2, 8), angle)
        depth = depth + rng.uniform(0.02, 0.16) * min(width, 12) * np.clip(rough, -2, 2)
    return Lay(
        grooves=depth > 0,
        along=warp(along, to_grid, shape),
        per_groove=warp(per_groove, to_grid, shape, cv2.INTER_NEAREST),
        inside=depth,
        angle=angle,
        width=width,
    )


def field_lay(rng: np.random.Generator, shape: tuple[int, int], angle: float, width: float, share: float) -> Lay:
    """Threshold of a field drawn out along the lay: widths, ends and forks come out by themselves."""
    length = width * log_uniform(rng, 60, 2000)
    field = stretched(rng, shape, length, width * 1.6, angle)
    if rng.random() < 0.5:
        field = field + rng.uniform(0.1, 0.5) * stretched(rng, shape, length / 6, width * 0.8, angle)
    if rng.random() < 0.5:  # crowded here, sparse there
        far = 0.3 * max(shape)
        field = field + rng.uniform(0.2, 0.8) * stretched(rng, shape, far, far)
    grooves = above(field, share).astype(np.uint8)
    if width > 3:
        grooves = cv2.medianBlur(grooves, 5 if width > 8 else 3)
    _, label, stats, _ = cv2.connectedComponentsWithStats(grooves)
    stubs = stats[:, cv2.CC_STAT_AREA] < 12 * width**2  # too short for a groove, unless the picture's edge cuts it
    box = stats[:, cv2.CC_STAT_LEFT], stats[:, cv2.CC_STAT_TOP]
    ends = box[0] + stats[:, cv2.CC_STAT_WIDTH], box[1] + stats[:, cv2.CC_STAT_HEIGHT]
    stubs &= (box[0] > 0) & (box[1] > 0) & (ends[0] < shape[1]) & (ends[1] < shape[0])
    grooves[stubs[label]] = 0
    inside = cv2.distanceTransform(grooves, cv2.DIST_L2, 3) - (grooves == 0)
    scale = log_uniform(rng, 0.7, 60) * max(width, 4)
    return Lay(
        grooves=grooves > 0,
        along=stretched(rng, shape, scale, 3 * width, angle),
        per_groove=stretched(rng, shape, length * 3, 3 * width, angle),
        inside=inside,
        angle=angle,
        width=width,
    )


def draw_lays(rng: np.random.Generator, shape: tuple[int, int], px: float, stroke: float) -> tuple[list[Lay], str]:
    """The field's lays and the finish's name; hone angle 20–150°, bisected by the direction across the stroke."""
    finish = str(
        rng.choice(
            ["plateaued", "single", "helical", "one", "unequal", "fine", "bare"],
            p=[0.31, 0.2, 0.1, 0.08, 0.13, 0.1, 0.08],
        )
    )
    if finish == "bare":
        return [], finish
    hone = rng.uniform(125, 150) if finish == "helical" else rng.uniform(20, 130)
    extent = min(shape) * px
    share_total = log_uniform(rng, *{"plateaued": (0.05, 0.35), "single": (0.2, 0.55)}.get(finish, (0.07, 0.45)))
    width_um = log_uniform(rng, *{"plateaued": (4, 60), "single": (2, 20), "fine": (2, 6)}.get(finish, (2, 35)))
    width_um = float(np.clip(width_um, 1.7 * px, max(2.0, extent / 8)))
    straight = rng.random() < 0.5
    lays = []
    sides = [1, -1] if finish != "one" else [int(rng.choice([1, -1]))]
    weights = rng.dirichlet([2, 2] if finish == "unequal" else [15, 15]) if len(sides) == 2 else [1.0]
    for side, weight in zip(sides, weights, strict=True):
        angle = stroke + 90 + side * (hone / 2 + rng.normal(0, 2))
        width = width_um / px * np.exp(rng.normal(0, 0.15))
        share = max(0.01, share_total * weight)
        if rng.random() < 0.55:
            lays.append(line_lay(rng, shape, angle, width, width / share, straight=straight))
        else:
            lays.append(field_lay(rng, shape, angle, width, share))
        if finish == "single" and rng.random() < 0.5:
            more = line_lay(
                rng, shape, angle + rng.normal(0, 3), max(1.3, width / 3), 2 * width / share, straight=False
            )
            lays.append(more)
    return lays, finish


def faint_lines(rng: np.random.Generator, shape: tuple[int, int], angle: float, px: float) -> np.ndarray:
    """Marks shallower than 0.5 µm along one direction: −1 to 1, mostly near 0."""
    width = max(0.8, log_uniform(rng, 0.4, 8) / px)
    field = stretched(rng, shape, width * log_uniform(rng, 30, 400), width, angle)
    if rng.random() < 0.6:
        field = np.where(above(field, log_uniform(rng, 0.03, 0.4)), np.float32(1), np.float32(0))
        return blur(field, 0.7)
    return np.clip(field / 2.5, -1, 1)
