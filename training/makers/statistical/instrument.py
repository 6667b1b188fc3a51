"""The microscope between signal and file: beam, scan, drift, dose, settings and compression."""

import cv2
import numpy as np

from .processes import chance, line, log_uniform


def scanned(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """The signal as a beam of finite size scans it line by line."""
    beam = log_uniform(rng, 0.3, 1.1)
    uneven = rng.uniform(0.8, 1.25)
    signal = cv2.GaussianBlur(signal, (0, 0), sigmaX=beam * uneven, sigmaY=beam / uneven)
    rows, cols = signal.shape
    if chance(rng, 0.35):
        shift = log_uniform(rng, 0.08, 0.6) * (0.5 * rng.standard_normal(rows) + line(rng, rows, log_uniform(rng, 3, 40)))
        x = np.arange(cols, dtype=np.float32)[None] + shift[:, None].astype(np.float32)
        y = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, 1)
        signal = cv2.remap(signal, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    return signal


def lit(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """Slow changes of brightness over the field and with time, and the small steps from line to line."""
    rows, cols = signal.shape
    y, x = np.linspace(-1, 1, rows, dtype=np.float32)[:, None], np.linspace(-1, 1, cols, dtype=np.float32)[None]
    tilt = rng.normal(0, 0.06, 2)
    bowl = rng.normal(0, 0.05)
    drift = log_uniform(rng, 0.003, 0.06) * line(rng, rows, rows * rng.uniform(0.2, 1)) + log_uniform(
        rng, 0.0005, 0.012
    ) * rng.standard_normal(rows)
    return signal * (1 + tilt[0] * x + tilt[1] * y + bowl * (x**2 + y**2) + drift[:, None]).astype(np.float32)


def developed(rng: np.random.Generator, signal: np.ndarray, glow: np.ndarray) -> np.ndarray:
    """The picture in grey levels (uint8): dose noise, contrast, brightness, gamma, sometimes compression."""
    electrons = log_uniform(rng, 150, 5000)
    noise = rng.standard_normal(signal.shape, dtype=np.float32)
    if chance(rng, 0.25):
        noise = cv2.GaussianBlur(noise, (0, 0), sigmaX=rng.uniform(0.3, 0.8), sigmaY=0.3)
    signal = signal + noise * np.sqrt(np.maximum(signal, 0.02) / electrons)
    low, high = np.quantile(signal[::3, ::3], [0.003, 0.997])
    bottom = rng.uniform(0, 60)
    top = np.clip(bottom + log_uniform(rng, 95, 240), None, 253)
    # A field of little contrast was not stretched to the full by the operator: noise would fill the picture.
    width = max(high - low, 0.25)
    tone = np.clip((signal - (high + low) / 2) / width + 0.5, -0.2, 1.3)
    gamma = log_uniform(rng, 0.65, 1.5)
    grey = bottom + (top - bottom) * np.sign(tone) * np.abs(tone) ** gamma
    grey = grey * (1 - glow) + 252 * glow
    image = np.clip(np.round(grey), 0, 255).astype(np.uint8)
    if chance(rng, 0.35):
        packed = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 97))])[1]
        image = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return image
