"""Honing: each pass of a stone leaves a bundle of parallel grooves.

The few strong grits of a stone recur in each of its passes at the same places, so bundles repeat with random gaps
(bands of grooves placed at random at two angles: Puente Leon, CIRP Annals 51, 2002, 503). A groove's section is a
hyperbola: a V with a nose radius, or nearly an arc where the nose is blunt. Single-stage honing leaves torn rims, brushed
or plateaued finishes hardly any. Finer stones leave faint marks along the same lays.
"""

import math
from dataclasses import dataclass

import numpy as np

from .recipe import Finish
from .roughness import line_roughness, roughness


@dataclass(frozen=True, kw_only=True)
class Groove:
    """One groove as cut: place across the lay, width and depth in um; nose: nose radius over half width."""

    place_um: float
    width_um: float
    depth_um: float
    nose: float


def open_part(groove: Groove) -> float:
    """Return the part of a groove's width that lies 0.5 um or more below the plateau."""
    nose = groove.nose
    rise = nose + (1 - 0.5 / groove.depth_um) * (math.sqrt(1 + nose**2) - nose)
    return math.sqrt(rise**2 - nose**2)


def stone_pass(rng: np.random.Generator, finish: Finish, start_um: float) -> list[Groove]:
    """Return the grooves of one pass of the stone, its edge at start_um; one grit in five doesn't bite this time."""
    pitch = finish.width_um * 7.0
    bite = float(np.exp(rng.normal(0, 0.14)))
    grooves = []
    for place, strength, sharpness in finish.grits:
        if rng.random() < 0.2:
            continue
        width = float(np.clip(finish.width_um * strength * bite, 5.0, 50.0))
        slope = finish.slope_deg[0] + sharpness * (finish.slope_deg[1] - finish.slope_deg[0])
        depth = float(np.clip(width / 2 * math.tan(math.radians(slope)), 1.0, 10.0))
        jitter = rng.normal(0, 0.03 * pitch)
        nose = float(np.clip(finish.nose * np.exp(rng.normal(0, 0.3)), 0.1, 2.0))
        grooves.append(Groove(place_um=start_um + place * pitch + jitter, width_um=width, depth_um=depth, nose=nose))
    return grooves


def passes(rng: np.random.Generator, finish: Finish, seen: np.ndarray, pixel_um: float, share: float) -> list[Groove]:
    """Return the grooves of as many passes, at random places, as cover this share of what is seen.

    seen: how much of the picture lies on each row of the lay's sheet.
    """
    span_um = seen.size * pixel_um
    taken = np.zeros(max(int(span_um * 4), 8), bool)
    weight = np.interp(np.arange(taken.size) / 4 / pixel_um, np.arange(seen.size), seen)
    weight /= weight.sum()
    grooves: list[Groove] = []
    cover = 0.0
    for _ in range(400):
        starts = rng.uniform(-7.0 * finish.width_um, span_um, 4)
        shares = [taken[max(int(at * 4 - 1), 0) : int((at + 7.0 * finish.width_um) * 4) + 2].mean() for at in starts]
        bundle = stone_pass(rng, finish, float(starts[int(np.argmin(shares))]))
        rng.shuffle(bundle)
        for groove in bundle:
            if cover >= share:
                return grooves
            half = groove.width_um / 2 * open_part(groove)
            low, high = max(int((groove.place_um - half) * 4), 0), int((groove.place_um + half) * 4)
            gain = float(weight[low:high][~taken[low:high]].sum()) if high > low else 0.0
            if gain > 0 and cover + gain < 1.1 * share + 0.004:
                taken[low:high] = True
                cover += gain
                grooves.append(groove)
    return grooves


def fine_cuts(rng: np.random.Generator, finish: Finish, span_um: float, pixel_um: float) -> list[Groove]:
    """Return shallow cuts of the many weak grits: too shallow to be valley, but seen in every picture."""
    count = rng.poisson(span_um / (finish.fine_gap_um + 3 * pixel_um))
    widths = np.clip(np.exp(rng.normal(0.9, 0.45, count)), 2.0 * pixel_um, 9.0)
    return [
        Groove(
            place_um=float(rng.uniform(0, span_um)), width_um=float(width), nose=float(rng.uniform(0.2, 1.5)),
            depth_um=float(rng.uniform(0.06, finish.fine_depth_um)),
        )
        for width in widths
    ]  # fmt: skip


def cut(
    rng: np.random.Generator, depth: np.ndarray, rim: np.ndarray, groove: Groove, finish: Finish, pixel_um: float
) -> None:
    """Cut one groove into a sheet whose columns run along the lay."""
    rows, cols = depth.shape
    half = groove.width_um / 2 / pixel_um * (1 + 0.07 * line_roughness(rng, cols, 45 / pixel_um))
    deep = groove.depth_um * (1 + 0.1 * line_roughness(rng, cols, 60 / pixel_um))
    place = groove.place_um / pixel_um + 0.035 * groove.width_um / pixel_um * line_roughness(rng, cols, 120 / pixel_um)
    if rng.random() < (0.07 if groove.depth_um >= 0.9 else 0.55):
        end, taper = rng.uniform(0, cols), rng.uniform(30, 120) / pixel_um
        away = (np.arange(cols) - end) * rng.choice([-1.0, 1.0]) / taper
        grip = np.clip(away, 0, 1) ** 0.7
        deep, half = deep * grip, half * (0.35 + 0.65 * grip)
    ridge = (0.9 + 0.05 * groove.width_um) / pixel_um
    low = max(int(place.min() - half.max() - 3 * ridge), 0)
    high = min(int(place.max() + half.max() + 3 * ridge) + 2, rows)
    if low >= high:
        return
    away = np.abs(np.arange(low, high, dtype=np.float32)[:, None] - place.astype(np.float32))
    across = away / np.maximum(half, 0.5).astype(np.float32)
    nose = groove.nose
    section = 1 - (np.sqrt(across**2 + nose**2) - nose) / (math.sqrt(1 + nose**2) - nose)
    np.maximum(depth[low:high], section * deep, out=depth[low:high])
    if finish.rim_um > 0.02:
        torn = (
            np.clip(line_roughness(rng, cols, 7 / pixel_um) + 0.5 * line_roughness(rng, cols, 1.5 / pixel_um), -0.6, 2)
            + 0.6
        )
        height = finish.rim_um * torn * np.exp(-(((away - half) / ridge - 0.7) ** 2) * 2) * np.minimum(deep / 1.5, 1)
        np.maximum(rim[low:high], height, out=rim[low:high])


def hone_lay(
    rng: np.random.Generator, shape: tuple[int, int], finish: Finish, share: float, seen: np.ndarray, pixel_um: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray, float]:
    """Return one lay's groove depth, rims and faint marks (um) on a sheet along it, and its groove length per area."""
    depth, rim = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    grooves = passes(rng, finish, seen, pixel_um, share)
    for groove in grooves + fine_cuts(rng, finish, shape[0] * pixel_um, pixel_um):
        cut(rng, depth, rim, groove, finish, pixel_um)
    ribs = roughness(rng, shape, 90 / pixel_um, max(0.75, 0.5 / pixel_um))
    ribs = 0.07 * np.clip(ribs, -2, 2)
    torn = roughness(rng, shape, max(0.9, 2.2 / pixel_um), max(0.8, 0.8 / pixel_um))
    patchy = np.clip(0.6 + 0.6 * roughness(rng, shape, 25 / pixel_um, 6 / pixel_um), 0, 2)
    depth *= 1 + ribs + finish.floor_roughness * torn * patchy
    marks = roughness(rng, shape, 70 / pixel_um, max(0.7, 0.6 / pixel_um))
    marks += 0.7 * roughness(rng, shape, 200 / pixel_um, max(0.9, 1.8 / pixel_um))
    marks = -(np.abs(marks) ** 1.3) * finish.marks_um + finish.marks_um
    return depth, rim, marks, len(grooves) / (shape[0] * pixel_um)
