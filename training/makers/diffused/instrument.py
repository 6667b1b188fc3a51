"""The scan: beam size, jitter of lines, drift, counting noise, and the setting of contrast that makes greys of it."""

import cv2
import numpy as np

from .frame import knots, log_uniform

ELEMENTARY_CHARGE = 1.602176634e-19
"""Coulomb, exact in the SI since 2019."""


def electrons(current_pa: float, dwell_us: float) -> float:
    """Mean number that the beam of current_pa (pA) brings to a pixel in dwell_us (µs)."""
    return current_pa * 1e-12 * dwell_us * 1e-6 / ELEMENTARY_CHARGE


def counted(rng: np.random.Generator, signal: np.ndarray, number: float) -> np.ndarray:
    """The signal (1 is number counts a pixel) with shot noise; Gaussian of equal variance, as 100 counts and more are."""
    spread = np.sqrt(np.maximum(signal, 0.02) * np.float32(1 / number))
    return signal + spread * rng.standard_normal(signal.shape, dtype=np.float32)


def _drift(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Slow change of brightness: over the field, and from line to line as the scan goes down."""
    coarse = rng.normal(size=(3, 3)).astype(np.float32) * log_uniform(rng, 0.005, 0.15)
    field = cv2.resize(coarse, shape[::-1], interpolation=cv2.INTER_CUBIC)
    lines = knots(rng, shape[0], 60) * log_uniform(rng, 0.002, 0.04) + rng.normal(size=shape[0]) * log_uniform(
        rng, 0.0005, 0.02
    )
    return (1 + field + lines[:, None]).astype(np.float32)


def _jitter(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """Each line shifted a little sideways, by vibration and stray fields."""
    rows, cols = signal.shape
    shift = knots(rng, rows, 12) * log_uniform(rng, 0.05, 0.8) + rng.normal(size=rows) * log_uniform(rng, 0.02, 0.25)
    across = np.arange(cols, dtype=np.float32)[None, :] + shift[:, None].astype(np.float32)
    down = np.broadcast_to(np.arange(rows, dtype=np.float32)[:, None], signal.shape)
    return cv2.remap(signal, across, np.ascontiguousarray(down), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def record(rng: np.random.Generator, signal: np.ndarray, charge: np.ndarray, pixel_um: float) -> np.ndarray:
    """Greys (uint8) of a signal and of extra charge, both with 1 for flat iron."""
    bright = signal + charge
    if charge.any():
        bright = bright + 0.15 * cv2.blur(charge, (signal.shape[1] | 1, 1))
    sigma = max(log_uniform(rng, 0.005, 0.25) / pixel_um, rng.uniform(0.3, 1.1))
    bright = cv2.GaussianBlur(bright, (0, 0), min(sigma, 1.6)) * _drift(rng, signal.shape)
    if rng.random() < 0.5:
        bright = _jitter(rng, bright)
    bright = counted(
        rng, bright, min(max(electrons(log_uniform(rng, 5, 300), log_uniform(rng, 0.3, 30)) * 0.3, 150), 20000)
    )
    low, high = np.quantile(bright[::3, ::3], [0.006, 0.994])
    reach = max(high - low, 0.12)
    # An operator seldom fills the scale: he leaves the plateau mid-grey and sets the spread by eye.
    gain = rng.uniform(0.5, 0.97) / reach
    grey = np.clip(0.5 + (bright - (low + high) / 2) * gain + rng.uniform(-0.5, 0.5) * (1 - gain * reach) * 0.8, 0, 1)
    grey = 255 * grey ** np.float32(log_uniform(rng, 0.65, 1.5))
    image = np.round(grey).astype(np.uint8)
    if rng.random() < 0.3:
        image = cv2.imdecode(
            cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 96))])[1], cv2.IMREAD_GRAYSCALE
        )
    return image
