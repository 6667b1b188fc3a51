"""Metal moved along the stroke: closures over grooves, and scuffing.

Metal moved along the stroke folds over the grooves, the deep ones most (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548).
A closure here covers a share of the groove's width, counted from the rim that the metal came from, as a function of the
place across the stroke: so tongues run along the stroke. Heights and greys of scuffing are from memory.
"""

import cv2
import numpy as np

from .geometry import Frame, grain, wander
from .grooves import Cut

CAP, BRIDGE, LIP, FLUSH, FOLD = range(5)


def closures(
    rng: np.random.Generator, frame: Frame, hone: Cut, depths_um: np.ndarray, width_um: float, amount: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Where displaced metal covers grooves, its height over the plateau, and lines on it (bright +, dark −)."""
    count, size = len(depths_um), frame.table_size
    pixels = width_um / frame.pixel_um
    kinds = rng.choice(5, count, p=rng.dirichlet([0.8] * 5))
    length = np.choose(kinds, [1.2, 0.35, 2.5, 2.0, 1.0]) * rng.uniform(0.6, 1.8)
    share = np.clip(amount * np.exp(rng.normal(0, 0.6, count)) * (depths_um / depths_um.mean()) ** 0.4, 0, 0.95)
    bands = wander(rng, size, rng.uniform(2, 8) * pixels) * rng.uniform(0, 1.0)
    closed = np.zeros((count, size), np.float32)
    for kind in range(5):
        rows = kinds == kind
        if rows.any():
            own = wander(rng, (rows.sum(), size), pixels * length[rows][0]) + bands
            limit = np.array([np.quantile(row, 1 - part) for row, part in zip(own, share[rows], strict=True)])
            closed[rows] = (own - limit[:, None]) * rng.uniform(3, 12)
    closed += 0.25 * wander(rng, (count, size), rng.uniform(0.03, 0.2) * pixels) * (closed > -0.5)
    most = np.where(kinds == LIP, rng.uniform(0.3, 0.8, count), 1.2)[:, None]
    closed = np.minimum(closed, most + 0.1 * wander(rng, (count, size), 3) * (most < 1))
    swerve_um = np.float32(rng.uniform(0, 0.12) * width_um)
    across_um = frame.across(frame.stroke_rad) + swerve_um * grain(
        rng, frame, frame.stroke_rad, width_um / 2, width_um / 3
    )
    step = np.clip(frame.steps(across_um), 0, size - 1)
    line, number = hone.line >= 0, np.maximum(hone.line, 0)
    from_rim = np.where(rng.random(count) < rng.choice([0.0, 0.5, 1.0]), 1, 0)[number]
    share_of_width = np.abs(from_rim - hone.share)
    cover = line & (closed[number, step] > share_of_width)
    kind_map = np.where(cover, kinds[number], -1)
    crown = np.array([0.15, 0.1, 0.25, 0.0, 0.2]) * rng.uniform(0, 1.5)
    sag = np.array([0.25, 0.3, 0.2, 0.0, 0.2]) * rng.uniform(0, 1.2)
    arch = 4 * hone.share * (1 - hone.share)
    height = np.where(cover, crown[kind_map] - sag[kind_map] * arch, 0)
    crack_place = rng.uniform(0.3, 0.95, (count, 1)) + 0.12 * wander(rng, (count, size), 8)
    off_crack = np.abs(share_of_width - crack_place[number, step]) * pixels
    cracks = (kind_map == FOLD) & (off_crack < 1.0)
    if rng.random() < 0.5:
        cracks |= (kind_map == FOLD) & (np.abs(wander(rng, (count, size), pixels / 2)[number, step]) < 0.06)
    return cover, height.astype(np.float32), cracks * np.float32(-1) + (kind_map == FLUSH) * np.float32(2)


def scuffing(rng: np.random.Generator, frame: Frame, area: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Bands along the stroke up to an area share: where, height (ploughed, torn, picked up), grey of torn patches."""
    u, v = frame.along(frame.stroke_rad), frame.across(frame.stroke_rad)
    side, px, stroke = min(frame.x.shape) * frame.pixel_um, frame.pixel_um, frame.stroke_rad
    where, ragged = np.zeros(u.shape, bool), grain(rng, frame, stroke, 30 * px, 5 * px)
    for _ in range(12):
        middle, reach = rng.uniform(-0.5, 0.5, 2) * side, rng.uniform(0.3, 1.5) * side
        half = max(side * area * rng.uniform(0.15, 0.6), 5 * px)
        taper = np.sqrt(np.clip(1 - ((u - middle[0]) / reach) ** 2, 0, 1))
        streak = np.abs(v - middle[1]) < half * taper * (1 + 0.25 * ragged)
        if where.any() and (where | streak).mean() > area * 1.3:
            break
        where |= streak
    strength, mix = np.exp(rng.uniform(np.log(0.35), np.log(1.5))), rng.dirichlet([0.7] * 3)
    wide = rng.uniform(2.5, 7) * px
    ploughed = grain(rng, frame, stroke, 25 * wide, wide / 2)
    patches = grain(rng, frame, stroke, rng.uniform(2, 5) * wide, wide)
    patches += 0.4 * grain(rng, frame, stroke, 3 * px, 2 * px)
    torn, lumps = np.maximum(patches - 0.3, 0), 1 / (1 + np.exp(-8 * (-patches - 0.6)))
    uneven = np.clip(1 + 0.5 * grain(rng, frame, stroke, 40 * wide, 3 * wide), 0.3, 2)
    unit = max(1.0, px) * strength * uneven
    height = unit * (0.5 * mix[0] * ploughed - 1.2 * mix[1] * torn + 1.2 * mix[2] * lumps)
    rim = where - cv2.blur(where.astype(np.float32), (9, 9))
    sign, level = rng.choice([-1, 1], 2) * (0.5, rng.uniform(0.1, 0.6))
    grey = strength * (sign * np.minimum(torn, 1.5) + 0.4 * lumps * mix[2] + level)
    return where, (height + unit * np.maximum(rim, 0)).astype(np.float32), grey.astype(np.float32)
