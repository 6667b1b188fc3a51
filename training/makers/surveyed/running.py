"""Running-in: truncation, marks along the stroke, and metal that flows along the stroke over the grooves.

Running-in takes the peaks first, then the core, the valleys last (common practice). Folded metal interrupts grooves,
the deep ones most (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548). Closing is told as a front: metal comes from the
rim that the stroke meets first (or from both, since it reciprocates) and covers the groove as far as the load of its
stroke line carries it. Where the front stops short it's a lip, where it arrives it's a bridge or cap, and where it
meets the other rim or the other front a fold leaves a crack. A cap is seldom level: it lies 0–0.45 µm under the
plateau or slightly above.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .frames import Array, Frame, Rng, correlated, rough
from .honed import Honed

VALLEY_DEPTH_UM = 0.5


@dataclass
class Run:
    """Maps of the surface once run: depth (µm) of grooves before metal moved, and after; height (µm) of the surface; skin (-1 to 1), the grey that displaced metal has of its own."""

    depth: Array
    after: Array
    height: Array
    skin: Array


def stroke_marks(rng: Rng, frame: Frame) -> Array:
    """Heights (µm, at most 0) of fine wear marks along the stroke and of a few stronger scratches."""
    fine = frame.streaks(rng, rng.uniform(1.0, 2.5), rng.uniform(40, 900))
    marks = -rng.uniform(0.01, 0.12) * np.clip(fine + 0.5, 0, None)
    if rng.random() < 0.6:
        rare = frame.streaks(rng, rng.uniform(1.5, 4.0), rng.uniform(150, 900))
        marks -= np.minimum(rng.uniform(0.1, 0.5) * np.clip(rare - rng.uniform(1.4, 2.2), 0, None), 0.9)
    return marks


def closed_share(rng: Rng) -> float:
    """Share of the groove area that metal closes: little on most specimens, most of it on a few."""
    kind = rng.random()
    if kind < 0.2:
        return 0.0
    if kind < 0.45:
        return float(rng.uniform(0.01, 0.12))
    return float(rng.uniform(0.12, 0.55) if kind < 0.85 else rng.uniform(0.55, 0.92))


def _front(rng: Rng, honed: Honed, frame: Frame) -> tuple[Array, Array]:
    """How readily metal covers each pixel, and its way (0-1) from the rim that the front started at."""
    both = rng.random() < 0.3
    way = 1 - np.abs(honed.side) if both else (1 + honed.side * rng.choice([-1, 1])) / 2
    wide, long = honed.width_px * rng.uniform(0.6, 4.0), honed.width_px * rng.uniform(2.5, 14)
    load = frame.streaks(rng, max(wide, 5.0), max(long, 18.0))
    load += rng.uniform(0.1, 0.6) * correlated(rng, frame.shape, (min(frame.shape) / 2.5,) * 2)
    feather = frame.streaks(rng, max(2.5, wide * 0.12), max(8.0, honed.width_px * 0.8))
    lip = rng.choice([0.15, 0.6, 1.6]) * rng.uniform(0.6, 1.3)
    deep = rng.normal(0, 0.35) * np.minimum(honed.depth / 2.0, 2.0)
    return load + rng.uniform(0.08, 0.45) * feather - lip * way + deep, way


def _large(mask: Array, least: int) -> Array:
    """The mask without parts of fewer pixels."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    keep = stats[:, cv2.CC_STAT_AREA] >= least
    keep[0] = False
    return keep[labels]


def _spilt(rng: Rng, honed: Honed, frame: Frame, cover: Array) -> Array:
    """Film (0-1) of the metal that covers grooves, drawn out along the stroke past their rims."""
    reach = int(np.clip(honed.width_px * rng.uniform(0.1, 0.9), 1, 20))
    kernel = np.zeros((2 * reach + 1,) * 2, np.float32)
    along = np.array([np.cos(frame.angle), np.sin(frame.angle)]) * reach
    ends = [tuple(int(v) for v in np.round(reach + sign * along)) for sign in (1, -1)]
    cv2.line(kernel, *ends, 1.0, 1)
    spread = cv2.filter2D(cover.astype(np.float32), -1, kernel / kernel.sum())
    ragged = 0.35 * frame.streaks(rng, max(2.0, honed.width_px * 0.15), honed.width_px * 1.5)
    return np.maximum(np.clip((spread + ragged * (spread > 0.02)) * 2 - 0.3, 0, 1), cover)


def run(rng: Rng, honed: Honed, worn: Array, pixel: float) -> Run:
    """The honed field after the ring ran over its worn part."""
    frame = Frame(honed.depth.shape, honed.stroke)
    ran = cv2.GaussianBlur(worn.astype(np.float32), (0, 0), 2.0)
    cut = ran * (rng.uniform(0, 0.25) if rng.random() < 0.6 else rng.uniform(0.25, 1.2))
    depth = np.maximum(honed.depth - cut, 0)
    keep = 1 - ran * rng.uniform(0.35, 0.98)
    marks = stroke_marks(rng, frame)
    land = np.minimum(honed.texture, (1 - ran) * 9 + rng.uniform(0.0, 0.05)) * keep + ran * marks
    groove = np.clip(depth / VALLEY_DEPTH_UM, 0, 1)
    floor = rough(rng, depth.shape, np.clip(honed.width_px / 2, 3, 20), 3) * rng.uniform(0.03, 0.3)
    floor += honed.striae * rng.uniform(0.0, 0.16)
    height = land * (1 - groove) - depth + floor * groove * np.minimum(depth, 1.0)

    foot = (depth >= VALLEY_DEPTH_UM) & worn
    burnished = np.zeros(depth.shape, np.float32)
    if rng.random() < 0.3:  # bands that shine or wear a film, on land and caps alike
        bands = frame.streaks(rng, min(frame.shape) * rng.uniform(0.03, 0.2), 2 * frame.side)
        burnished = (1 - groove) * ran * rng.normal(0, 0.4) * np.clip(bands, 0, 1)
    share = closed_share(rng)
    if share == 0 or foot.sum() < 50:
        return Run(depth, depth, height, burnished.astype(np.float32))
    ready, way = _front(rng, honed, frame)
    cover = cv2.medianBlur((ready > np.quantile(ready[foot], 1 - share)).astype(np.uint8), 7) > 0
    cover &= (depth > 0.15) & worn
    cover = _large(cover, 16)
    level = rng.uniform(0.02, 0.34) + rng.uniform(0.02, 0.16) * frame.streaks(rng, honed.width_px, 2 * honed.width_px)
    sag = rng.uniform(0.2, 1.0)
    level = np.clip(level * (1 - sag + sag * 1.4 * 4 * way * (1 - way)) - 0.03, -0.08, 0.45)
    own = frame.streaks(rng, rng.uniform(1.2, 3), rng.uniform(8, 60)) * rng.uniform(0.01, 0.05)
    own += rough(rng, depth.shape, rng.uniform(4, 14), 3) * (rng.uniform(0.0, 0.11) if rng.random() < 0.7 else 0.0)
    own += marks * rng.uniform(0.4, 1.2)
    inside = cv2.distanceTransform(cover.astype(np.uint8), cv2.DIST_L2, 3)
    brim = np.exp(-(((inside - 1.5) / 1.5) ** 2)) * rng.uniform(0.0, 0.25)
    flap = -np.minimum(level, depth) + own + np.where(cover, brim, 0)
    crack = np.exp(-(((way - rng.uniform(0.8, 0.97)) * honed.width_px / rng.uniform(0.8, 1.6)) ** 2))
    seam = np.exp(-(((1 - np.abs(honed.side)) * honed.width_px / 2.4) ** 2))  # where the old rim shows through
    patchy = frame.streaks(rng, honed.width_px, 3 * honed.width_px)
    seam *= rng.uniform(0.0, 0.35) * max(1.0, pixel) * np.clip(0.6 + 0.5 * patchy, 0, 1.2)
    crack *= (
        rng.uniform(0, 1.2)
        * max(1.0, 0.7 * pixel)
        * np.clip(0.3 + frame.streaks(rng, honed.width_px, honed.width_px), 0, 1)
    )
    soft = cv2.GaussianBlur(
        cover.astype(np.float32), (0, 0), rng.uniform(0.6, float(np.clip(honed.width_px / 9, 0.9, 3)))
    )
    soft *= worn
    after = depth + (np.minimum(level, depth) - depth) * soft
    height = height * (1 - soft) + (flap - (crack + seam) * cover) * soft
    film = _spilt(rng, honed, frame, cover) * (1 - np.clip(after / VALLEY_DEPTH_UM, 0, 1) * ~cover)
    height += film * rng.uniform(0, 0.1) * np.clip(1 + frame.streaks(rng, 3.0, 2 * honed.width_px), 0, None)
    own_grey = 0.1 if rng.random() < 0.12 else rng.uniform(0.25, 1.0)
    own_grey *= 1 if rng.random() < 0.6 else -1
    skin = burnished + film * (own_grey + 0.25 * rough(rng, depth.shape, 2 * honed.width_px, 2))
    return Run(depth, after, height.astype(np.float32), cv2.GaussianBlur(skin.astype(np.float32), (0, 0), 0.8))
