"""From signal to picture: beam blur, vibration, shot noise, charging, stains, debris, gain and gamma.

Electrons a pixel N = i t / e, so the signal's noise is its mean over the root of N.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .noise import smooth_noise, soft_step
from .specimen import Setting


@dataclass
class Shot:
    """Grey values in 0 to 1 and what must not be assessed."""

    grey: np.ndarray
    hidden: np.ndarray


def shot_noise(signal: np.ndarray, electrons: float, rng: np.random.Generator) -> np.ndarray:
    """Return the signal counted by electrons, their mean number at signal 1 given."""
    return (rng.poisson(np.clip(signal, 0, None) * electrons) / electrons).astype(np.float32)


def take(signal: np.ndarray, setting: Setting, specimen_seed: int, rng: np.random.Generator) -> Shot:
    """Return the picture of a signal."""
    steady = np.random.default_rng([specimen_seed, 5])
    contrast, level, gamma = steady.uniform(0.75, 1.35), steady.uniform(0.36, 0.56), steady.uniform(0.75, 1.3)
    signal = signal.copy()
    hidden = np.zeros(signal.shape, bool)
    if rng.random() < 0.35:
        signal += _stain(signal.shape, setting.pixel_um, rng)
    for _ in range(rng.poisson(0.7)):
        _debris(signal, hidden, setting.pixel_um, rng)
    spread = float(np.subtract(*np.percentile(signal, [95, 5])))
    middle = float(np.median(signal))
    ends = np.percentile(signal, [0.7, 99.3]) - middle
    whole = min(0.42 / max(spread, 0.12), 1.05 * level / -ends[0], 1.05 * (1 - level) / ends[1])
    gain = min(contrast * whole, 0.11 / np.sqrt(middle / setting.electrons))  # noise stays below about a ninth of white
    if rng.random() < 0.05:
        _charging(signal, hidden, rng)
    blur = setting.blur_px * (rng.uniform(1.5, 2.2) if rng.random() < 0.1 else 1.0)
    signal = cv2.GaussianBlur(signal, (0, 0), blur)
    if rng.random() < 0.12:
        signal = _jitter(signal, rng.uniform(0.2, 0.7), rng)
    signal = signal + _shading(signal.shape, rng)
    counted = shot_noise(signal, setting.electrons, rng)
    if rng.random() < 0.15:
        counted += rng.normal(0, rng.uniform(0.004, 0.012), (signal.shape[0], 1)).astype(np.float32)
    grey = level + gain * (counted - middle) * np.exp(rng.normal(0, 0.04)) + rng.normal(0, 0.012)
    return Shot(np.clip(grey, 0, 1) ** gamma, hidden)


def _stain(shape, pixel: float, rng) -> np.ndarray:
    """Return the grey of an oil or tribofilm patch, or of a burnt raster square, which hide nothing."""
    if rng.random() < 0.3:
        patch = np.zeros(shape, np.float32)
        row, col = (int(rng.uniform(0.1, 0.6) * size) for size in shape)
        patch[row : row + shape[0] // 4, col : col + shape[1] // 4] = 1
        return -rng.uniform(0.02, 0.06) * cv2.GaussianBlur(patch, (0, 0), 2)
    size = rng.uniform(15, 60) / pixel
    return -rng.uniform(0.03, 0.09) * soft_step(smooth_noise(shape, size, size, rng), 0.9, 1.5)


def _shading(shape, rng) -> np.ndarray:
    y, x = np.mgrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j]
    slope = rng.normal(0, 0.02, 2)
    return (slope[0] * x + slope[1] * y + rng.normal(0, 0.008) * (x * x + y * y)).astype(np.float32)


def _debris(signal: np.ndarray, hidden: np.ndarray, pixel: float, rng) -> None:
    """Lay a loose particle, bright at its edges, with a faint shadow beside it."""
    radius = float(np.clip(np.exp(rng.normal(np.log(4), 0.5)) / pixel, 4, 60))
    size = int(2.2 * radius) + 4
    rows, cols = signal.shape
    if min(rows, cols) <= 2 * size + 3:
        return
    row, col = rng.integers(size, rows - size), rng.integers(size, cols - size)
    y, x = np.mgrid[-size:size, -size:size].astype(np.float32)
    lumps = smooth_noise(x.shape, radius / 2.5, radius / 2.5, rng)
    facets = smooth_noise(x.shape, radius / 7 + 0.6, radius / 7 + 0.6, rng)
    out = np.hypot(x, y * rng.uniform(0.7, 1.4)) / radius - 0.3 * lumps - 0.08 * facets
    body = soft_step(-out, -1.04, -0.96)
    window = (slice(row - size, row + size), slice(col - size, col + size))
    shadow = np.roll(cv2.GaussianBlur(body, (0, 0), radius / 4), int(radius / 3), axis=1)
    face = 0.52 + 0.22 * soft_step(out, 0.5, 1.0) + 0.09 * facets + 0.1 * (np.roll(lumps, 3, 1) - lumps)
    signal[window] = (signal[window] - 0.07 * shadow) * (1 - body) + face * body
    hidden[window] |= cv2.dilate(body, np.ones((5, 5), np.uint8)) > 0.3


def _charging(signal: np.ndarray, hidden: np.ndarray, rng) -> None:
    """Lay a charged patch: bright, with streaks along the scan lines."""
    rows, cols = signal.shape
    row, col = rng.uniform(0.15, 0.85) * rows, rng.uniform(0.15, 0.85) * cols
    y, x = np.mgrid[0:rows, 0:cols].astype(np.float32)
    noise = smooth_noise(signal.shape, 1.2, 90, rng)
    rough = smooth_noise(signal.shape, 0.02 * rows, 0.03 * cols, rng)
    size = rng.uniform(0.5, 1.4)
    spot = np.exp(-(((y - row) / (0.04 * size * rows)) ** 2) - ((x - col) / (0.05 * size * cols)) ** 2 + 0.5 * rough)
    tail = np.exp(-(((y - row) / (0.05 * size * rows)) ** 2)) * soft_step(x - col, 0, 30)
    tail *= np.exp(-np.clip(x - col, 0, None) / (0.3 * cols))
    glow = rng.uniform(0.2, 0.6) * spot * (1 + 0.4 * noise) - rng.choice([-0.12, 0.25]) * tail * soft_step(
        noise, -0.5, 1.5
    )
    signal += glow.astype(np.float32)
    hidden |= np.abs(cv2.GaussianBlur(glow.astype(np.float32), (0, 0), 2)) > 0.13


def _jitter(signal: np.ndarray, size_px: float, rng) -> np.ndarray:
    """Return the picture with scan lines displaced by mains pick-up and drift."""
    rows, cols = signal.shape
    lines = np.arange(rows)
    shift = size_px * (np.sin(lines / rng.uniform(3, 9) + rng.uniform(0, 6)) + 0.5 * rng.standard_normal(rows))
    x = np.arange(cols, dtype=np.float32)[None, :] + shift[:, None].astype(np.float32)
    y = np.repeat(lines[:, None].astype(np.float32), cols, 1)
    return cv2.remap(signal, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
