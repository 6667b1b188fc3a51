"""One grit's path over the metal and the groove it leaves.

A grit's section is a polyline; swept along its path it cuts a groove whose floor bears the polyline's own ridges. A grit
may enter or leave the metal within the field, chatter, or break and go on narrower. What it ploughs aside stands as
burrs on both rims: in abrasion of ductile metal only part of the groove's metal leaves as chip (Zum Gahr 1987, from memory).
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Grit:
    """Section of a grit: depth (0–1) at knots from rim (−1) to rim (1)."""

    knots: np.ndarray
    depths: np.ndarray


@dataclass(frozen=True, kw_only=True)
class Path:
    """Per column of the lay's frame: centre row (px), half width (px), depth (µm)."""

    centre: np.ndarray
    half: np.ndarray
    depth: np.ndarray


def draw_grit(rng: np.random.Generator, ridged: float) -> Grit:
    """Edge, round nose, worn flat, or a row of points that leave parallel sub-grooves (in that share of grits)."""
    if rng.random() < ridged:
        count = int(rng.integers(3, 7))
        inner = np.sort(rng.uniform(-0.85, 0.85, count))
        depths = rng.uniform(0.3, 1, count)
        depths[rng.integers(count)] = 1
    else:
        flat = rng.uniform(0.05, 0.7)
        lean = rng.uniform(-0.3, 0.3)
        inner = np.clip(np.array([lean - flat, lean, lean + flat]), -0.9, 0.9)
        depths = np.array([rng.uniform(0.6, 1), 1, rng.uniform(0.6, 1)])
    return Grit(knots=np.concatenate([[-1], inner, [1]]), depths=np.concatenate([[0], depths, [0]]))


def smooth_line(rng: np.random.Generator, length: int, step_px: float) -> np.ndarray:
    """Slow random change along a path, unit spread."""
    count = int(length / step_px) + 3
    at = np.linspace(0, count - 1, length)
    return np.interp(at, np.arange(count), rng.standard_normal(count))


def draw_path(
    rng: np.random.Generator, length: int, row: float, width_px: float, depth_um: float, *, chatter: float, ends: float
) -> Path:
    """One stroke of one grit along the frame's columns; ends is the share of grits that enter or leave in the field."""
    x = np.linspace(-1, 1, length)
    centre = row + length * (rng.normal(0, 0.004) * x + rng.normal(0, 0.0015) * x * x)
    centre = centre + 0.05 * width_px * smooth_line(rng, length, max(20.0, 4 * width_px))
    swell = np.exp(0.12 * smooth_line(rng, length, max(30.0, 5 * width_px)))
    half = width_px / 2 * swell * np.exp(rng.uniform(0.02, 0.1) * smooth_line(rng, length, max(2.5, 0.2 * width_px)))
    centre = centre + rng.uniform(0, 0.05) * width_px * smooth_line(rng, length, max(3.0, 0.3 * width_px))
    depth = depth_um * swell * np.exp(0.1 * smooth_line(rng, length, max(15.0, 3 * width_px)))
    if chatter > 0:
        wave = np.sin(np.arange(length) * (2 * np.pi / rng.uniform(1, 5) / max(width_px, 8)) + rng.uniform(0, 6.3))
        depth = depth * (1 + chatter * wave)
    if rng.random() < 0.12:
        broken = np.clip((np.arange(length) - rng.uniform(0.15, 0.85) * length) / (0.6 * width_px + 4), 0, 1)
        left = rng.uniform(0.35, 0.7)
        side = rng.choice([-1, 1])
        centre = centre + side * broken * half * (1 - left)
        half = half * (1 - broken * (1 - left))
        depth = depth * (1 - broken * 0.4 * rng.random())
    if rng.random() < ends:
        start, stop = np.sort(rng.uniform(-0.3, 1.3, 2)) * length
        at = np.arange(length)
        slope = rng.uniform(4, 12) * width_px
        into = np.clip(np.minimum(at - start, stop - at) / slope, 0, 1)
        depth, half = depth * into, half * np.sqrt(np.maximum(into, 0.02))
    return Path(centre=centre, half=half, depth=depth)


def cut(groove: np.ndarray, burr: np.ndarray, grit: Grit, path: Path, burr_um: float) -> None:
    """Sweep the grit along the path: the surface keeps the lower of what was and what the grit leaves."""
    reach = 1.45 * path.half
    low = max(0, int(np.floor((path.centre - reach).min())))
    high = min(groove.shape[0], int(np.ceil((path.centre + reach).max())) + 1)
    if high <= low:
        return
    at = ((np.arange(low, high)[:, None] - path.centre) / path.half).astype(np.float32)
    swept = np.interp(at, grit.knots, grit.depths, left=0, right=0).astype(np.float32) * path.depth.astype(np.float32)
    band = groove[low:high]
    np.maximum(band, swept, out=band)
    if burr_um > 0:
        ridge = np.clip(1 - np.abs(np.abs(at) - 1.2) / 0.22, 0, 1)
        ridge *= burr_um * np.clip(path.depth / 2, 0, 1).astype(np.float32)
        edge = burr[low:high]
        edge[swept > 0] = 0
        ridge[band > 0.05] = 0
        np.maximum(edge, ridge, out=edge)
