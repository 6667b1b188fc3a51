"""Random textures laid on any pair of coordinates, so that grain can follow stroke or lay. Lengths in µm."""

import cv2
import numpy as np


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """A number whose logarithm is evenly spread between low and high."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def frame(shape: tuple[int, int], pixel_size_um: float, angle_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Coordinates in µm from the picture's middle: along a line angle_deg from the row axis, and across it."""
    rows, cols = shape
    x = (np.arange(cols, dtype=np.float32) - cols / 2)[None, :] * np.float32(pixel_size_um)
    y = (np.arange(rows, dtype=np.float32) - rows / 2)[:, None] * np.float32(pixel_size_um)
    c, s = np.float32(np.cos(np.radians(angle_deg))), np.float32(np.sin(np.radians(angle_deg)))
    return x * c + y * s, y * c - x * s


def cloud(rng: np.random.Generator, along: np.ndarray, across: np.ndarray, lengths_um: tuple[float, float]) -> np.ndarray:
    """Noise of unit spread whose features are lengths_um long along and across; coordinates in µm."""
    span = float(np.hypot(np.ptp(along), np.ptp(across))) or 1.0
    # a finer grid than this would not be seen, since the pictures are no larger than 600 px a side
    step_u, step_v = (max(length, span / 1000) for length in lengths_um)
    u0, v0 = float(along.min()), float(across.min())
    grid = rng.standard_normal((int(np.ptp(across) / step_v) + 4, int(np.ptp(along) / step_u) + 4)).astype(np.float32)
    at_u = (along - u0) / step_u + rng.uniform(0, 1) + 0.5
    at_v = (across - v0) / step_v + rng.uniform(0, 1) + 0.5
    # cubic, because straight lines between grid points would put kinks into grooves; the factor restores the spread it loses
    return cv2.remap(grid, at_u.astype(np.float32), at_v.astype(np.float32), cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT) * 1.3


def fine(rng: np.random.Generator, shape: tuple[int, int], blur_px: float) -> np.ndarray:
    """Isotropic noise of unit spread, smoothed over blur_px pixels."""
    noise = cv2.GaussianBlur(rng.standard_normal(shape, dtype=np.float32), (0, 0), blur_px)
    return noise / (noise.std() + 1e-6)


def ramp(values: np.ndarray, low: float, high: float) -> np.ndarray:
    """0 below low, 1 above high, smooth between."""
    t = np.clip((values - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)
