"""Scuffing: streaks and bands along the stroke, torn, ploughed or with metal picked up by adhesion.

Roughened tracks along sliding begin and end raggedly; within, adhesion tears out cups and scales across the stroke,
hard transferred lumps plough furrows, and picked-up metal is smeared on as plates (common practice, no source).
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .frame import Frame, above_share, cloudy, streaky


@dataclass
class Scuff:
    """Where it is, its own heights in µm there, and how far it wipes out the ground beneath (0–1)."""

    where: np.ndarray
    height: np.ndarray
    wiped: float
    glow: np.ndarray
    kind: str


def scuffed(rng: np.random.Generator, frame: Frame, worn: np.ndarray, pixel_size_um: float) -> Scuff:
    kind = str(rng.choice(["torn", "ploughed", "picked-up"]))
    strong = rng.random() < 0.6
    ragged = 0.3 * streaky(rng, frame, 40, 5) + 0.12 * streaky(rng, frame, 12, 3)
    where = np.zeros(worn.shape, bool)
    short = min(worn.shape)
    middle = frame.across[worn]
    for _ in range(int(rng.integers(1, 5))):
        half = float(np.clip(rng.lognormal(np.log(14 / pixel_size_um), 0.7), 8, 0.14 * short))
        if rng.random() < 0.2:
            half = short * rng.uniform(0.08, 0.17)
        centre = float(middle[rng.integers(middle.size)]) if middle.size else 0.0
        length = frame.reach * rng.uniform(0.4, 2.5)
        start = rng.uniform(-frame.reach, frame.reach)
        nearness = 1 - np.abs(frame.across - centre) / half
        taper = (1 - np.abs(frame.along - start) / length) * 3
        where |= np.minimum(nearness, taper) + ragged > 0.15
        if where.mean() > 0.14:
            break
    where = cv2.medianBlur(cv2.morphologyEx(where.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((7, 7), np.uint8)), 7) > 0
    where = cv2.morphologyEx(where.astype(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5), np.uint8)) > 0
    where &= worn
    zoom = float(np.clip(0.55 / pixel_size_um, 1, 3))
    furrow = streaky(rng, frame, zoom * rng.uniform(40, 150), zoom * rng.uniform(2, 4)) + 0.6 * streaky(
        rng, frame, 200 * zoom, 7 * zoom
    )
    scale = streaky(rng, frame, zoom * rng.uniform(6, 14), zoom * rng.uniform(3, 7)) + 0.5 * cloudy(
        rng, worn.shape, 2.5 * zoom
    )
    if kind == "torn":
        height, glow = 0.3 * furrow + 0.8 * np.abs(scale) - 0.8, 0.35 * np.maximum(scale, 0)
    elif kind == "ploughed":
        height, glow = 0.75 * furrow + 0.15 * scale, 0.15 * furrow
    else:
        plates = streaky(rng, frame, 26 * zoom, 9 * zoom) + 0.3 * scale
        on = plates > above_share(plates, rng.uniform(0.3, 0.6))
        height, glow = 0.3 * furrow + np.where(on, 0.9 + 0.25 * scale, 0), np.where(on, 0.45, -0.1) + 0.1 * furrow
    size = rng.uniform(0.5, 0.9) if strong else rng.uniform(0.2, 0.45)
    size *= float(np.clip(pixel_size_um * 1.6, 0.3, 2.0))
    wiped = rng.uniform(0.7, 1.0) if strong else rng.uniform(0.45, 0.8)
    glow = (glow + rng.choice([-1, 1]) * rng.uniform(0.1, 0.35)) * (0.6 if strong else 0.35)
    return Scuff(where, (height * size).astype(np.float32), float(wiped), glow.astype(np.float32), kind)
