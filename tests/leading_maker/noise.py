"""Noise with a direction, noise along a line, blur and a smooth step; lengths in pixels."""

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter1d

F = np.float32


def blur(a: np.ndarray, sigma: float) -> np.ndarray:
    """Blur (rows, cols) by a Gaussian of ``sigma`` px, mirrored at the border."""
    return cv2.GaussianBlur(a, (0, 0), float(max(sigma, 0.25)), borderType=cv2.BORDER_REFLECT)


def noise(rng: np.random.Generator, shape: tuple[int, int], angle: float, along: float, across: float) -> np.ndarray:
    """Return unit-variance noise (rows, cols) with correlation lengths in px along and across the direction ``angle``
    (radians, from x to y)."""
    rows, cols = shape
    # A finer grid, smoothed, so that no lattice shows.
    fa, fc = along / 1.7 >= 1.2, across / 1.7 >= 1.2
    along, across = max(along / (1.7 if fa else 1), 1.0), max(across / (1.7 if fc else 1), 1.0)
    diag = float(np.hypot(rows, cols))
    n_a, n_c = int(diag / along) + 8, int(diag / across) + 8
    grid = rng.standard_normal((n_c, n_a), dtype=F)
    if fa or fc:
        size = (5 if fa else 1, 5 if fc else 1)
        grid = cv2.GaussianBlur(grid, size, sigmaX=0.9, sigmaY=0.9, borderType=cv2.BORDER_REFLECT_101)
    c, s = np.cos(angle), np.sin(angle)
    m = np.array([[c / along, s / along, 0.0], [-s / across, c / across, 0.0]])
    m[:, 2] = np.array([n_a / 2, n_c / 2]) - m[:, :2] @ np.array([cols / 2, rows / 2]) + rng.uniform(-0.5, 0.5, 2)
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    out = cv2.warpAffine(grid, m, (cols, rows), flags=flags, borderMode=cv2.BORDER_REFLECT)
    return (out / (out.std() + 1e-6)).astype(F)


def line_noise(rng: np.random.Generator, n: int, sigma: float) -> np.ndarray:
    """Return (n,) noise of one variable, correlated over ``sigma`` px; its scale is fixed, so that a short line may stay
    nearly constant."""
    a = gaussian_filter1d(rng.standard_normal(n + 8), max(sigma, 0.5), mode="reflect")[4 : n + 4]
    return a * np.sqrt(2 * np.sqrt(np.pi) * max(sigma, 0.5))


def smooth(x: np.ndarray, lo: float, hi: float) -> np.ndarray:
    """Return the cubic step from 0 at ``lo`` to 1 at ``hi``."""
    t = np.clip((x - lo) / (hi - lo), 0, 1)
    return t * t * (3 - 2 * t)
