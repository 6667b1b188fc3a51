"""From relative signal to grey levels: dose, drift, jitter, the operator's setting, storage."""

import cv2
import numpy as np

from .chance import blotches, log_uniform, wander


def relative_noise(current_pa: float, dwell_us: float) -> float:
    """1/sqrt(N) with N = i t / e electrons a pixel."""
    return float(1 / np.sqrt(current_pa * 1e-12 * dwell_us * 1e-6 / 1.602e-19))


def record(rng: np.random.Generator, signal: np.ndarray, beam_px: float) -> np.ndarray:
    shape = signal.shape
    rows = np.arange(shape[0], dtype=np.float32)
    shift = rng.standard_normal(shape[0]) * log_uniform(rng, 0.02, 0.5) * (rng.random() < 0.5)
    if shift.any():
        x, y = np.meshgrid(np.arange(shape[1], dtype=np.float32), rows)
        signal = cv2.remap(
            signal, x + shift.astype(np.float32)[:, None], y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
        )
    signal = cv2.GaussianBlur(signal, (0, 0), beam_px)
    spread = float(signal.std()) + 1e-5
    drift = wander(rng, shape[0], shape[0] * rng.uniform(0.1, 0.6))[:, None] * log_uniform(rng, 0.01, 0.3)
    shading = blotches(rng, shape, max(shape) * rng.uniform(0.5, 1.2)) * log_uniform(rng, 0.03, 0.45)
    lines = rng.standard_normal((shape[0], 1)) * log_uniform(rng, 0.005, 0.08)
    # the operator turns up the contrast until the structure shows, so noise goes with the signal's spread and the dose
    noise = log_uniform(rng, 0.06, 0.75) * relative_noise(rng.uniform(60, 150), 10) / relative_noise(100, 10)
    bright = np.clip(1 + 0.35 * signal / spread / 2, 0.3, 2)
    grain = rng.standard_normal(shape, dtype=np.float32)
    if rng.random() < 0.3:
        grain = cv2.GaussianBlur(grain, (0, 0), 0.6) * 1.9
    picture = signal / spread + drift + shading + lines + noise * np.sqrt(bright) * grain
    low, middle, high = np.quantile(picture[::2, ::2], [0.004, 0.5, 0.996])
    level, gain = rng.uniform(75, 175), log_uniform(rng, 12, 48)
    gain = min(gain, (level - 5) / (middle - low + 1e-6), (250 - level) / (high - middle + 1e-6))
    grey = np.clip((level + gain * (picture - middle)) / 255, 0, 1) ** log_uniform(rng, 0.75, 1.35)
    image = np.round(grey * 255).astype(np.uint8)
    if rng.random() < 0.35:
        _, coded = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 96))])
        image = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    return image
