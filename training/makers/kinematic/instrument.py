"""The microscope after the electrons: beam, noise, drift, jitter, contrast setting, file."""

import cv2
import numpy as np

from .noise import along, log_uniform, smooth


def record(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """The picture (uint8) of a signal (1 is flat clean metal) on the same pixels."""
    rows, cols = signal.shape
    picture = cv2.GaussianBlur(signal, (0, 0), log_uniform(rng, 0.35, 1.5))
    if rng.random() < 0.25:
        # Stray fields shift whole lines; a fraction of a pixel is already to be seen on edges.
        shift = (along(rng, rows, log_uniform(rng, 1, 20)) * rng.uniform(0.1, 0.9)).astype(np.float32)
        x = np.arange(cols, dtype=np.float32)[None, :] + shift[:, None]
        y = np.broadcast_to(np.arange(rows, dtype=np.float32)[:, None], (rows, cols))
        picture = cv2.remap(picture, x, np.ascontiguousarray(y), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    picture *= 1 + smooth(rng, (rows, cols), (rows, cols)) * rng.uniform(0, 0.08)
    picture *= (1 + along(rng, rows, rows / 5) * log_uniform(rng, 0.002, 0.03))[:, None]
    dose = log_uniform(rng, 25, 1500)
    noise = rng.standard_normal((rows, cols), dtype=np.float32)
    if rng.random() < 0.3:
        # A slow amplifier carries noise from pixel to pixel along the line.
        noise = cv2.blur(noise, (2, 1)) * 1.2
    picture += noise * np.sqrt(np.maximum(picture, 0.02) / dose)
    low, middle, high = np.percentile(picture[::3, ::3], (1, 50, 99))
    span = rng.uniform(70, 225)
    # Gain is limited: flat fields stay flat instead of being stretched to noise.
    gain = min(span / max(high - low, 1e-3), rng.uniform(150, 420))
    level = np.clip(rng.uniform(60, 180), (middle - low) * gain + 3, max(250 - (high - middle) * gain, (middle - low) * gain + 3))
    grey = np.clip((picture - middle) * gain + level, 0, 255) / 255
    out = np.round(255 * grey ** log_uniform(rng, 0.75, 1.35)).astype(np.uint8)
    if rng.random() < 0.3:
        _, packed = cv2.imencode(".jpg", out, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 96))])
        out = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return out
