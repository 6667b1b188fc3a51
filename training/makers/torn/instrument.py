"""The instrument after the detector: beam, dose, drift, jitter, the operator's contrast, and how the file was kept."""

import cv2
import numpy as np

from .frame import line, smooth, spread


def recorded(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """The 8-bit picture of a signal (level iron about 1)."""
    shape = signal.shape
    s = cv2.GaussianBlur(signal, (0, 0), spread(rng, 0.35, 1.5))
    s = s * (1 + spread(rng, 0.01, 0.15) * smooth(rng, shape, shape[0] / 1.5, shape[1] / 1.5))
    s = s * (1 + (spread(rng, 0.002, 0.03) * line(rng, shape[0], spread(rng, 1, 60)))[:, None].astype(np.float32))
    if rng.random() < 0.3:  # stray fields and vibration move whole lines
        shift = spread(rng, 0.1, 0.8) * line(rng, shape[0], spread(rng, 1, 4))
        cols = np.arange(shape[1], dtype=np.float32)[None] + shift[:, None].astype(np.float32)
        rows = np.broadcast_to(np.arange(shape[0], dtype=np.float32)[:, None], shape).copy()
        s = cv2.remap(s, cols, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    s = np.maximum(s, 0.01)
    dose = spread(rng, 60, 4000)  # electrons detected a pixel, from level iron
    noise = rng.standard_normal(shape, dtype=np.float32)
    if rng.random() < 0.4:  # a slow amplifier ties neighbours on a line together
        noise = cv2.GaussianBlur(noise, (3, 1), 0.6) * 1.3
    s = s + noise * np.sqrt(s / dose)
    low, mid, high = np.percentile(s[::3, ::3], (1, 50, 99))
    grey = rng.uniform(80, 155) + (s - mid) * spread(rng, 80, 200) / max(high - low, 0.08)
    gamma = spread(rng, 0.75, 1.35)
    grey = 255 * np.clip(grey / 255, 0, 1) ** gamma
    image = np.clip(grey + 0.5, 0, 255).astype(np.uint8)
    if rng.random() < 0.3:
        kept = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 96))])[1]
        image = cv2.imdecode(kept, cv2.IMREAD_GRAYSCALE)
    return image
