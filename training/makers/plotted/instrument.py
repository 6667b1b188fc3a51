"""From what leaves the surface to what the file holds: beam, drift, dose, settings, storage."""

import cv2
import numpy as np

from .noise import value_noise

ELEMENTARY_CHARGE_C = 1.602176634e-19


def electrons_per_pixel(current_a: float, dwell_s: float) -> float:
    """Electrons that reach a pixel: i·t/e."""
    return current_a * dwell_s / ELEMENTARY_CHARGE_C


def shot_noise(rng: np.random.Generator, signal: np.ndarray, electrons: float) -> np.ndarray:
    """Signal (grey levels, 128 for `electrons` counted ones) with its counting noise, normal as counts are many."""
    return signal + np.sqrt(np.maximum(signal, 1) * 128 / electrons) * rng.standard_normal(signal.shape, dtype=np.float32)


def record(rng: np.random.Generator, picture: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """The uint8 micrograph of a picture in grey levels (float32)."""
    rows, cols = picture.shape
    beam_px = np.hypot(rng.uniform(0.3, 0.8), np.exp(rng.uniform(np.log(0.02), np.log(0.25))) / pixel_size_um)
    picture = cv2.GaussianBlur(picture, (0, 0), min(float(beam_px), 1.6))
    tilt = rng.normal(0, 14, 2)
    picture = picture + (np.linspace(-tilt[0], tilt[0], rows)[:, None] + np.linspace(-tilt[1], tilt[1], cols)).astype(np.float32)
    picture = picture + np.float32(rng.uniform(0, 8)) * value_noise(rng, picture.shape, rng.uniform(90, 300), 1)
    if rng.random() < 0.3:
        picture = picture + rng.normal(0, rng.uniform(0.3, 2.0), (rows, 1)).astype(np.float32)
    if rng.random() < 0.25:
        # Rows shift as the scan is disturbed by stray fields.
        at = np.cumsum(rng.normal(0, 0.15, rows)) * 0.5
        shift = (at - at.mean() + rng.normal(0, 0.25, rows)).astype(np.float32)[:, None]
        grid_x = np.arange(cols, dtype=np.float32) + np.clip(shift, -1.2, 1.2)
        grid_y = np.broadcast_to(np.arange(rows, dtype=np.float32)[:, None], (rows, cols))
        picture = cv2.remap(picture, grid_x, np.ascontiguousarray(grid_y), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    current, dwell = np.exp(rng.uniform(np.log(2e-11), np.log(3e-10))), np.exp(rng.uniform(np.log(5e-7), np.log(2e-5)))
    picture = shot_noise(rng, picture, np.clip(0.5 * electrons_per_pixel(current, dwell), 90, 2e4))
    low, high = np.percentile(picture[::3, ::3], (1, 99))
    aim = rng.uniform(70, 165)
    gain = min(rng.uniform(0.7, 1.7), rng.uniform(120, 215) / max(high - low, 20))
    picture = np.clip((picture - np.median(picture[::3, ::3])) * gain + aim, 0, 255)
    picture = 255 * (picture / 255) ** rng.uniform(0.8, 1.25)
    image = np.round(picture).astype(np.uint8)
    if rng.random() < 0.3:
        stored = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 96))])[1]
        image = cv2.imdecode(stored, cv2.IMREAD_GRAYSCALE)
    return image
