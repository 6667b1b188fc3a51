"""What the ring did: where it ran, how much it took off, which grooves it closed and where it tore the metal."""

import cv2
import numpy as np

from .grooves import Relief
from .noise import log_uniform, spectral


def axes(shape: tuple[int, int], stroke: float) -> tuple[np.ndarray, np.ndarray]:
    """Distance along and across the stroke (radians) from the picture's middle, px."""
    y = np.arange(shape[0], dtype=np.float32)[:, None] - shape[0] / 2
    x = np.arange(shape[1], dtype=np.float32)[None, :] - shape[1] / 2
    c, s = np.float32(np.cos(stroke)), np.float32(np.sin(stroke))
    return x * c + y * s, y * c - x * s


def track(rng: np.random.Generator, shape: tuple[int, int], stroke: float) -> tuple[str, np.ndarray]:
    """Name of the zone and share of wear (0–1, worn from 0.5 up); a border runs along the stroke."""
    fate = rng.random()
    if fate < 0.4:
        return "unworn", np.zeros(shape, np.float32)
    if fate > 0.56:
        return "worn", np.ones(shape, np.float32)
    across = axes(shape, stroke)[1] * rng.choice([-1, 1])
    width = log_uniform(rng, 3, 0.2 * min(shape))
    across = across - rng.uniform(-0.3, 0.3) * min(shape) + 0.3 * width * spectral(rng, shape, 6, stretch=15, angle=stroke)
    return "border", np.clip(0.5 + across / width, 0, 1).astype(np.float32)


def _patch(rng: np.random.Generator, kind: str, size: float, turn: float) -> np.ndarray:
    """Outline of a closure about the origin, px: size is the groove's likely width, turn its angle in radians."""
    long, wide = size * log_uniform(rng, 0.6, 8), size * log_uniform(rng, 0.5, 2)
    if kind == "rectangle":
        points = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [long, 3 * size]
    elif kind == "ellipse":
        round_ = np.linspace(0, 2 * np.pi, 24, endpoint=False)
        points = np.stack([np.cos(round_) * (1 + rng.normal(0, 0.08, 24)) * long, np.sin(round_) * wide], axis=1)
    elif kind == "tongue":
        run = np.linspace(0, 1, 12)
        edge = wide * np.sqrt(1 - run**2) * (1 + 0.2 * np.sin(rng.uniform(2, 9) * run))
        points = np.concatenate([np.stack([run, edge], 1), np.stack([run, -edge], 1)[::-1]]) * [rng.choice([-2, 2]) * size, 1]
    else:
        points = np.array([[-1, -0.4], [1, -1], [1, 0.6], [-1, 1]]) * [40 * size * rng.random() + 3 * size, wide]
    c, s = np.cos(turn), np.sin(turn)
    return points @ np.array([[c, s], [-s, c]])


def close(rng: np.random.Generator, relief: Relief, footprint: np.ndarray, worn: np.ndarray, stroke: float) -> np.ndarray:
    """Share (0–1) to which moved metal fills the ground within the footprints; 0 off the track."""
    shape = footprint.shape
    filled = np.zeros(shape, np.float32)
    places = np.flatnonzero(footprint & worn)
    if places.size < 30:
        return filled
    goal = log_uniform(rng, 0.04, 0.9)
    size = 2 * float(np.percentile(cv2.distanceTransform(footprint.astype(np.uint8), cv2.DIST_L2, 3).ravel()[places], 90)) + 2
    kinds = rng.choice(["rectangle", "ellipse", "tongue", "strip", "irregular"], int(rng.integers(1, 4)), replace=False)
    if "irregular" in kinds:
        cloud = spectral(rng, shape, size * log_uniform(rng, 0.5, 4), stretch=log_uniform(rng, 1, 6), angle=stroke)
        part = goal if len(kinds) == 1 else goal * rng.uniform(0.2, 0.6)
        filled[cloud > np.quantile(cloud.ravel()[places[::7]], 1 - part)] = 1
    shapes = [kind for kind in kinds if kind != "irregular"]
    stamp = np.zeros(shape, np.uint8)
    for turn in range(90 if shapes else 0):
        if turn % 6 == 0 and filled.ravel()[places].mean() >= goal:
            break
        at = int(rng.choice(places))
        row, col = divmod(at, shape[1])
        kind = str(rng.choice(shapes))
        along = float(relief.lay.ravel()[at]) if kind in ("rectangle", "ellipse") else stroke
        outline = _patch(rng, kind, size, along) + [col, row]
        stamp[:] = 0
        cv2.fillPoly(stamp, [np.round(outline).astype(np.int32)], 1)
        if kind == "rectangle":
            stamp &= relief.name == relief.name.ravel()[at]
        share = 1.0 if rng.random() < 0.8 else rng.uniform(0.2, 0.8)
        filled[stamp > 0] = np.maximum(filled[stamp > 0], share)
    ragged = spectral(rng, shape, max(1.5, 0.15 * size))
    soft = cv2.GaussianBlur(filled, (0, 0), max(0.8, 0.08 * size))
    keep = (soft > 0.5 + rng.uniform(0, 0.2) * ragged).astype(np.uint8)
    keep = cv2.morphologyEx(keep, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0
    return np.where(keep & footprint & worn, np.minimum(np.maximum(filled, soft), 1), 0).astype(np.float32)


def scuff(rng: np.random.Generator, shape: tuple[int, int], pixel: float, worn: np.ndarray, stroke: float) -> np.ndarray:
    """Where adhesion tore the metal: streaks along the stroke within the track; pixel in µm, stroke in radians."""
    across = axes(shape, stroke)[1]
    rag = spectral(rng, shape, log_uniform(rng, 2, 8), stretch=log_uniform(rng, 4, 20), angle=stroke)
    length = spectral(rng, shape, log_uniform(rng, 10, 40), stretch=log_uniform(rng, 4, 20), angle=stroke)
    torn = np.zeros(shape, bool)
    heavy = rng.random() < 0.3
    for _ in range(int(rng.integers(3, 8) if heavy else rng.integers(1, 4))):
        width = float(np.clip(log_uniform(rng, 5, 150 if heavy else 60) / pixel, 6, (0.5 if heavy else 0.2) * min(shape)))
        gap = np.abs(across - rng.uniform(-0.5, 0.5) * min(shape)) / (width / 2)
        torn |= gap + rng.uniform(0.1, 0.35) * rag + rng.uniform(0, 0.5) * length < 1
    return cv2.morphologyEx((torn & worn).astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0
