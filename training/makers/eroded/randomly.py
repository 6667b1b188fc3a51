"""Draws and random maps that the other modules share."""

import cv2
import numpy as np


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def wandering(rng: np.random.Generator, length: int, scale_px: float) -> np.ndarray:
    """A curve of mean 0 and standard deviation near 1 that wanders over scale_px pixels."""
    knots = rng.standard_normal(int(length / max(scale_px, 1.0)) + 4)
    shift = rng.uniform(0, 1)
    at = shift + np.arange(length) / max(scale_px, 1.0)
    before = at.astype(int)
    share = at - before
    share = share * share * (3 - 2 * share)
    return 1.2 * (knots[before] * (1 - share) + knots[before + 1] * share)


def cloud(rng: np.random.Generator, shape: tuple[int, int], along_px: float, across_px: float) -> np.ndarray:
    """float32 map of mean 0 and standard deviation near 1; lumps along_px long down the rows, across_px along a row."""
    rows, cols = shape
    small = (max(int(rows / max(along_px, 1)), 1) + 4, max(int(cols / max(across_px, 1)), 1) + 4)
    lumps = rng.standard_normal(small, dtype=np.float32)
    # The cut at a random place keeps the lattice of lumps from lying alike in every field.
    step = (max(along_px, 1.0), max(across_px, 1.0))
    move = np.array(
        [[1 / step[1], 0, rng.uniform(0.6, 1.6)], [0, 1 / step[0], rng.uniform(0.6, 1.6)]], dtype=np.float64
    )
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    return 1.25 * cv2.warpAffine(lumps, move, (cols, rows), flags=flags, borderMode=cv2.BORDER_REFLECT)


def brushed(
    rng: np.random.Generator, shape: tuple[int, int], direction_deg: float, along_px: float, across_px: float
) -> np.ndarray:
    """As cloud, lumps along_px long in a direction (degrees from the row, anticlockwise as seen) and across_px wide."""
    rows, cols = shape
    along, across = max(along_px, 1.0), max(across_px, 1.0)
    size = np.hypot(rows, cols)
    lumps = rng.standard_normal((int(size / across) + 6, int(size / along) + 6), dtype=np.float32)
    turn = np.radians(direction_deg)
    u, v = np.array([np.cos(turn), -np.sin(turn)]) / along, np.array([np.sin(turn), np.cos(turn)]) / across
    middle = np.array([cols / 2, rows / 2])
    start = np.array([lumps.shape[1], lumps.shape[0]]) / 2 - 0.5 + rng.uniform(-0.5, 0.5, 2)
    move = np.array([[u[0], u[1], start[0] - u @ middle], [v[0], v[1], start[1] - v @ middle]])
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    return 1.25 * cv2.warpAffine(lumps, move, (cols, rows), flags=flags, borderMode=cv2.BORDER_REFLECT)
