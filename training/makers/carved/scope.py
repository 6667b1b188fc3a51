"""The instrument: beam, scan, counting, amplifier settings, storage."""

import cv2
import numpy as np

from .frame import between, cloud, thread


def counted(rng: np.random.Generator, light: np.ndarray, dose: float) -> np.ndarray:
    """The signal with the scatter of `dose` electrons a pixel where it is 1; the normal law serves from a few dozen on."""
    noise = rng.standard_normal(light.shape, dtype=np.float32)
    return light + noise * np.sqrt(np.clip(light, 0.05, None) / dose)


def record(rng: np.random.Generator, light: np.ndarray) -> np.ndarray:
    """Signal (plateau near 1) to a stored uint8 picture."""
    rows, cols = light.shape
    light = cv2.GaussianBlur(light, (0, 0), between(rng, 0.4, 1.5))
    # Shading from the detector's side and slow drift of the gain down the scan.
    cell = max(rows, cols) * 0.9
    light = light * (1 + between(rng, 0.01, 0.1) * cloud(rng, light.shape, cell, cell))
    light *= 1 + between(rng, 0.003, 0.04) * thread(rng, rows, rows / 4)[:, None]
    light *= 1 + between(rng, 0.001, 0.012) * rng.standard_normal((rows, 1), dtype=np.float32)
    if rng.random() < 0.4:
        shift = between(rng, 0.1, 0.8) * rng.standard_normal((rows, 1), dtype=np.float32)
        x = np.arange(cols, dtype=np.float32)[None, :] + shift
        y = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, 1)
        light = cv2.remap(light, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    light = counted(rng, light, between(rng, 60, 3000))
    if rng.random() < 0.25:
        light = cv2.GaussianBlur(light, (0, 0), between(rng, 0.4, 0.9))
    low, high = np.percentile(light[::3, ::3], [1, 99])
    # The operator spreads the range over the greys without burning many of them in.
    use = rng.uniform(0.45, 0.95) / max(high - low, 0.12)
    grey = np.clip(rng.uniform(0.02, 0.98 - use * (high - low)) + (light - low) * use, 0, 1)
    grey = grey ** between(rng, 0.7, 1.4)
    picture = np.round(grey * 255).astype(np.uint8)
    if rng.random() < 0.3:
        quality = int(rng.integers(45, 96))
        picture = cv2.imdecode(cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])[1], cv2.IMREAD_GRAYSCALE)
    return picture
