"""Families of hone grooves, each groove known by its middle line, half width, depth and cross-section."""

from dataclasses import dataclass

import numpy as np

from .ground import Frame, smoothstep, wander

SAMPLES = 480
LIMIT_UM = 0.5


@dataclass
class Lay:
    """Grooves of one direction; tables have a row a groove and a column a place along it (µm)."""

    angle_deg: float
    middle: np.ndarray
    half: np.ndarray
    depth: np.ndarray
    steep: np.ndarray
    wall: np.ndarray
    lines: np.ndarray


@dataclass
class Traced:
    """What each pixel of a field knows about the groove of one lay on or beside it."""

    groove: np.ndarray  # number of the groove, -1 where there is none near
    side: np.ndarray  # −1 … 1 across the groove, beyond that on its rims
    along: np.ndarray  # column of the tables, a fraction
    half: np.ndarray  # µm
    depth: np.ndarray  # µm below the plateau, 0 outside


def _middles(rng: np.random.Generator, extent: float, pitch: float, manner: str) -> np.ndarray:
    count = max(7, round(2 * extent / pitch))
    if manner == "even":
        return (np.arange(count) + 0.5 + rng.normal(0, 0.18, count)) * 2 * extent / count - extent
    if manner == "bunched":
        nests = rng.uniform(-extent, extent, max(2, count // 4))
        return rng.choice(nests, count) + rng.normal(0, 0.9 * pitch, count)
    return rng.uniform(-extent, extent, count)


def cut_lay(rng: np.random.Generator, frame: Frame, finish: dict, angle_deg: float, share: float) -> Lay:
    """Draw the grooves of one lay; share is the part of the ground they should take."""
    extent = frame.half_um
    widest = 0.085 * frame.pixel_um * min(frame.rows, frame.cols)
    middle_width = np.clip(finish["width_um"], 4.5 * frame.pixel_um, widest)
    start = _middles(rng, extent, middle_width / max(share, 0.01), finish["manner"])
    count = len(start)
    width = middle_width * np.exp(rng.normal(0, finish["width_spread"], count))
    width = np.clip(width, 3.2 * frame.pixel_um, widest)
    depth = finish["depth_um"] * np.exp(rng.normal(0, 0.4, count)) * (width / middle_width) ** 0.5
    depth = np.clip(depth, 0.85, np.minimum(10.0, 0.45 * width + 0.4))
    faint = rng.random(count) < finish["faint_share"]
    faint[rng.permutation(count)[: max(4, count // 3)]] = False
    depth[faint] = rng.uniform(0.08, 0.33, int(faint.sum()))
    width[faint] = np.clip(0.6 * width[faint], 2.2 * frame.pixel_um, 9.0)

    u = np.linspace(-extent, extent, SAMPLES, dtype=np.float32)
    middle = start[:, None] + finish["bow"] * (u[None, :] / extent) ** 2 * extent
    middle = middle + (width * finish["waver"])[:, None] * wander(rng, count, SAMPLES, 7)
    half = 0.5 * width[:, None] * np.exp(finish["swell"] * wander(rng, count, SAMPLES, 9))
    deep = depth[:, None] * np.exp(0.12 * wander(rng, count, SAMPLES, 16))
    for i in np.flatnonzero(rng.random(count) < finish["end_share"]):
        at = rng.uniform(-0.7, 0.7) * extent
        near = np.sign(rng.uniform(-1, 1)) * (u - at)
        if rng.random() < 0.4:  # a gap where the stone jumped
            near = np.abs(u - at) - rng.uniform(1, 5) * width[i]
        gone = smoothstep(near, -0.6 * width[i], 1.4 * width[i])
        half[i] *= 0.25 + 0.75 * gone
        deep[i] *= smoothstep(gone, 0.0, 0.35)
    for i in np.flatnonzero(rng.random(count) < finish["fork_share"]):
        j = int(rng.integers(count))
        at = rng.uniform(-0.6, 0.6) * extent
        apart = np.maximum(u - at, 0) * np.tan(np.deg2rad(rng.uniform(-6, 6)))
        middle[j] = middle[i] + apart
        deep[j] *= smoothstep(u, at, at + width[i])
    steep = rng.uniform(1.4, 3.2, count)
    wall = rng.uniform(0.25, 1.0, count)
    # The 0.5 µm contour stays within about a pixel or half a µm of the rim.
    seen = max(0.5, 0.7 * frame.pixel_um)
    part = 1 - (1 - np.clip(LIMIT_UM / np.maximum(depth, 0.6), 0, 0.95)) ** (1 / steep)
    wall = np.minimum(wall, seen / np.maximum(part * 0.5 * width, 1e-3))
    wall = np.maximum(wall, 0.04)
    lines = np.abs(wander(rng, count, 128, int(rng.integers(6, 40)))) * rng.uniform(0.02, 0.4, (count, 1))
    order = np.float32
    return Lay(
        angle_deg,
        middle.astype(order),
        half.astype(order),
        deep.astype(order),
        steep.astype(order),
        wall.astype(order),
        np.clip(lines, 0, 0.55).astype(order),
    )


def trace(lay: Lay, frame: Frame) -> Traced:
    """Look up, for every pixel, the groove of the lay it lies on (the deepest) or beside."""
    extent, pixel = frame.half_um, frame.pixel_um
    rows = int(2 * extent / pixel) + 2
    level = (np.arange(rows, dtype=np.float32) * pixel - extent)[:, None]
    owner = np.full((rows, SAMPLES), -1, np.int32)
    rank = np.full((rows, SAMPLES), -9.0, np.float32)
    for i in range(len(lay.middle)):
        reach = 1.9 * lay.half[i] + 2 * pixel
        low = int(np.clip((np.min(lay.middle[i] - reach) + extent) / pixel, 0, rows))
        high = int(np.clip((np.max(lay.middle[i] + reach) + extent) / pixel + 1, 0, rows))
        if high <= low:
            continue
        far = np.abs(level[low:high] - lay.middle[i]) / lay.half[i]
        mine = np.where(far < 1, lay.depth[i], np.where(far < 1.9, -far - (lay.depth[i] < 0.05) * 5, -9.0))
        better = mine > rank[low:high]
        rank[low:high][better] = mine[better]
        owner[low:high][better] = i

    u, v = frame.axes(lay.angle_deg)
    along = (u + extent) * ((SAMPLES - 1) / (2 * extent))
    row = np.clip(np.rint((v + extent) / pixel).astype(np.int32), 0, rows - 1)
    left = np.clip(along.astype(np.int32), 0, SAMPLES - 2)
    rest = along - left
    groove = owner[row, left]
    safe = np.maximum(groove, 0)

    def between(table: np.ndarray) -> np.ndarray:
        flat = safe * SAMPLES + left
        a = table.ravel()[flat]
        return a + rest * (table.ravel()[flat + 1] - a)

    half = between(lay.half)
    side = (v - between(lay.middle)) / half
    inward = np.clip((1 - np.abs(side)) / lay.wall[safe], 0, 1)
    section = 1 - (1 - inward) ** lay.steep[safe]
    bin_ = np.clip((side + 1) * 63.5, 0, 127).astype(np.int32)
    amount = between(lay.depth)
    ribs = lay.lines[safe, bin_] * np.clip(amount - 0.7, 0, None) * (inward >= 1)
    depth = np.where((groove >= 0) & (np.abs(side) < 1), amount * section - ribs, 0).astype(np.float32)
    return Traced(groove, np.where(groove >= 0, side, 9).astype(np.float32), along, half, depth)
