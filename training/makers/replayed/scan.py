"""From signal to grey: beam blur, dose noise, slow-scan bands, line jitter, charging, gamma.

Shot noise: N = i·t/e electrons a pixel, so the noise falls as 1/√N; on top of it the detector's own."""

import cv2
import numpy as np

from .grain import grain, ramp


def bands(rng: np.random.Generator, rows: int) -> np.ndarray:
    """Slow drift and single lines of the scan's gain (unit spread)."""
    slow = np.interp(np.arange(rows), np.linspace(0, rows, 12), rng.standard_normal(12))
    return (0.6 * slow + 0.6 * rng.standard_normal(rows)).astype(np.float32)


def jitter(rng: np.random.Generator, image: np.ndarray, amount_px: float) -> np.ndarray:
    """Lines shifted by stray fields."""
    rows, cols = image.shape
    shift = amount_px * (np.sin(np.arange(rows) * rng.uniform(0.05, 2.5)) + 0.5 * rng.standard_normal(rows))
    x, y = np.meshgrid(np.arange(cols, dtype=np.float32), np.arange(rows, dtype=np.float32))
    return cv2.remap(image, x + shift.astype(np.float32)[:, None], y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)


def charging(rng: np.random.Generator, shape: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """Brightness of charged places with tails along the lines, and where they hide the surface."""
    rows, cols = shape
    y, x = np.mgrid[:rows, :cols].astype(np.float32)
    bright = np.zeros(shape, np.float32)
    for _ in range(int(rng.integers(1, 3))):
        cy, cx = rng.uniform(0, rows), rng.uniform(0, cols)
        dx = x - cx
        tail = np.where(dx > 0, rng.uniform(0.15, 0.4), 0.06 * cols / 20) * rng.uniform(0.3, 1) * cols / 3
        spread = rng.uniform(0.02, 0.07) * rows
        bright += np.exp(-np.abs(dx) / tail - ((y - cy) / spread) ** 2)
    return bright * (1 + 0.2 * grain(rng, shape, 60, 1.2)), bright > 0.7


def expose(
    rng: np.random.Generator, seen: np.ndarray, *, mean: float, contrast: float, blur_px: float, noise: float, banding: float,
    gamma: float,
) -> np.ndarray:  # fmt: skip
    """Grey levels: contrast is the spread of the clean picture, noise that of the dose, both in grey levels."""
    seen = cv2.GaussianBlur(seen, (0, 0), blur_px) if blur_px > 0.3 else seen
    sample = seen[::5, ::5]
    low, high = np.percentile(sample, [4, 96])
    spread = max((high - low) / 3.5, 0.3 * float(sample.std()), 1e-3)
    level = (seen - np.float32(np.median(sample))) / np.float32(spread)
    level = level / np.sqrt(1 + (level / 4.0) ** 2)
    grey = mean + contrast * level + banding * bands(rng, seen.shape[0])[:, None]
    dose = noise * np.sqrt(np.clip(grey, 20, 255) / mean)
    grey = grey + dose * rng.standard_normal(seen.shape, dtype=np.float32)
    share = ramp(grey, 0, 255)
    return (255 * share ** np.float32(gamma)).astype(np.float32)
