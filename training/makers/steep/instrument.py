"""From the grey of the ground to the picture that a microscope takes."""

import cv2
import numpy as np

from .texture import log_uniform


def electrons_per_pixel(current_pa: float, dwell_us: float) -> float:
    """Primary electrons that a pixel gets: current × dwell over the elementary charge."""
    return current_pa * dwell_us * 1e-18 / 1.602176634e-19


def taken(rng: np.random.Generator, signal: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """The 8-bit picture of a signal about 1: beam, drift, line jitter, shot noise, contrast, gamma, JPEG."""
    rows, columns = signal.shape
    beam_px = float(np.clip(log_uniform(rng, 0.02, 0.5) / pixel_size_um, 0.35, 2.0))
    seen = cv2.GaussianBlur(signal.astype(np.float32), (0, 0), beam_px)
    y, x = np.mgrid[-0.5 : 0.5 : rows * 1j, -0.5 : 0.5 : columns * 1j].astype(np.float32)
    lean = rng.normal(0, 0.12, 3)
    seen = seen * np.clip(1 + lean[0] * x + lean[1] * y + lean[2] * x * y, 0.6, 1.5)
    if rng.random() < 0.5:
        lines = np.cumsum(rng.normal(0, 0.004, rows)) + rng.normal(0, log_uniform(rng, 0.001, 0.02), rows)
        seen = seen * (1 + np.clip(lines, -0.15, 0.15)[:, None]).astype(np.float32)
    if rng.random() < 0.25:
        shift = (rng.normal(0, rng.uniform(0.1, 0.6), rows)[:, None] + np.arange(columns)[None, :]).astype(np.float32)
        at = np.broadcast_to(np.arange(rows, dtype=np.float32)[:, None], shift.shape).copy()
        seen = cv2.remap(seen, shift, at, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    electrons = electrons_per_pixel(log_uniform(rng, 20, 800), log_uniform(rng, 1, 20)) * rng.uniform(0.1, 0.5)
    noise = np.sqrt(np.maximum(seen, 0.05) / max(electrons, 60)).astype(np.float32)
    seen = seen + noise * rng.standard_normal(seen.shape, dtype=np.float32)
    low, mid, high = np.quantile(seen[::3, ::3], (0.005, 0.5, 0.995))
    span = max(high - low, 0.15)
    bright, contrast = rng.uniform(75, 165), rng.uniform(0.5, 1.0)
    scale = min(contrast * 235 / span, (250 - bright) / max(high - mid, 1e-3), (bright - 4) / max(mid - low, 1e-3))
    grey = np.clip((bright + (seen - mid) * scale) / 255, 0, 1) ** log_uniform(rng, 0.75, 1.35)
    image = np.rint(255 * grey).astype(np.uint8)
    if rng.random() < 0.3:
        coded = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 97))])[1]
        image = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    return image
