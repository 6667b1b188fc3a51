"""From signal to grey levels: focus, noise of shots and lines, gain, tone curve, storage."""

import cv2
import numpy as np


def shots(rng: np.random.Generator, signal: np.ndarray, electrons: float) -> np.ndarray:
    """Signal with shot noise of `electrons` a pixel where it is 1: spread √(signal / electrons)."""
    noise = rng.standard_normal(signal.shape, dtype=np.float32)
    return signal + noise * np.sqrt(signal / np.float32(electrons))


def record(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """Signal about 1, (rows, cols), as a uint8 picture."""
    rows, cols = signal.shape
    sigma = float(rng.uniform(0.35, 1.1)) if rng.random() < 0.8 else float(rng.uniform(1.1, 1.9))
    seen = cv2.GaussianBlur(signal, (0, 0), sigma)
    ramp = np.linspace(-0.5, 0.5, rows, dtype=np.float32)[:, None] * np.float32(rng.normal(0, 0.05))
    seen = seen * (1 + ramp + np.linspace(-0.5, 0.5, cols, dtype=np.float32)[None, :] * np.float32(rng.normal(0, 0.05)))
    # an operator sets contrast by nearly the whole range (common practice, no source)
    low, high = np.percentile(seen[::3, ::3], (0.5, 99.5))
    wide = max(high - low, 0.15)
    spread = wide * rng.uniform(0.01, 0.085)
    seen = shots(rng, np.maximum(seen, 0.02), 1 / spread**2)
    if rng.random() < 0.35:
        seen += rng.standard_normal((rows, 1), dtype=np.float32) * np.float32(wide * rng.uniform(0.003, 0.02))
    if rng.random() < 0.3:  # frames averaged or filtered while scanning
        seen = cv2.GaussianBlur(seen, (0, 0), float(rng.uniform(0.4, 0.8)))
    span, level = rng.uniform(95, 215), np.clip((seen - low) / wide, -0.25, 1.3)
    level = np.where(level > 0, np.abs(level) ** rng.uniform(0.8, 1.25), level)
    grey = np.clip(rng.uniform(8, 238 - span) + span * level, 0, 255).astype(np.uint8)
    if rng.random() < 0.3:
        _, code = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(70, 96))])
        grey = cv2.imdecode(code, cv2.IMREAD_GRAYSCALE)
    return grey
