"""What the ring does short of scuffing: it cuts the plateau down, scratches it along the stroke, burnishes it, leaves films,
and folds metal over grooves (Dimkovski, Ohlsson, Rosen, Wear 271 (2011) 548: folds smear and interrupt grooves). Metal moves
along the stroke, so a fold starts at the rim that the ring crosses first and ends ragged on the far side."""

from dataclasses import dataclass

import cv2
import numpy as np

from .frame import Frame, Map, ramp, speckless


@dataclass
class Smear:
    """Closed groove footprint (bool), its height below the plateau (um, negative), cracks (0-1) and grey difference."""

    closed: Map
    level: Map
    crack: Map
    grey: Map


def smear(rng: np.random.Generator, frame: Frame, depth: Map, worn: Map) -> Smear:
    """Metal over grooves that are still deeper than 0.5 um after truncation; the share of footprint closed varies by field."""
    foot = (depth >= 0.5) & worn
    closed, crack = np.zeros(frame.shape, bool), np.zeros(frame.shape, np.float32)
    level, grey = np.full(frame.shape, -0.05, np.float32), np.zeros(frame.shape, np.float32)
    if rng.random() < 0.28 or foot.sum() < 200:
        return Smear(closed, level, crack, grey)
    width = max(6.0, 2.0 * float(np.percentile(cv2.distanceTransform(foot.astype(np.uint8), cv2.DIST_L2, 3)[foot], 90)))
    pixel = frame.pixel_um
    shy = 0.35 if rng.random() < 0.1 else 1.0
    for kind in rng.choice(["cap", "lip", "flap", "flush"], size=int(rng.integers(1, 4)), replace=False):
        share = rng.beta(1.0, 1.6) * 0.85
        side = frame.stroke + (np.pi if rng.random() < 0.5 else 0)
        along, across = width * rng.uniform(1.2, 5), width * rng.uniform(0.5, 1.8)
        if kind == "flush":
            along, across = frame.size * rng.uniform(0.3, 1.2), width * rng.uniform(0.6, 2.5)
        drive = frame.noise(rng, frame.stroke, along, across) + 0.35 * frame.noise(rng, frame.stroke, 8, 2.5)
        if kind == "lip":
            drive = ramp(drive, *np.sort(rng.uniform(-1.5, 2, 2)) + np.array([0, 0.2])) * width * rng.uniform(0.3, 0.8)
            new = foot & (frame.shifted(depth, side, drive) < 0.5) & (drive > 1)
        else:
            new = foot & (drive > np.quantile(drive[foot], 1 - share))
        new = speckless(new, 20)
        streaks = frame.noise(rng, frame.stroke, rng.uniform(15, 80), rng.uniform(1.3, 3))
        flush = kind == "flush"
        down = rng.uniform(0.01, 0.1) if flush else rng.uniform(0.03, 0.3)
        fill = -down - np.clip(rng.uniform(0.02, 0.2) * pixel * (0.4 if flush else 1) * streaks, -0.14, 0.14) * shy
        level = np.where(new, fill, level)
        tone = rng.choice([-1, 1]) * rng.uniform(0.05, 0.18) * shy * (0.7 if flush else 1)
        grey = np.where(new, tone * (1 + 0.4 * streaks), grey)
        inner = cv2.erode(new.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        rim = (new & ~inner).astype(np.float32)
        if kind == "flap":
            seam = np.abs(drive - np.quantile(drive[foot], 1 - share / 2)) < rng.uniform(0.04, 0.1)
            rim = np.maximum(rim, (seam & new).astype(np.float32))
        broken = ramp(frame.noise(rng, frame.stroke, 25, 12), -0.9, 0.6)
        crack = np.where(new, rim * broken * rng.uniform(0.3, 1) * shy * (0.6 if flush else 1), crack)
        closed |= new
    return Smear(closed, level.astype(np.float32), crack, grey.astype(np.float32))


def stroke_marks(rng: np.random.Generator, frame: Frame) -> Map:
    """Fine marks along the stroke and a few single scratches with side ridges (um): plateau, however dense."""
    marks = np.zeros(frame.shape, np.float32)
    pixel = frame.pixel_um
    if rng.random() < 0.75:
        fine = frame.noise(rng, frame.stroke, rng.uniform(60, 600), rng.uniform(1.2, 3))
        where = ramp(
            frame.noise(rng, frame.stroke, 500, rng.uniform(15, 120)), *((-1, 0.8) if rng.random() < 0.6 else (-9, -8))
        )
        marks += np.clip(rng.uniform(0.03, 0.3) * pixel * fine * where, -0.3, 0.3)
    if rng.random() < 0.4:
        # Bands of dense, strong marks: looks like scuffing, but the ground between and beneath is whole.
        strong = frame.noise(rng, frame.stroke, rng.uniform(40, 300), rng.uniform(1.5, 4))
        low = rng.uniform(-0.2, 1.2)
        where = ramp(frame.noise(rng, frame.stroke, 700, rng.uniform(12, 50)), low, low + rng.uniform(0.2, 0.8))
        marks += np.clip(rng.uniform(0.25, 0.6) * pixel * strong, -0.35, 0.35) * where
    if rng.random() < 0.5:
        marks += scratches(rng, frame, int(rng.integers(1, 12)))
    return marks


def scratches(rng: np.random.Generator, frame: Frame, count: int) -> Map:
    u, v = frame.axes(frame.stroke)
    out = np.zeros(frame.shape, np.float32)
    for _ in range(count):
        half = rng.uniform(0.8, 2.2)
        x = np.abs(v - rng.uniform(-0.5, 0.5) * frame.size - rng.uniform(-0.01, 0.01) * u) / np.float32(half)
        start = rng.uniform(-1, 0.5) * frame.reach
        run = ramp(u, start, start + 20) * (1 - ramp(u, start + rng.uniform(0.3, 2) * frame.size, frame.reach * 2.6))
        cut = np.clip(rng.uniform(0.2, 0.7) * half * frame.pixel_um, 0.05, 0.9)
        out += cut * run * (0.3 * np.exp(-((x - 1.5) ** 2) * 4) - np.exp(-x * x * 1.5))
    return out


def films(rng: np.random.Generator, frame: Frame) -> tuple[Map, Map]:
    """Grey factor of tribofilm bands and patches, and smoothing of the plateau (0-1) where it is burnished."""
    grey, polish = np.zeros(frame.shape, np.float32), np.zeros(frame.shape, np.float32)
    if rng.random() < 0.5:
        band = frame.noise(rng, frame.stroke, frame.size * rng.uniform(0.4, 3), rng.uniform(10, 70))
        band += 0.2 * frame.noise(rng, frame.stroke, 40, 4)
        low = rng.uniform(-0.5, 1)
        grey += rng.choice([-1, 1]) * rng.uniform(0.06, 0.3) * ramp(band, low, low + rng.uniform(0.15, 1))
    if rng.random() < 0.2:
        # Film in small pads: a grainy band, whole underneath.
        grain = frame.noise(rng, frame.stroke, rng.uniform(4, 14), rng.uniform(2.5, 6))
        low = rng.uniform(-0.3, 1)
        where = ramp(
            frame.noise(rng, frame.stroke, frame.size * rng.uniform(0.3, 2), rng.uniform(15, 60)), low, low + 0.5
        )
        grey -= rng.uniform(0.08, 0.3) * where * ramp(grain, -0.6, 0.6)
    if rng.random() < 0.4:
        polish = ramp(frame.noise(rng, frame.stroke, frame.size * 1.5, rng.uniform(15, 80)), -0.3, 0.3) * rng.uniform(
            0.5, 1
        )
        grey += rng.uniform(-0.1, 0.1) * polish
    return grey, polish
