"""The ground after the test: honed, finished, truncated, smeared over and scuffed, with the truth of every pixel.

Running-in takes the peaks first and the valleys last (common practice, no source), so wear is a truncation here. A valley is
open where it lies at least 0.5 µm below the plateau, smeared where moved metal closed such a place.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .geometry import Frame, grain
from .grooves import cut, hone_angle_deg, lays_rad, lines
from .moved import closures, scuffing

VALLEY_DEPTH_UM = 0.5


@dataclass(frozen=True)
class Surface:
    """Height over the plateau (µm), truth, and what the picture needs: covers, lines on them, scuff's grey, graphite."""

    frame: Frame
    height: np.ndarray
    codes: np.ndarray
    worn: np.ndarray
    lines: np.ndarray
    scuff: np.ndarray
    graphite: np.ndarray
    kind: str


def flakes(rng: np.random.Generator, frame: Frame) -> np.ndarray:
    """Lamellar graphite as short bent flakes of any direction, and pull-outs as ragged blobs; 0–1, no hone groove."""
    rows, cols = frame.x.shape
    drawn = np.zeros((rows, cols), np.uint8)
    mean, dense = rng.uniform(8, 60) / frame.pixel_um, rng.choice([0.0, 0.2, 0.6, 1.5], p=[0.3, 0.3, 0.3, 0.1])
    plump, ends = rng.uniform(0.02, 0.08), np.sin(np.linspace(0, np.pi, 14)) ** 0.6
    for _ in range(min(rng.poisson(dense * rows * cols / (1.5 * mean**2)), 200)):
        length, heading = (
            mean * np.exp(rng.normal(0, 0.5)),
            rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.25, 14)),
        )
        middle = np.cumsum(np.stack([np.cos(heading), np.sin(heading)], 1), 0) * length / 14 + rng.uniform(
            (0, 0), (cols, rows)
        )
        half = np.maximum(length * plump * ends * rng.uniform(0.5, 1.5, 14), 0.5)[:, None]
        normal = np.stack([-np.sin(heading), np.cos(heading)], 1)
        rim = np.concatenate([middle + half * normal, (middle - half * normal)[::-1]])
        if rng.random() < 0.15:
            angles = np.linspace(0, 2 * np.pi, 20)[:, None]
            ray = 0.25 * length * rng.uniform(0.3, 1) * rng.uniform(0.6, 1.2, (20, 1))
            rim = middle[0] + ray * np.concatenate([np.cos(angles), np.sin(angles) * rng.uniform(0.4, 1)], 1)
        cv2.fillPoly(drawn, [rim.astype(np.int32)], 255, cv2.LINE_AA)
    return drawn.astype(np.float32) / 255


def ground(rng: np.random.Generator, pixel_um: float, shape: tuple[int, int], tilt_deg: float = 0.0) -> Surface:
    """One field's surface with its truth."""
    frame = Frame.of(pixel_um, shape, float(rng.uniform(0, np.pi)), tilt_deg)
    side, stroke, px = min(shape) * pixel_um, frame.stroke_rad, pixel_um
    lays = lays_rad(rng, stroke, hone_angle_deg(rng))
    narrow = max(5 * px, min(2.5, side / 10))
    width_um = float(np.exp(rng.uniform(np.log(narrow), np.log(max(min(side / 8, 35), 1.3 * narrow)))))
    drawn = lines(rng, frame, lays, rng.uniform(0.1, 0.55), width_um)
    hone = cut(rng, frame, drawn)
    scratches = lines(rng, frame, lays, rng.choice([0.0, 0.1, 0.4, 1.2], p=[0.3, 0.3, 0.25, 0.15]), 3 * px)
    faint = np.minimum(cut(rng, frame, scratches).depth * rng.uniform(0.1, 0.5), 0.42)

    run = rng.random()
    worn = np.full(shape, run < 0.6)
    if run < 0.05:
        worn = frame.across(stroke) > side * rng.uniform(-0.3, 0.3) + side * 0.004 * grain(
            rng, frame, stroke, 40 * px, px
        )
    truncation = worn * np.float32(rng.uniform(0.05, 0.6) * min(1.5, np.median([each.depth_um for each in drawn])))
    valley_depth = np.maximum(hone.depth - truncation, 0)
    footprint = valley_depth >= VALLEY_DEPTH_UM

    marks = grain(rng, frame, stroke, rng.uniform(40, 300) * px, rng.uniform(0.8, 2.5) * px)
    marks_um = worn * np.float32(rng.uniform(0.01, 0.12)) + np.float32(rng.choice([0, 0.02]))
    roughness = grain(rng, frame, rng.choice(lays), rng.uniform(1, 12) * px, px) + grain(rng, frame, 0, 4 * px, 4 * px)
    roughness_um = np.exp(rng.uniform(np.log(0.005), np.log(0.12))) * np.where(worn, rng.uniform(0.2, 0.9), 1)
    height = roughness_um * roughness + marks_um * marks - np.maximum(faint - truncation / 2, 0) - valley_depth
    for _ in range(rng.poisson(1.5)):
        half, v = rng.uniform(0.7, 2.5) * px, np.abs(frame.across(stroke) - rng.uniform(-0.5, 0.5) * side)
        height -= np.maximum(1 - v / half, 0) * rng.uniform(0.1, 1.0)

    low, high = [(0, 0), (0, 0.1), (0.1, 0.4), (0.3, 0.95)][rng.choice(4, p=[0.05, 0.15, 0.35, 0.45])]
    amount = min(rng.uniform(low, high), 0.22 / max(footprint.mean(), 0.01))
    traces, smeared = np.zeros(shape, np.float32), np.zeros(shape, bool)
    if worn.any() and amount:
        depths = np.array([each.depth_um for each in drawn])
        cover, cover_height, traces = closures(rng, frame, hone, depths, width_um, amount)
        smeared = cover & footprint & worn
        flat = cover & worn
        height = np.where(flat, cover_height + 0.5 * roughness_um * roughness + marks_um * marks, height)
        outline = cv2.morphologyEx(footprint.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
        sided = outline & (np.abs(hone.share - rng.choice([0.0, 1.0])) < rng.choice([0.5, 1.0]))
        rims = (traces > 1) * rng.choice([-0.8, 0.8]) * sided + (traces <= 1) * rng.normal(0, 0.35) * outline
        beside = cv2.dilate(smeared.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        traces = np.where(beside, np.minimum(traces, 0) + rims, 0)

    codes = np.zeros(shape, np.uint8)
    codes[footprint] = 1
    codes[smeared] = 2
    scuff = np.zeros(shape, np.float32)
    if worn.any() and rng.random() < 0.32:
        where, rise, grey = scuffing(rng, frame, rng.uniform(0.02, 0.3))
        where &= worn
        height = np.where(where, height * rng.uniform(0, 0.35) + rise, height)
        codes[where], scuff = 3, grey * where
        traces[where] *= 0.2
    graphite = flakes(rng, frame) * np.choose(codes, [1.0, 0.5, rng.choice([0.0, 0.3]), 0.0])
    height = height - graphite * rng.uniform(0, 0.8)
    kind = ("worn" if worn.all() else "bordered" if worn.any() else "unworn") + " scuffed" * bool((codes == 3).any())
    height, graphite = height.astype(np.float32), graphite.astype(np.float32)
    return Surface(frame, height, codes, worn, traces, scuff, graphite, kind)
