"""Correlated random maps, all of zero mean and unit spread."""

import cv2
import numpy as np


def evened(values: np.ndarray) -> np.ndarray:
    """The same map with mean 0 and standard deviation 1."""
    mean, spread = cv2.meanStdDev(values)
    return (values - np.float32(mean[0, 0])) * np.float32(1 / max(spread[0, 0], 1e-9))


def grainy(rng: np.random.Generator, shape: tuple[int, int], size_px: float | tuple[float, float]) -> np.ndarray:
    """Gaussian noise of a correlation length along (rows, columns); lengths above 3 px are drawn coarse and enlarged."""
    lengths = (size_px, size_px) if np.isscalar(size_px) else size_px
    steps = [max(length / 1.5, 1.0) for length in lengths]
    coarse = [max(int(side / step) + 3, 4) for side, step in zip(shape, steps, strict=True)]
    values = rng.standard_normal(coarse, dtype=np.float32)
    blur = [1.2 if step > 1 else max(length / 1.5, 0.05) for step, length in zip(steps, lengths, strict=True)]
    values = cv2.GaussianBlur(values, (0, 0), sigmaX=blur[1], sigmaY=blur[0], borderType=cv2.BORDER_REFLECT)
    if coarse != list(shape):
        values = cv2.resize(values, (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR)
    return evened(values)


def between(rng: np.random.Generator, low: float, high: float) -> float:
    """One number, even in its logarithm, since lengths and strengths vary by factors."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def blurred(values: np.ndarray, sigma_px: float) -> np.ndarray:
    """Gaussian blur; a wide one is taken on a reduced map, where it costs little."""
    if sigma_px < 0.2:
        return values
    if sigma_px < 6:
        return cv2.GaussianBlur(values, (0, 0), sigma_px, borderType=cv2.BORDER_REFLECT)
    step = min(int(sigma_px / 2), 12)
    size = (max(values.shape[1] // step, 2), max(values.shape[0] // step, 2))
    small = cv2.resize(values, size, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), sigma_px / step, borderType=cv2.BORDER_REFLECT)
    return cv2.resize(small, (values.shape[1], values.shape[0]), interpolation=cv2.INTER_LINEAR)
