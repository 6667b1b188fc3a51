"""From the surface to the signal, and from the signal to the picture."""

import cv2
import numpy as np

IRON_RHO, IRON_A, IRON_Z = 7.87, 55.85, 26


def electron_range_um(kilovolt: float) -> float:
    """Range of electrons in iron, µm (Kanaya and Okayama 1972)."""
    return 0.0276 * IRON_A * kilovolt**1.67 / (IRON_Z**0.89 * IRON_RHO)


def topography(depth, lean, *, kilovolt: float, canvas_um: float, side: float, starved: float, edge: float) -> np.ndarray:
    """Signal of shape alone, 1 on flat ground. lean: tan of the slope towards the detector; side: how one-sided the detector
    is; starved: loss per µm of depth, since walls hide deep ground from the detector; edge: glow of convex rims."""
    tilt_gain = np.sqrt(1 + lean**2)
    radius = float(np.clip(electron_range_um(kilovolt) / canvas_um, 1.2, 7))
    # A rim lies higher than the mean of its surroundings: electrons leave it through two faces.
    rise = cv2.GaussianBlur(depth, (0, 0), radius) - depth
    rise = np.clip(rise, -0.5, 0.5)
    return tilt_gain * (1 + side * lean) * np.exp(-starved * depth) + edge * rise


def photograph(rng, signal: np.ndarray, shape) -> np.ndarray:
    """A canvas of twice this shape taken by a scanned beam: beam size, drift, jitter, shot noise, settings. uint8."""
    rows, cols = shape
    picture = cv2.resize(signal, (cols, rows), interpolation=cv2.INTER_AREA)
    picture = cv2.GaussianBlur(picture, (0, 0), 10 ** rng.uniform(-0.5, 0.15))
    if rng.random() < 0.3:
        shift = np.cumsum(rng.normal(0, 0.12, rows)) * 0.3 + rng.normal(0, rng.uniform(0.05, 0.3), rows)
        at_x = np.arange(cols, dtype=np.float32)[None, :] + shift[:, None].astype(np.float32)
        at_y = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, axis=1)
        picture = cv2.remap(picture, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    drift = np.cumsum(rng.normal(0, 1, rows))
    drift = (drift - drift.mean()) / (np.abs(drift).max() + 1e-6) * 10 ** rng.uniform(-2.3, -1.0)
    ramp_x, ramp_y = rng.normal(0, 0.06, 2)
    shade = drift[:, None] + ramp_y * np.linspace(-1, 1, rows)[:, None] + ramp_x * np.linspace(-1, 1, cols)[None, :]
    picture = picture + shade.astype(np.float32)
    electrons = 10 ** rng.uniform(2.0, 3.9)
    noise = rng.standard_normal(shape, dtype=np.float32)
    picture = picture + noise * np.sqrt(np.clip(picture, 0.05, None) / electrons)
    # The operator turns contrast up until the picture fills most of the scale.
    low, high = np.percentile(picture[::3, ::3], (1, 99))
    span = max(high - low, 0.25 * rng.uniform(0.6, 1.4))
    filled = rng.uniform(0.45, 0.9)
    middle = rng.uniform(0.5 * filled + 0.04, 0.96 - 0.5 * filled)
    grey = np.clip((picture - 0.5 * (low + high)) / span * filled + middle, 0, 1) ** 10 ** rng.uniform(-0.12, 0.12)
    out = np.clip(np.round(grey * 255), 0, 255).astype(np.uint8)
    if rng.random() < 0.35:
        out = cv2.imdecode(cv2.imencode(".jpg", out, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(45, 96))])[1], 0)
    return out
