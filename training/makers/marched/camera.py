"""From brightness to a stored picture: beam, drift, jitter, counted electrons, setting of contrast, storage."""

import cv2
import numpy as np


def counted(rng: np.random.Generator, signal: np.ndarray, electrons: float) -> np.ndarray:
    """Shot noise: a pixel of signal 1 counts `electrons` on average, with their square root as standard deviation."""
    mean = np.maximum(signal, 0) * np.float32(electrons)
    return mean + np.sqrt(mean) * rng.standard_normal(signal.shape, dtype=np.float32)


def expose(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    rows, cols = signal.shape
    signal = cv2.GaussianBlur(signal, (0, 0), float(np.exp(rng.uniform(np.log(0.35), np.log(1.5)))))
    v, u = np.meshgrid(np.linspace(-1, 1, rows), np.linspace(-1, 1, cols), indexing="ij")
    shade = 1 + rng.normal(0, 0.06) * u + rng.normal(0, 0.06) * v - abs(rng.normal(0, 0.05)) * (u * u + v * v)
    drift = cv2.GaussianBlur(rng.standard_normal((rows, 1)), (1, 0), sigmaX=1, sigmaY=rows / 12)
    drift = drift / drift.std() * rng.uniform(0, 0.04) + rng.normal(0, rng.uniform(0, 0.012), (rows, 1))
    signal = (signal * (shade + drift)).astype(np.float32)
    if rng.random() < 0.4:
        jitter = rng.normal(0, rng.uniform(0.05, 0.4), (rows, 1))
        x = np.arange(cols, dtype=np.float32) + jitter
        y = np.broadcast_to(np.arange(rows)[:, None], signal.shape)
        signal = cv2.remap(signal, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    level = float(np.median(signal))
    electrons = float(np.exp(rng.uniform(np.log(60), np.log(5000))))
    signal = counted(rng, signal / level, electrons) / electrons
    if rng.random() < 0.35:  # averaged by the store or rescaled
        signal = cv2.GaussianBlur(signal, (0, 0), rng.uniform(0.4, 0.8))
    low, high = np.percentile(signal[::3, ::3], (rng.uniform(0.1, 1), rng.uniform(99, 99.8)))
    floor, top = rng.uniform(0.0, 0.28), rng.uniform(0.72, 0.98)
    tone = (signal - low) / max(high - low, 1e-3)
    # A shoulder keeps the brightest edges from clipping, as an operator who watches the trace does.
    tone = np.where(tone > 0.85, 0.85 + 0.15 * np.tanh((tone - 0.85) / 0.15), tone)
    tone = np.maximum(tone, 0) ** rng.uniform(0.7, 1.4)
    grey = np.clip(255 * (floor + (top - floor) * tone), 0, 255).astype(np.uint8)
    if rng.random() < 0.35:
        stored = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 96))])[1]
        grey = cv2.imdecode(stored, cv2.IMREAD_GRAYSCALE)
    return grey
