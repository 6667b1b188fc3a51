"""From signal to grey levels: the operator's brightness and contrast, shot noise, charging, line jitter, defocus."""

import cv2
import numpy as np

from .chance import between, blurred, grainy


def jittered(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """Lines displaced by a fraction of a px to 1.5 px by vibration or stray fields."""
    rows, columns = signal.shape
    shift = rng.normal(0, rng.uniform(0.1, 0.5), rows) + rng.uniform(0, 1) * np.sin(
        np.arange(rows) * rng.uniform(0.05, 0.9)
    )
    x = np.arange(columns, dtype=np.float32)[None] + shift.astype(np.float32)[:, None]
    y = np.broadcast_to(np.arange(rows, dtype=np.float32)[:, None], (rows, columns)).copy()
    return cv2.remap(signal, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)


def charged(rng: np.random.Generator, signal: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Bright patches smeared along the scan, dark behind; also where they hide the surface (bool)."""
    rows, columns = signal.shape
    glow = np.zeros(signal.shape, np.float32)
    for _ in range(rng.integers(1, 4)):
        row, column = int(rng.integers(0, rows)), int(rng.integers(0, columns))
        length, height = between(rng, 0.05, 0.4) * columns, between(rng, 2, 14)
        y = np.arange(rows, dtype=np.float32)[:, None] - row
        x = np.arange(columns, dtype=np.float32)[None] - column
        glow += np.exp(-((y / height) ** 2)) * np.where(x > 0, np.exp(-x / length), np.exp(-((x / 12) ** 2)))
    ragged = glow * np.clip(1 + 0.25 * grainy(rng, signal.shape, (1.5, 60)), 0.3, 2)
    strength = rng.uniform(0.2, 1.2)
    return signal + strength * ragged - 0.3 * strength * blurred(glow, 20), strength * ragged > 0.6


def photographed(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """8-bit picture: signal set to a mean and contrast, shading across the field, gamma, shot noise and rounding."""
    if rng.random() < 0.2:
        signal = jittered(rng, signal)
    sample = signal[::3, ::3]
    low, middle, high = np.percentile(sample, [1, 50, 99])
    contrast = between(rng, 0.22, 0.85) / max(high - low, between(rng, 0.14, 0.35))
    grey = rng.uniform(0.3, 0.62) + contrast * (signal - middle)
    if rng.random() < 0.5:
        y, x = np.ogrid[-1 : 1 : signal.shape[0] * 1j, -1 : 1 : signal.shape[1] * 1j]
        grey += (rng.normal(0, 0.04) * x + rng.normal(0, 0.04) * y + rng.normal(0, 0.03) * x * x).astype(np.float32)
    grey = np.clip(grey, 0.002, None) ** between(rng, 0.8, 1.25)
    noise = between(rng, 0.008, 0.09)
    speck = rng.standard_normal(signal.shape, dtype=np.float32)
    if rng.random() < 0.4:
        speck = cv2.GaussianBlur(speck, (0, 0), sigmaX=rng.uniform(0.4, 0.9), sigmaY=0.3) * 1.3
    grey += noise * np.sqrt(np.minimum(grey, 1.2) + 0.1) * speck
    grey = np.where(grey > 0.85, 0.85 + 0.15 * np.tanh((grey - 0.85) / 0.15), grey)
    grey = np.where(grey < 0.1, 0.1 + 0.095 * np.tanh((grey - 0.1) / 0.095), grey)
    return np.clip(grey * 255, 0, 255).round().astype(np.uint8)
