"""The microscope: beam size, shot noise by dose, drift, jitter of lines, the operator's settings, storage."""

import cv2
import numpy as np

from .randomly import cloud, log_uniform, wandering

ELECTRON_C = 1.602176634e-19


def electrons(current_pa: float, dwell_us: float) -> float:
    """Beam electrons that fall on a pixel while the beam dwells on it."""
    return current_pa * 1e-12 * dwell_us * 1e-6 / ELECTRON_C


def counted(rng: np.random.Generator, signal: np.ndarray, dose: float) -> np.ndarray:
    """signal with the noise of dose electrons counted a pixel where signal is 1 (Poisson's, taken as normal)."""
    noise = rng.standard_normal(signal.shape, dtype=np.float32)
    return signal + noise * np.sqrt(np.clip(signal, 0.05, None) / dose)


def take(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """A uint8 picture of the signal (1 where the plateau is smooth)."""
    rows, cols = signal.shape
    seen = cv2.GaussianBlur(signal, (0, 0), log_uniform(rng, 0.35, 1.4))
    shading = rng.uniform(0, 0.12)
    seen = seen * (1 + shading * cloud(rng, signal.shape, rows * rng.uniform(0.4, 1.2), cols * rng.uniform(0.4, 1.2)))
    dose = electrons(log_uniform(rng, 10, 200), log_uniform(rng, 0.5, 20)) * rng.uniform(0.15, 0.5)
    seen = counted(rng, seen, max(dose, 60))
    if rng.random() < 0.5:
        seen += (
            rng.uniform(0, 0.02) * rng.standard_normal(rows) + rng.uniform(0, 0.05) * wandering(rng, rows, rows / 3)
        )[:, None]
    if rng.random() < 0.25:
        shift = rng.uniform(0.1, 0.7) * rng.standard_normal(rows) * (rng.random(rows) < rng.uniform(0.05, 1))
        across = np.arange(cols, dtype=np.float32)[None, :] + shift[:, None].astype(np.float32)
        down = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, axis=1)
        seen = cv2.remap(seen.astype(np.float32), across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    low, middle, high = np.quantile(seen[::3, ::3], [0.005, 0.5, 0.995])
    wanted = rng.uniform(75, 165)
    # An operator turns the contrast up until the span fits the screen, seldom quite as far.
    gain = rng.uniform(0.45, 1) * min((wanted - 4) / max(middle - low, 0.02), (251 - wanted) / max(high - middle, 0.02))
    grey = np.clip((seen - middle) * gain + wanted, 0, 255)
    grey = 255 * (grey / 255) ** (log_uniform(rng, 0.75, 1.3) if rng.random() < 0.5 else 1)
    picture = np.round(grey).astype(np.uint8)
    if rng.random() < 0.3:
        packed = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(40, 96))])[1]
        picture = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return picture
