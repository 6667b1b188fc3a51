"""Torn streaks along the stroke and their relief."""

import cv2
import numpy as np

from .grid import Grid
from .noise import Line, blobs, streaks


def scuff_streaks(rng: np.random.Generator, grid: Grid, share: float) -> np.ndarray:
    """Streaks (rows, cols), 0 or 1, until they cover about `share` of the field (more where one of least width does)."""
    out = np.zeros(grid.shape, np.float32)
    span_p, span_q = grid.shape[1] * grid.pixel / 2, grid.shape[0] * grid.pixel / 2
    for _ in range(40):
        left = share - float(out.mean())
        if left < 0.004:
            break
        full = 2 * max(left, 0.02) * span_p
        width = float(np.clip(full * rng.uniform(0.5, 1.1), max(16, 30 * grid.pixel), max(80, 36 * grid.pixel)))
        at = rng.uniform(-0.95, 0.95) * span_p
        long = span_q * (rng.uniform(0.45, 1.4) if left > 0.05 else rng.uniform(0.3, 0.6))
        middle = rng.uniform(-0.7, 0.7) * span_q
        lengths = 35.0, max(4.0, 5 * grid.pixel), max(3.0, 4 * grid.pixel)
        edge, fray, tip = (Line(rng, grid.half, length) for length in lengths)
        away = np.abs(grid.p - at - 0.05 * width * edge(grid.q)) + max(0.5, 0.6 * grid.pixel) * fray(grid.q)
        ends = (long - np.abs(grid.q - middle) + 0.3 * width * tip(grid.p)) / (1.2 * width)
        half_width = width / 2 * np.clip(ends, 0, 1) ** 0.5
        out = np.maximum(out, ((away < half_width) & (ends > 0.05)).astype(np.float32))
    return out


def relief(rng: np.random.Generator, grid: Grid, scuffed: np.ndarray) -> np.ndarray:
    """Heights (rows, cols) in µm of torn ground: ridges along the stroke, tears, and what was ploughed up along the sides."""
    ridges = 0.6 * streaks(rng, grid, 3.5, 70.0) + 0.2 * blobs(rng, grid.shape, 4 / grid.pixel)
    tears = np.clip(streaks(rng, grid, 7.0, 14.0) - 1.1, 0, 1)
    brink = cv2.GaussianBlur(scuffed, (0, 0), max(1.2, 1.2 / grid.pixel))
    brink = scuffed * np.clip(2.2 * (1 - brink), 0, 1)
    return ridges - 1.1 * tears + 0.8 * brink
