"""Other matter on and in the iron: graphite, pits, stains, debris with its shadow, charging."""

import cv2
import numpy as np

from .frame import Frame, smooth, spread, step


def graphite(rng: np.random.Generator, shape: tuple[int, int], pixel_um: float) -> np.ndarray:
    """Share (0-1) of flake graphite: bent flakes 15-120 µm long and 1-4 µm thick, in any direction (common practice)."""
    mask = np.zeros(shape, np.uint8)
    area = shape[0] * shape[1] * pixel_um**2
    length = spread(rng, 15, 120)
    count = int(np.clip(rng.poisson(area * spread(rng, 0.01, 0.08) / (length * 2.5)), 0, 160))
    for _ in range(count):
        joints = 7
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.35, joints))
        reach = length * np.exp(rng.normal(0, 0.4)) / joints / pixel_um
        at = rng.uniform(-20, np.array(shape[::-1]) + 20) + np.cumsum(reach * np.c_[np.cos(turn), np.sin(turn)], axis=0)
        for piece, share in enumerate((0.5, 0.9, 1.0, 1.0, 0.8, 0.4)):
            thick = max(1, round(spread(rng, 1.0, 4.0) * share / pixel_um))
            ends = np.round(8 * at[piece : piece + 2]).astype(int)
            cv2.line(mask, ends[0].tolist(), ends[1].tolist(), 255, min(thick, 40), cv2.LINE_AA, 3)
    soft = cv2.GaussianBlur(mask, (0, 0), 1.0).astype(np.float32) / 255
    return np.clip(soft * (1 + 0.3 * smooth(rng, shape, 3, 3)), 0, 1)


def pits(rng: np.random.Generator, shape: tuple[int, int], pixel_um: float) -> np.ndarray:
    """Depth (µm) of corrosion pits and pull-outs: round to ragged, steep, 1-12 µm wide, nowhere in lines."""
    size = max(2.5, spread(rng, 1, 12) / pixel_um / 2)
    here = 0.5 * smooth(rng, shape, 60, 60)
    rough = 0.25 * smooth(rng, shape, 2, 2)
    return spread(rng, 0.3, 2.5) * step(smooth(rng, shape, size, size) + here + rough, rng.uniform(2.0, 2.6), 3.4)


def stains(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Share (0-1) of oil and other stains: large, soft or with a drying edge."""
    size = spread(rng, 15, 120)
    cover = smooth(rng, shape, size, size) + 0.2 * smooth(rng, shape, 6, 6)
    level = rng.uniform(0.6, 1.6)
    stain = step(cover, level, level + spread(rng, 0.1, 0.8))
    if rng.random() < 0.3:
        stain = 0.4 * stain + 0.6 * np.exp(-(((cover - level) / 0.15) ** 2))
    return stain


def debris(rng: np.random.Generator, frame: Frame, dragged: bool) -> np.ndarray:
    """Height (µm) of loose particles, some dragged into lines along the stroke."""
    shape, px = frame.shape, frame.pixel_um
    mask = np.zeros(shape, np.uint8)
    pull = np.array([np.cos(frame.angle), np.sin(frame.angle)])
    for _ in range(rng.integers(1, 7)):
        at = rng.uniform(0, shape[::-1])
        row = rng.integers(3, 12) if dragged and rng.random() < 0.5 else 1
        for _ in range(row):
            radius = float(np.clip(spread(rng, 0.8, 10) / px, 2, 22 if row == 1 else 8))
            spot = at + pull * rng.uniform(-0.2, 0.2) * min(shape) * (row > 1) + rng.normal(0, 1.5, 2)
            turns = np.sort(rng.uniform(0, 2 * np.pi, 8))
            corners = spot + radius * rng.uniform(0.5, 1.1, (8, 1)) * np.c_[np.cos(turns), np.sin(turns)]
            cv2.fillPoly(mask, [np.round(8 * corners).astype(np.int32)], 255, cv2.LINE_AA, 3)
    return cv2.distanceTransform((mask > 127).astype(np.uint8), cv2.DIST_L2, 3) * px * spread(rng, 0.3, 1.0)
