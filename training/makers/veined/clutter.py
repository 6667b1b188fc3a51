"""What lies on the ground and is no state of it: stains, oil and tribofilm patches, debris with its shadow and glow."""

import cv2
import numpy as np

from .grain import between, canvas_side, cloud, step, turned


def films(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float, stroke_deg: float, worn: np.ndarray) -> np.ndarray:
    """Factor on the yield (1 = clean) by oil stains with a drying rim and, where worn, (True in the track) by tribofilm along the stroke."""
    factor = np.ones(shape, np.float32)
    if rng.random() < 0.3:
        value = cloud(rng, shape, between(rng, 15, 120) / pixel_size_um) - rng.uniform(0.4, 1.4)
        factor -= between(rng, 0.03, 0.25) * (step(value, 0.1) + 0.5 * np.exp(-((value / 0.06) ** 2)))
    if worn.any() and rng.random() < 0.45:
        side = canvas_side(shape)
        size = between(rng, 3, 18) / pixel_size_um
        value = turned(cloud(rng, (side, side), size, size * between(rng, 2, 10)), stroke_deg, shape) - rng.uniform(0.2, 1.4)
        factor -= between(rng, 0.03, 0.25) * rng.choice([1, 1, -0.4]) * step(value, 0.15) * worn
    return factor


def lay_debris(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float):
    """(body, glow, shade): True under debris; 0–1 brightness of its charging edges; 0–1 darkness of its shadow."""
    body = np.zeros(shape, np.uint8)
    for _ in range(rng.integers(1, 9)):
        size = np.clip(between(rng, 1.5, 25) / pixel_size_um, 3, 0.11 * min(shape))
        turn = np.sort(rng.uniform(0, 2 * np.pi, rng.integers(6, 13)))
        spread = size * rng.uniform(0.4, 1, len(turn))[:, None] * np.array([1, rng.uniform(0.3, 1)])
        ring = np.stack([np.cos(turn), np.sin(turn)], 1) * spread + rng.uniform(0, 1, 2) * (shape[1], shape[0])
        cv2.fillPoly(body, [np.round(ring * 16).astype(np.int32)], 1, cv2.LINE_8, 4)
    # Spread in the picture's own pixels: what the detector loses beside a body follows from the body's size, not from ours.
    inner = cv2.distanceTransform(body, cv2.DIST_L2, 3)
    reach = max(2.0, 0.35 * float(inner.max()))
    glow = body * (0.5 + 0.5 * np.exp(-inner / reach) + 0.2 * cloud(rng, shape, 3))
    away = rng.uniform(0, 2 * np.pi)
    shift = np.array([[1, 0, reach * np.cos(away)], [0, 1, reach * np.sin(away)]])
    shade = cv2.GaussianBlur(cv2.warpAffine(body.astype(np.float32), shift, shape[::-1]), (0, 0), reach)
    return body > 0, glow.astype(np.float32), shade * (1 - body)
