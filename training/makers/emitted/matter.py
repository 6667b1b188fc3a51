"""What lies in or on the metal without being a groove: graphite, pull-outs, films, debris."""

import cv2
import numpy as np

from .fields import cloud, log_uniform, ramp, rough


def graphite(rng, shape, pixel):
    """0-1 over `shape` px of `pixel` µm where curved flakes of graphite come to the surface."""
    canvas = np.zeros(shape, np.uint8)
    area = shape[0] * shape[1] * pixel**2
    count = int(np.clip(area * log_uniform(rng, 1e-4, 1.5e-3), 1, 60))
    length = log_uniform(rng, 15, 110) / pixel
    thick = log_uniform(rng, 0.8, 5) / pixel
    for _ in range(count):
        steps = 14
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.25, steps))
        leap = length * log_uniform(rng, 0.4, 1.6) / steps
        path = np.c_[np.cumsum(np.cos(turn)), np.cumsum(np.sin(turn))] * leap + rng.uniform(0, 1, 2) * shape[::-1]
        broad = thick * log_uniform(rng, 0.5, 1.8)
        for k in range(steps - 1):
            taper = max(1, round(broad * np.sin(np.pi * (k + 1) / steps)))
            cv2.line(canvas, tuple(map(int, path[k] * 8)), tuple(map(int, path[k + 1] * 8)), 255, taper, cv2.LINE_AA, 3)
    return canvas.astype(np.float32) / 255


def film(rng, shape):
    """0-1 over `shape` px: patches of oil or tribofilm with soft or sharp edges."""
    field = cloud(rng, shape, log_uniform(rng, 0.07, 0.5) * min(shape)) + 0.3 * rough(rng, shape, 12)
    soft = log_uniform(rng, 0.08, 0.9)
    level = rng.uniform(0.3, 1.7)
    return ramp(field, level - soft, level + soft)


def debris(rng, shape, pixel):
    """Heights in µm, over `shape` px of `pixel` µm, of loose particles; nought where there are none."""
    height = np.zeros(shape, np.float32)
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    for _ in range(int(rng.integers(1, 6))):
        radius = float(np.clip(log_uniform(rng, 1, 14) / pixel, 2.5, 0.1 * min(shape)))
        cx, cy = rng.uniform(0, shape[1]), rng.uniform(0, shape[0])
        angle = np.arctan2(y - cy, x - cx)
        lobes = sum(rng.normal(0, 0.2 / k) * np.cos(k * angle + rng.uniform(0, 6.3)) for k in range(2, 6))
        inside = np.clip(1 - (np.hypot(x - cx, y - cy) / (radius * (1 + lobes).clip(0.4, 2))) ** 2, 0, 1)
        height = np.maximum(height, np.sqrt(inside) * radius * pixel * rng.uniform(0.3, 0.9))
    return (height * (1 + 0.12 * rough(rng, shape, 8)).clip(0.6, 1.4)).astype(np.float32)
