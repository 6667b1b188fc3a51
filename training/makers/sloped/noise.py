"""Random curves of one coordinate and random fields, all of unit or given deviation."""

from collections.abc import Callable

import cv2
import numpy as np

from .grid import Grid


def curve(rng: np.random.Generator, reach: float, step: float, scale: float) -> Callable[[np.ndarray], np.ndarray]:
    """Smooth random function of a coordinate from -reach to reach (µm), knots `step` µm apart, deviation about `scale`."""
    n = int(2 * reach / step) + 4
    at = np.linspace(-reach, reach, n)
    values = rng.standard_normal(n)
    values = np.convolve(values, (0.25, 0.5, 0.25), mode="same") * 1.6 * scale
    return lambda t: np.interp(t, at, values).astype(np.float32)


def grain(rng: np.random.Generator, grid: Grid, size: float) -> np.ndarray:
    """Isotropic noise (rows, cols) of unit deviation, blurred over `size` µm (0.7 pixels at least)."""
    sigma = max(size / grid.pixel, 0.7)
    shrink = max(1, int(sigma / 2))
    rows, cols = (n // shrink + 3 for n in grid.shape)
    noise = cv2.GaussianBlur(rng.standard_normal((rows, cols), dtype=np.float32), (0, 0), sigma / shrink)
    noise /= noise.std() + 1e-6
    if shrink > 1:
        noise = cv2.resize(noise, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_LINEAR)
    return noise[: grid.shape[0], : grid.shape[1]]


def streaky(rng: np.random.Generator, grid: Grid, deg: float, across: float, length: float) -> np.ndarray:
    """Noise (rows, cols) of unit deviation drawn out over `length` µm along the direction `deg`, `across` µm wide."""
    rows, cols = grid.shape
    side = int(np.hypot(rows, cols)) + 4
    squeeze = max(1, int(length / grid.pixel / 3))
    noise = rng.standard_normal((side, side // squeeze + 4), dtype=np.float32)
    along_px, across_px = max(length / grid.pixel / squeeze, 0.8), max(across / grid.pixel, 0.7)
    noise = cv2.GaussianBlur(noise, (0, 0), sigmaX=along_px, sigmaY=across_px)
    noise /= noise.std() + 1e-6
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    back = np.array([[c / squeeze, s / squeeze, 0], [-s, c, 0]], dtype=np.float64)
    back[:, 2] = np.array([noise.shape[1] / 2, side / 2]) - back[:, :2] @ np.array([cols / 2, rows / 2])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(noise, back, (cols, rows), flags=flags, borderMode=cv2.BORDER_REFLECT)
