"""The instrument: beam size, dose, drift, line jitter, the operator's knobs, storage. Grey levels 0–255, lengths in pixels."""

import cv2
import numpy as np

from .weave import cloud, spread, thread


def shoot(rng: np.random.Generator, grey: np.ndarray) -> np.ndarray:
    """The picture (uint8) of a scene given in grey levels."""
    rows, cols = grey.shape
    scene = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), spread(rng, 0.35, 1.5))
    scene += cloud(rng, grey.shape, rows, cols) * spread(rng, 1, 14)
    if rng.random() < 0.5:
        scene += thread(rng, rows, rows / 6)[:, None] * spread(rng, 0.5, 6)
    if rng.random() < 0.35:
        jitter = rng.normal(0, spread(rng, 0.1, 0.6), rows).astype(np.float32)
        map_x = np.arange(cols, dtype=np.float32)[None] + jitter[:, None]
        map_y = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, 1)
        scene = cv2.remap(scene, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    # Shot noise goes with the root of the signal; the dose sets how large it is at mid grey.
    dose = spread(rng, 60, 4000)
    counts = np.clip(scene / 128, 0.05, None)
    scene += rng.standard_normal(scene.shape, dtype=np.float32) * np.sqrt(counts / dose) * 128
    low, high = np.percentile(scene[::4, ::4], [1, 99])
    span = spread(rng, 70, 215)
    dark = rng.uniform(8, 245 - span)
    # The knobs can't pull a flat scene to any contrast; beyond threefold gain only noise would be gained.
    gain = min(span / max(high - low, 1.0), 3.0)
    unit = np.clip((dark + (scene - low) * gain) / 255, 0, 1) ** spread(rng, 0.75, 1.35)
    shot = np.round(unit * 255).astype(np.uint8)
    if rng.random() < 0.35:
        packed = cv2.imencode(".jpg", shot, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(45, 96))])[1]
        shot = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return shot
