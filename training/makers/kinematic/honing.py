"""Honing strokes: every grit leaves a path with its own depth along it; a band is all grits of one stroke sense."""

from dataclasses import dataclass

import cv2
import numpy as np

from .noise import along, log_uniform, smooth


@dataclass(frozen=True, kw_only=True)
class Stone:
    """What the grits of one field have in common. Widths, depth and fine um; cover: share of area cut; the rest are ratios."""

    width_low: float
    width_high: float
    depth: float
    depth_power: float
    cover: float
    flatness: float
    skew: float
    rim: float
    torn: float
    fade: float
    grouping: float
    fine: float


def draw_stone(rng: np.random.Generator, pixel: float, side_um: float) -> Stone:
    """A stone for a field of side_um (um) at pixel (um/px), so that grooves are neither below two pixels nor the whole field."""
    low = max(2.0, 2.2 * pixel)
    high = min(60.0, max(log_uniform(rng, 0.04, 0.3) * side_um, 1.5 * low))
    first = log_uniform(rng, low, high)
    # Typical depth first: a grit that cuts no valley at all would make a field without a question in it.
    deep = min(log_uniform(rng, 0.6, 5.0), 0.45 * first)
    return Stone(
        width_low=first,
        width_high=min(high, first * log_uniform(rng, 1.5, 8)),
        depth=deep,
        depth_power=rng.uniform(0, 1),
        cover=log_uniform(rng, 0.08, 0.5),
        flatness=log_uniform(rng, 1.0, 7.0),
        skew=rng.uniform(0, 0.6),
        rim=log_uniform(rng, 0.01, 0.25),
        torn=rng.uniform(0, 1),
        fade=rng.uniform(0, 0.7),
        grouping=rng.uniform(0, 0.9),
        fine=log_uniform(rng, 0.01, 0.13),
    )


def _grit(rng: np.random.Generator, stone: Stone, cut: np.ndarray, rims: np.ndarray, centre: float, width: float, pixel: float) -> None:
    """Cut one path into the band (heights um, negative below); centre px across, width um between the rims."""
    length = cut.shape[1]
    half = 0.5 * width / pixel
    depth = float(np.clip(stone.depth * (width / stone.width_low) ** stone.depth_power * log_uniform(rng, 0.4, 1.9), 0.2, 10.0))
    # The grit rides up and down and wears: its depth and width change together along the path.
    ride = np.clip(1 + 0.3 * along(rng, length, log_uniform(rng, 8, 200) / pixel), 0.15, 1.6)
    if rng.random() < stone.fade:
        start, run = rng.uniform(-0.3, 1.0) * length, log_uniform(rng, 0.2, 1.0) * length
        soft = log_uniform(rng, 0.01, 0.25) * length
        place = np.arange(length)
        ride = ride * np.clip((place - start) / soft, 0, 1) * np.clip((start + run - place) / soft, 0, 1)
    wander = along(rng, length, log_uniform(rng, 40, 400) / pixel) * half * rng.uniform(0, 0.3)
    wander += along(rng, length, 3 / pixel) * half * 0.08 * stone.torn
    reach = int(half * 1.9 + np.abs(wander).max()) + 2
    first, last = max(0, int(centre) - reach), min(cut.shape[0], int(centre) + reach)
    if first >= last or not ride.any():
        return
    local_half = np.maximum(half * (0.65 + 0.35 * np.clip(ride, 0, 1.3)), 0.8)
    across = (np.arange(first, last, dtype=np.float32)[:, None] - (centre + wander)[None, :]) / local_half[None, :]
    # A leaning grit makes one wall steeper: shift the deepest point and keep both rims where they are.
    lean = stone.skew * rng.choice((-1, 1))
    stretched = np.where(across > lean, (across - lean) / (1 - lean), (across - lean) / (1 + lean))
    profile = np.clip(1 - np.abs(stretched) ** stone.flatness, 0, 1)
    section = cut[first:last]
    np.minimum(section, -(depth * ride)[None, :] * profile, out=section)
    burr = np.clip(1 + 1.5 * stone.torn * along(rng, length, 4 / pixel), 0, 4) * np.minimum(depth, 2.0) * stone.rim * np.minimum(ride, 1)
    ridge = burr[None, :] * np.exp(-np.square((np.abs(across) - 1.15) / 0.2))
    np.maximum(rims[first:last], ridge, out=rims[first:last])


def draw_band(rng: np.random.Generator, stone: Stone, side: int, share: float, pixel: float) -> tuple[np.ndarray, np.ndarray]:
    """One band in its own frame (side x side px, paths along rows): groove heights (um, <= 0) and what stands or lies beside
    them (um: rims and finishing scratches); share: part of the stone's cover this band has."""
    cut, rims = np.zeros((2, side, side), np.float32)
    goal = stone.cover * share * side
    done, centre, paths = 0.0, rng.uniform(0, side), 0
    while done < goal and paths < 110:
        width = log_uniform(rng, stone.width_low, stone.width_high)
        # Grits of one stone follow near each other; else the next may be anywhere.
        centre = centre + rng.normal(0, 3) * width / pixel if rng.random() < stone.grouping else rng.uniform(0, side)
        centre = centre % side
        _grit(rng, stone, cut, rims, centre, width, pixel)
        done, paths = done + width / pixel, paths + 1
    scratch = smooth(rng, (side, side), (log_uniform(rng, 0.3, 2.5) / pixel, log_uniform(rng, 60, 600) / pixel))
    rims += np.clip(scratch * stone.fine, -0.3, 0.3)
    return cut, rims


def lay_down(band: np.ndarray, shape: tuple[int, int], angle: float, bend: float) -> np.ndarray:
    """A band's frame turned by angle (rad from across the stroke) into the stroke frame; bend: px per px² of helical slide
    that turns at the reversal."""
    rows, cols = shape
    y, x = np.arange(rows, dtype=np.float32)[:, None] - rows / 2, np.arange(cols, dtype=np.float32)[None, :] - cols / 2
    run = x * np.float32(np.cos(angle)) + y * np.float32(np.sin(angle))
    over = y * np.float32(np.cos(angle)) - x * np.float32(np.sin(angle)) + np.float32(bend) * run * run
    centre = np.float32(band.shape[0] / 2)
    return cv2.remap(band, run + centre, over + centre, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
