"""Smooth noise over an area and along a line, and the blur that all modules use; lengths in pixels."""

import cv2
import numpy as np


def blur(a: np.ndarray, sigma_px: float) -> np.ndarray:
    """Return ``a`` (rows, cols) under a Gaussian of ``sigma_px``, mirrored at the border."""
    return cv2.GaussianBlur(a, (0, 0), float(sigma_px), borderType=cv2.BORDER_REFLECT)


def smooth_noise(
    rng: np.random.Generator, shape: tuple[int, int], along_px: float, down_px: float
) -> np.ndarray:  # fmt: skip
    """Return noise of unit variance, (rows, cols) float32, correlated over ``along_px`` of a row and ``down_px`` of a column."""
    rows, cols = shape
    step_x, step_y = max(along_px, 1), max(down_px, 1)
    knots_y = max(4, int(np.ceil(rows / step_y)) + 3)
    knots_x = max(4, int(np.ceil(cols / step_x)) + 3)
    knots = rng.standard_normal((knots_y, knots_x)).astype(np.float32)
    size = (int(knots_x * step_x) + 1, int(knots_y * step_y) + 1)
    drawn = cv2.resize(knots, size, interpolation=cv2.INTER_CUBIC)
    top = int(rng.integers(0, max(1, drawn.shape[0] - rows + 1)))
    left = int(rng.integers(0, max(1, drawn.shape[1] - cols + 1)))
    drawn = drawn[top : top + rows, left : left + cols]
    if drawn.shape != (rows, cols):
        drawn = cv2.resize(drawn, (cols, rows))
    return drawn / (drawn.std() + 1e-6)


def wander(rng: np.random.Generator, length_px: int, every_px: float) -> np.ndarray:
    """Return a broken line through unit-normal knots, (length_px,) float32, one knot ``every_px``."""
    knots = max(4, int(length_px / every_px) + 3)
    places = np.linspace(0, knots - 1, length_px)
    return np.interp(places, np.arange(knots), rng.standard_normal(knots)).astype(np.float32)
