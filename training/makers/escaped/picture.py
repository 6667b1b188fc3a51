"""From signal to picture: the spot, the uneven detector, shot noise and the knobs for brightness and contrast."""

import cv2
import numpy as np

ELECTRONS = (60, 2500)
"""Counted a pixel on the plateau: from a fast to a slow scan (N = i·t/e gives 6,242 for 100 pA and 10 µs; few are detected)."""


def shot(rng: np.random.Generator, signal: np.ndarray, electrons: float) -> np.ndarray:
    """The signal with the noise of counting so many electrons where it is 1 (rows, cols): spread sqrt(signal / electrons)."""
    noise = rng.standard_normal(signal.shape, dtype=np.float32)
    return signal + noise * np.sqrt(np.maximum(signal, 0) / np.float32(electrons))


def photograph(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """The picture, uint8 (rows, cols)."""
    rows, cols = signal.shape
    seen = cv2.GaussianBlur(signal, (0, 0), rng.uniform(0.35, 1.1))
    corners = rng.normal(0, rng.uniform(0.005, 0.06), (3, 3)).astype(np.float32)
    seen *= 1 + cv2.resize(corners, (cols, rows), interpolation=cv2.INTER_CUBIC)
    seen = shot(rng, seen, float(np.exp(rng.uniform(*np.log(ELECTRONS)))))
    seen += rng.normal(0, rng.uniform(0, 0.012), (rows, 1)).astype(np.float32)
    if rng.random() < 0.3:
        seen = cv2.GaussianBlur(seen, (0, 0), rng.uniform(0.35, 0.7))
    dark, bright = np.percentile(seen[::3, ::3], (1, 99))
    low, high = rng.uniform(8, 70), rng.uniform(150, 245)
    even = np.clip((seen - dark) / max(bright - dark, 1e-3), -0.3, 1.4)
    curved = np.sign(even) * np.abs(even) ** np.float32(rng.uniform(0.75, 1.35))
    return np.clip(np.round(low + (high - low) * curved), 0, 255).astype(np.uint8)
