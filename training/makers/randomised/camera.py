"""The instrument: beam, shading, drift, jitter of lines, shot noise, and the knobs that make eight bits of it."""

import cv2
import numpy as np

from .noise import log_uniform, spectral, wander


def _shake(rng: np.random.Generator, tone: np.ndarray) -> np.ndarray:
    """Lines set off sideways by parts of a pixel, or swaying with a hum of the mains."""
    rows, cols = tone.shape
    off = rng.normal(0, log_uniform(rng, 0.05, 0.5), rows)
    if rng.random() < 0.3:
        off += rng.uniform(0, 0.8) * np.sin(np.arange(rows) * 2 * np.pi / log_uniform(rng, 4, 60) + rng.uniform(0, 6))
    across = np.arange(cols, dtype=np.float32)[None, :] + off.astype(np.float32)[:, None]
    down = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, axis=1)
    return cv2.remap(tone, across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT_101)


def photograph(rng: np.random.Generator, tone: np.ndarray, pixel: float) -> np.ndarray:
    """Tone (about 0–1) to a picture uint8; pixel in µm."""
    rows, cols = tone.shape
    blur = float(np.clip(np.hypot(log_uniform(rng, 0.02, 0.25) / pixel, log_uniform(rng, 0.3, 1.0)), 0.3, 1.8))
    seen = cv2.GaussianBlur(tone, (0, 0), blur)
    y, x = np.linspace(-1, 1, rows, dtype=np.float32)[:, None], np.linspace(-1, 1, cols, dtype=np.float32)[None, :]
    fall = rng.normal(0, 0.05, 4)
    seen = seen + np.float32(fall[0]) * x + np.float32(fall[1]) * y + np.float32(0.5 * fall[2]) * x * y + np.float32(0.5 * fall[3]) * x * x
    seen = seen + rng.uniform(0, 0.03) * spectral(rng, tone.shape, 120)
    drift = rng.uniform(0, 0.03) * wander(rng, rows, log_uniform(rng, 20, 400)) + rng.normal(0, log_uniform(rng, 0.0005, 0.008), rows)
    seen = np.maximum(seen + drift.astype(np.float32)[:, None], 0.01)
    if rng.random() < 0.5:
        seen = _shake(rng, seen)
    dose = log_uniform(rng, 60, 5000)
    noise = rng.standard_normal(tone.shape, dtype=np.float32)
    if rng.random() < 0.3:
        # Frame grabbers smear the noise along the line.
        noise = cv2.GaussianBlur(noise, (0, 0), sigmaX=rng.uniform(0.5, 1.2), sigmaY=0.01) * 1.5
    seen = seen + noise * np.sqrt(np.maximum(seen, 0.01) / np.float32(dose))
    low, high = np.percentile(seen[::3, ::3], [0.5, 99.5])
    span = max(high - low, 0.15)
    dark, light = rng.uniform(3, 70), rng.uniform(150, 250)
    level = np.clip((seen - low) / span, -0.3, 1.4)
    level = np.sign(level) * np.abs(level) ** np.float32(log_uniform(rng, 0.65, 1.5))
    picture = np.clip(np.round(dark + (light - dark) * level), 0, 255).astype(np.uint8)
    if rng.random() < 0.35:
        packed = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(45, 96))])[1]
        picture = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return picture
