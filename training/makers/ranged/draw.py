"""Random draws and cheap random maps that the other modules share."""

import cv2
import numpy as np


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(max(high, low)))))


def along(rng: np.random.Generator, length: int, step: float) -> np.ndarray:
    """Smooth noise of unit spread over `length` samples, with a knot every `step` samples."""
    knots = rng.standard_normal(int(length / step) + 3)
    return np.interp(np.arange(length) / step + rng.uniform(), np.arange(len(knots)), knots).astype(np.float32)


def clouds(rng: np.random.Generator, shape: tuple[int, int], step: float) -> np.ndarray:
    """Smooth noise of unit spread with a knot every `step` pixels."""
    grid = rng.standard_normal((int(shape[0] / step) + 3, int(shape[1] / step) + 3), dtype=np.float32)
    return cv2.resize(grid, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC) / 0.8


def streaks(rng: np.random.Generator, shape: tuple[int, int], direction_deg: float, length: float, width: float) -> np.ndarray:
    """Noise of unit spread drawn out along `direction_deg` (from +x towards +y); length and width of a streak in pixels."""
    rows, cols = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    cos, sin = (np.float32(f(np.deg2rad(direction_deg))) for f in (np.cos, np.sin))
    s, t = cols * cos + rows * sin, rows * cos - cols * sin
    t = (t - t.min()) / np.float32(max(width, 0.7))
    # Each strip is shifted by its own amount, or all streaks would end on common lines.
    lag = rng.uniform(0, 1.5, int(t.max()) + 3)
    fine = np.interp(np.arange(0, len(lag), 0.1), np.arange(len(lag)), lag).astype(np.float32)
    s = (s - s.min()) / np.float32(max(length, 1.0)) + fine[(t * 10).astype(np.int32)]
    table = rng.standard_normal((int(t.max()) + 3, int(s.max()) + 3), dtype=np.float32)
    return cv2.remap(table, s, t, cv2.INTER_LINEAR) / 0.67
