"""The instrument: beam, dose, drift, jitter, and the operator's contrast and brightness."""

import cv2
import numpy as np

from .chance import decades, line


def shot(rng: np.random.Generator, signal: np.ndarray, electrons: float) -> np.ndarray:
    """Signal as counted: its standard deviation is the root of signal x electrons, over electrons."""
    noise = rng.standard_normal(signal.shape, dtype=np.float32)
    return signal + noise * np.sqrt(signal / electrons)


def expose(rng: np.random.Generator, signal: np.ndarray, backscattered: bool, pixel_um: float) -> np.ndarray:
    """Picture in grey levels (uint8) of a signal about 1."""
    rows, columns = signal.shape
    beam_px = min(1.8, np.hypot(decades(rng, 0.3, 0.9), decades(rng, 0.02, 0.25) / pixel_um))
    seen = cv2.GaussianBlur(signal, (0, 0), beam_px)
    if rng.random() < 0.3:
        shift = rng.normal(0, decades(rng, 0.1, 0.9), rows).astype(np.float32)
        x = np.arange(columns, dtype=np.float32)[None] + shift[:, None]
        y = np.repeat(np.arange(rows, dtype=np.float32)[:, None], columns, 1)
        seen = cv2.remap(seen, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    drift = decades(rng, 0.003, 0.06) * line(rng, rows, rows / 3)[:, None] + decades(rng, 0.001, 0.01) * line(rng, rows, 1)[:, None]
    lean = np.linspace(-1, 1, columns)[None] * rng.normal(0, 0.06) + np.linspace(-1, 1, rows)[:, None] * rng.normal(0, 0.06)
    seen = np.clip(seen * (1 + drift + lean), 0.01, None).astype(np.float32)
    seen = shot(rng, seen, decades(rng, 150, 4000) * (0.5 if backscattered else 1))
    low, high = np.percentile(seen[::3, ::3], (rng.uniform(0.1, 2), rng.uniform(98, 99.9)))
    dark = rng.uniform(5, 80)
    bright = min(250, dark + decades(rng, 70, 220))
    unit = np.clip((seen - low) / max(high - low, 1e-3), -0.2, 1.3)
    unit = np.sign(unit) * np.abs(unit) ** decades(rng, 0.65, 1.5)
    image = np.clip(dark + (bright - dark) * unit, 0, 255).astype(np.uint8)
    if rng.random() < 0.3:
        image = cv2.imdecode(cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 96))])[1], cv2.IMREAD_GRAYSCALE)
    return image
