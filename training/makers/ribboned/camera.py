"""From tones to a stored picture: beam, scan, dose, and the settings of contrast, brightness and file."""

import cv2
import numpy as np

from .texture import clouds, line_noise, loguniform

ELEMENTARY_CHARGE_C = 1.602176634e-19


def electrons(current_a: float, dwell_s: float) -> float:
    """Beam electrons that fall on one pixel."""
    return current_a * dwell_s / ELEMENTARY_CHARGE_C


def with_shot_noise(rng: np.random.Generator, signal: np.ndarray, counted: float) -> np.ndarray:
    """A signal of mean near 1 as counted with that many electrons a pixel: the variance equals the count."""
    noise = rng.standard_normal(signal.shape, dtype=np.float32)
    return signal + noise * np.sqrt(np.maximum(signal, 0.02) / counted)


def taken(rng: np.random.Generator, grey: np.ndarray) -> np.ndarray:
    """The picture as stored: uint8."""
    rows, cols = grey.shape
    picture = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), loguniform(rng, 0.3, 1.3))
    if rng.uniform() < 0.35:
        slip = line_noise(rng, rows, 1) * loguniform(rng, 0.05, 0.6) + line_noise(rng, rows, rows / 4) * rng.uniform(0, 2)
        right = np.arange(cols, dtype=np.float32)[None, :] + slip[:, None].astype(np.float32)
        down = np.broadcast_to(np.arange(rows, dtype=np.float32)[:, None], grey.shape)
        picture = cv2.remap(picture, right, np.ascontiguousarray(down), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    picture = picture * (1 + loguniform(rng, 0.005, 0.06) * line_noise(rng, rows, rows / rng.uniform(1, 6))[:, None])
    picture += rng.uniform(0, 0.08) * clouds(rng, grey.shape, max(grey.shape) * rng.uniform(0.4, 1.0))
    # a detector takes some of the electrons alone: a tenth of what falls, at scan speeds from lively to patient
    counted = 0.1 * electrons(loguniform(rng, 20e-12, 500e-12), loguniform(rng, 3e-6, 60e-6))
    picture = with_shot_noise(rng, picture.astype(np.float32), float(np.clip(counted, 90, 2e4)))
    if rng.uniform() < 0.15:
        picture = cv2.medianBlur(picture, 3)
    low, high = np.quantile(picture[::3, ::3], (0.003, 0.997))
    spread = max(high - low, 1e-3)
    # the operator sets contrast so that hardly anything clips, or less of it
    gain = min(loguniform(rng, 60, 250), 250) / spread
    room = 252 - gain * spread
    base = 2 + room * rng.uniform(0.1, 0.9) if room > 0 else 2.0
    level = np.clip((base + gain * (picture - low)) / 255, 0, 1) ** loguniform(rng, 0.75, 1.3)
    stored = np.clip(np.rint(255 * level), 0, 255).astype(np.uint8)
    if rng.uniform() < 0.35:
        stored = cv2.imdecode(cv2.imencode(".jpg", stored, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(45, 96))])[1], 0)
    return stored
