"""What the ring did: the track, the plateau worn lower, grooves closed by moved metal, streaks torn by adhesion."""

from dataclasses import dataclass

import cv2
import numpy as np

from .grain import between, canvas_side, cloud, step, turned
from .hone import Band

VALLEY_UM = 0.5
"""An open valley's ground lies at least this far below the local plateau (the mask codes' definition)."""


@dataclass(frozen=True)
class History:
    """worn: True in the track; lowered_um: plateau lost there, µm; smear, scuff: 0–1, how much metal moved;
    polish: 0–1, how far the plateau was burnished."""

    worn: np.ndarray
    lowered_um: float
    smear: float
    scuff: float
    polish: float
    name: str


@dataclass(frozen=True)
class Ground:
    """codes: the mask's 0–3; after_um: depth of grooves left, µm; lip_um: raised edges of folds; seam: 0–1, the line
    where moved metal meets the old rim; torn_um: ridges and craters of adhesion, µm; moved: 0–1, smooth moved metal."""

    codes: np.ndarray
    after_um: np.ndarray
    lip_um: np.ndarray
    seam: np.ndarray
    torn_um: np.ndarray
    moved: np.ndarray


def draw_history(rng: np.random.Generator, shape: tuple[int, int], stroke_deg: float) -> History:
    """Unworn in four fields of ten, else worn all over or, now and then, up to a border along the stroke."""
    worn = np.zeros(shape, bool)
    fate = rng.choice(["unworn", "border", "worn"], p=[0.4, 0.13, 0.47])
    if fate == "unworn":
        return History(worn, 0.0, 0.0, 0.0, 0.0, "unworn")
    worn[:] = True
    if fate == "border":
        turn = np.deg2rad(stroke_deg)
        down, right = np.indices(shape, dtype=np.float32)
        off = (right - shape[1] / 2) * np.sin(turn) + (down - shape[0] / 2) * np.cos(turn)
        worn = (off + rng.uniform(-0.25, 0.25) * min(shape)) * rng.choice([-1, 1]) > 0
    smear = rng.uniform(0.12, 0.9) if rng.random() < 0.6 else 0.0
    scuff = 0.0
    if rng.random() < 0.25:
        scuff = rng.uniform(0.4, 0.85) if rng.random() < 0.35 else between(rng, 0.05, 0.4)
    name = fate + ("-smeared" if smear else "") + ("-scuffed" if scuff else "")
    return History(worn, between(rng, 0.02, 0.7), smear, scuff, rng.uniform(0.3, 1), name)


def crumbled(rng: np.random.Generator, depth_um: np.ndarray, near: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Depth of a lay whose edges broke away where a flake left the iron without support."""
    reach = int(np.clip(between(rng, 0.8, 4) / pixel_size_um, 1, 9))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    bitten = cv2.dilate(depth_um, kernel) * rng.uniform(0.4, 0.9)
    bite = step(near - 0.45 + 0.3 * cloud(rng, depth_um.shape, max(1.5 / pixel_size_um, 1.5)), 0.1)
    return np.maximum(depth_um, bitten * bite)


def streaks(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float, stroke_deg: float, share: float):
    """True in streaks along the stroke over about the share of the field."""
    side = canvas_side(shape)
    width = float(np.clip(between(rng, 6, 60) / pixel_size_um, 12, 0.25 * min(shape)))
    value = cloud(rng, (side, side), width, width * between(rng, 6, 30)) + 0.13 * cloud(rng, (side, side), 3, 24)
    field = turned(value, stroke_deg, shape)
    return field > np.quantile(field, 1 - share)


def torn(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float, stroke_deg: float) -> np.ndarray:
    """Height in µm of torn metal: ridges drawn out along the stroke, broken across it, with craters."""
    side = canvas_side(shape)
    width = max(min(between(rng, 0.5, 5) / pixel_size_um, 9), 1.6)
    long = cloud(rng, (side, side), width, width * between(rng, 4, 14))
    broken = cloud(rng, (side, side), max(width * rng.uniform(0.4, 1.3), 1.3))
    ridged = 1 - np.abs(cloud(rng, (side, side), 2 * width, 7 * width))
    # Tongues end in steps across the stroke, where the metal broke away: a ramp along the stroke that drops at once.
    # Neighbours break at places of their own, so the ramp's phase jumps across the stroke and hardly along it.
    phase = 1.5 * cloud(rng, (side, side), width, 25 * width) + 0.12 * cloud(rng, (side, side), 0.6 * width)
    ramp = (np.arange(side, dtype=np.float32)[None] / (width * between(rng, 4, 12)) + phase) % 1
    # Torn metal is as steep whatever its scale: the height follows the width of its ridges.
    high_um = width * pixel_size_um * between(rng, 0.3, 0.9)
    return turned(high_um * (0.5 * long + between(rng, 0.1, 0.5) * broken + 0.5 * ridged + ramp), stroke_deg, shape)


def run(
    rng: np.random.Generator, bands: list[Band], near: np.ndarray, history: History, pixel_size_um: float, stroke_deg: float
) -> Ground:
    """The lays after the history. What the mask says follows from heights alone: before closing, and after."""
    shape = history.worn.shape
    soft_um = 0.35 * rng.random()
    residue = np.clip(soft_um * (0.6 + 0.4 * cloud(rng, shape, 4 / pixel_size_um)), 0, 0.45)
    before, after, lip = np.zeros(shape, np.float32), np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    high = between(rng, 0.1, 0.7)
    for band in bands:
        left = np.maximum(crumbled(rng, band.depth_um, near, pixel_size_um) - history.lowered_um * history.worn, 0)
        closed = (band.closing > 0) & history.worn
        lip = np.maximum(lip, high * closed * np.exp(-(((band.closing - 0.12) / 0.1) ** 2)) * (left > VALLEY_UM))
        before = np.maximum(before, left)
        after = np.maximum(after, np.where(closed, np.minimum(left, residue), left))
    codes = np.zeros(shape, np.uint8)
    codes[after >= VALLEY_UM] = 1
    shut = (before >= VALLEY_UM) & (after < VALLEY_UM)
    codes[shut] = 2
    inward = cv2.distanceTransform(shut.astype(np.uint8), cv2.DIST_L2, 3)
    line_px = max(between(rng, 0.2, 0.9) / pixel_size_um, 1.0)
    broken = np.clip(0.6 + cloud(rng, shape, max(5 / pixel_size_um, 8)), 0, 1)
    seam = shut * np.exp(-((np.minimum(inward / line_px, 5) - 1) ** 2)) * broken
    torn_um = np.zeros(shape, np.float32)
    if history.scuff:
        scuffed = streaks(rng, shape, pixel_size_um, stroke_deg, history.scuff) & history.worn
        codes[scuffed] = 3
        torn_um = torn(rng, shape, pixel_size_um, stroke_deg) * scuffed
        after, seam, lip = (np.where(scuffed, 0.15 * kept, kept) for kept in (after, seam, lip))
    moved = cv2.GaussianBlur(np.isin(codes, 2).astype(np.float32), (0, 0), 0.7)
    return Ground(codes, after, lip.astype(np.float32), seam.astype(np.float32), torn_um, moved)
