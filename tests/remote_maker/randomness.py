"""Random numbers from a seed, and correlated random processes along a line and over an area.

A Gaussian process is white noise passed through a Gaussian filter and scaled back to unit variance: the variance of
white noise after a filter of standard deviation s is 1/(2 s sqrt(pi)) along a line (follows from the integral of the
squared kernel).
"""

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter1d

Rng = np.random.Generator


def generator(seed: int, *keys: int) -> Rng:
    """Return the generator of one thing: the same seed and keys give the same numbers."""
    return np.random.default_rng([seed, *keys])


def log_uniform(rng: Rng, low: float, high: float) -> float:
    """Return a number whose logarithm is uniform between those of the limits."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def wander(rng: Rng, count: int, length: float) -> np.ndarray:
    """Return (count,) float32 of unit variance and mean 0, correlated over about ``length`` samples."""
    step = max(1.0, length / 4)
    coarse = int(np.ceil(count / step)) + 3
    sigma = max(length / step / 2, 0.3)
    pad = int(4 * sigma) + 2
    noise = gaussian_filter1d(rng.standard_normal(coarse + 2 * pad), sigma)[pad:-pad] * np.sqrt(
        2 * sigma * np.sqrt(np.pi)
    )
    if step == 1.0:
        return noise[:count].astype(np.float32)
    return np.interp(np.arange(count) / step, np.arange(coarse), noise).astype(np.float32)


def mottle(rng: Rng, shape: tuple[int, int], rows: float, columns: float) -> np.ndarray:
    """Return a float32 picture of unit variance, correlated over about ``rows`` by ``columns`` pixels.

    Long correlations are drawn on a coarse grid and enlarged smoothly.
    """
    steps = (max(1.0, rows / 4), max(1.0, columns / 4))
    small = tuple(int(np.ceil(side / step)) + 2 for side, step in zip(shape, steps, strict=True))
    sigmas = (max(rows / steps[0] / 2, 0.3), max(columns / steps[1] / 2, 0.3))
    noise = rng.standard_normal(small, dtype=np.float32)
    noise = cv2.GaussianBlur(noise, (0, 0), sigmaX=sigmas[1], sigmaY=sigmas[0], borderType=cv2.BORDER_REFLECT)
    noise = cv2.resize(noise, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    return noise / max(float(noise.std()), 1e-6)
