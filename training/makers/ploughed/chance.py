"""Draws that every step uses: values over decades, and rough maps of a given grain."""

import cv2
import numpy as np


def decades(rng: np.random.Generator, low: float, high: float) -> float:
    """Log-uniform between low and high, in their unit; low where the range is empty."""
    return float(low) if high <= low else float(np.exp(rng.uniform(np.log(low), np.log(high))))


def rough(rng: np.random.Generator, shape: tuple[int, int], grain_px: tuple[float, float]) -> np.ndarray:
    """Map of mean 0 and spread 1 (no unit) whose bumps are grain_px long, rows then columns, in pixels."""
    rows, columns = (max(1.0, float(grain)) for grain in grain_px)
    small = rng.standard_normal((int(shape[0] / rows) + 4, int(shape[1] / columns) + 4), dtype=np.float32)
    if rows == columns == 1:
        return small[: shape[0], : shape[1]]
    shift = rng.uniform(0.5, 2.0, 2)
    scale = np.float32([[1 / columns, 0, shift[0]], [0, 1 / rows, shift[1]]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    map_ = cv2.warpAffine(small, scale, (shape[1], shape[0]), flags=flags, borderMode=cv2.BORDER_REFLECT)
    return (map_ - map_.mean()) / max(float(map_.std()), 1e-6)


def line(rng: np.random.Generator, length: int, grain_px: float) -> np.ndarray:
    """One row of `rough`."""
    return rough(rng, (1, length), (1, grain_px))[0]
