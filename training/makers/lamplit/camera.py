"""From brightness to a stored picture: drawn tone curve, beam, dose, drift, jitter, setting, compression."""

import cv2
import numpy as np

from .noise import log_between, wander


def _tone(rng: np.random.Generator, level: np.ndarray) -> np.ndarray:
    """A drawn monotone curve over 0-1, now and then turned upside down."""
    steps = np.cumsum(np.concatenate([[0.0], rng.gamma(3.0, 1.0, 6) + 0.4]))
    curve = np.interp(np.linspace(0, 1, 256), np.linspace(0, 1, 7), steps / steps[-1])
    if rng.random() < 0.1:
        curve = 1 - curve
    return curve.astype(np.float32)[np.clip(level * 255, 0, 255).astype(np.uint8)]


def expose(rng: np.random.Generator, light: np.ndarray) -> np.ndarray:
    """uint8 picture of a brightness map; clips little."""
    rows, cols = light.shape
    light = cv2.GaussianBlur(light, (0, 0), log_between(rng, 0.35, 1.3))
    fall = rng.normal(0, 0.1, 4)
    x, y = np.linspace(-1, 1, cols, dtype=np.float32)[None, :], np.linspace(-1, 1, rows, dtype=np.float32)[:, None]
    light = light * (1 + fall[0] * x + fall[1] * y + 0.5 * fall[2] * x * y + 0.5 * fall[3] * (x * x + y * y))
    light = light + (wander(rng, rows, rows / rng.uniform(1, 6)) * rng.uniform(0, 0.05))[:, None]
    if rng.random() < 0.4:
        light = light + (rng.standard_normal(rows) * rng.uniform(0, 0.025))[:, None]
    low, high = np.percentile(light[::3, ::3], [0.7, 99.3])
    level = _tone(rng, (light - low + 0.06 * (high - low)) / (1.12 * (high - low) + 1e-3))
    if rng.random() < 0.25:
        shift = np.cumsum(rng.standard_normal(rows)) * 0.02 + rng.standard_normal(rows) * rng.uniform(0, 0.5)
        grid = np.broadcast_to(np.arange(cols, dtype=np.float32)[None, :], (rows, cols)) + shift.astype(np.float32)[:, None]
        lines = np.broadcast_to(np.arange(rows, dtype=np.float32)[:, None], (rows, cols))
        level = cv2.remap(level.astype(np.float32), grid, np.ascontiguousarray(lines), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    dose = log_between(rng, 60, 3000)
    dark = rng.uniform(0.1, 0.4)
    noise = rng.standard_normal(light.shape, dtype=np.float32)
    if rng.random() < 0.3:
        noise = cv2.GaussianBlur(noise, (0, 0), 0.6) * 1.8
    level = level + noise * np.sqrt(np.maximum(level + dark, 0.02) / dose)
    level = np.clip(level, 0, 1.2) ** np.float32(log_between(rng, 0.75, 1.35))
    span = rng.uniform(90, 220)
    base = rng.uniform(8, max(245 - span, 10))
    picture = np.clip(base + span * level, 0, 255).astype(np.uint8)
    if rng.random() < 0.3:
        _, packed = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(45, 96))])
        picture = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return picture
