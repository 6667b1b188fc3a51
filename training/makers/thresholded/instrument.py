"""From brightness (no unit) to grey levels 0..255: beam, dose, drift, jitter, setting, compression; lengths in px."""

import cv2
import numpy as np

from .random_fields import even, log_uniform


def expose(rng: np.random.Generator, picture: np.ndarray, *, pixel_um: float) -> np.ndarray:
    """The stored picture, (rows, cols) uint8."""
    rows, cols = picture.shape
    beam = float(np.clip(log_uniform(rng, 0.05, 0.4) / pixel_um, 0.35, 2.0))
    picture = cv2.GaussianBlur(picture, (0, 0), beam)
    if rng.random() < 0.3:
        shift = rng.normal(0, log_uniform(rng, 0.1, 0.7), rows).astype(np.float32)
        x = np.arange(cols, dtype=np.float32)[None, :] + shift[:, None]
        y = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, 1)
        picture = cv2.remap(picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    picture = picture + log_uniform(rng, 0.003, 0.06) * even(rng, (rows, cols), 0.7 * max(rows, cols))
    line = np.cumsum(rng.normal(0, 1, rows)) / np.sqrt(rows)
    picture += (log_uniform(rng, 0.002, 0.05) * line + log_uniform(rng, 0.0005, 0.01) * rng.normal(0, 1, rows))[:, None]
    # Shot noise of so many electrons a pixel at full brightness; the normal law serves from a few dozen on.
    dose = log_uniform(rng, 100, 5000)
    picture = picture + np.sqrt(np.clip(picture, 0.02, None) / dose) * rng.standard_normal(picture.shape, dtype=np.float32)
    low, high = np.percentile(picture[::3, ::3], [0.5, 99.5])
    # The operator spreads the tones over part of the scale, rarely all of it.
    span = rng.uniform(110, 235)
    floor = rng.uniform(4, 250 - span)
    tone = np.clip((picture - low) / max(high - low, 0.05), -0.05, 1.05)
    tone = np.sign(tone) * np.abs(tone) ** log_uniform(rng, 0.7, 1.4)
    grey = np.clip(np.rint(floor + span * tone), 0, 255).astype(np.uint8)
    if rng.random() < 0.3:
        _, packed = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(45, 96))])
        grey = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return grey
