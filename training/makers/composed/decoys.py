"""Look-alikes that are plateau by their truth: graphite, pull-outs, scratches along the stroke, stains; and debris."""

import cv2
import numpy as np

from .noise import frame, ramp, soft, spectral

SCRATCH_UM = 0.4
"""Scratches and marks are shallower than the limit of 0.5 µm."""


def scratches(rng, shape, pixel_um: float, stroke_deg: float, number: int) -> np.ndarray:
    """Depth (rows, cols) in µm of fine scratches that keep to the stroke and run out."""
    drawn = np.zeros(shape, np.float32)
    reach = np.hypot(*shape) * pixel_um / 2
    for _ in range(number):
        turn = stroke_deg + rng.normal(0, 1.5)
        along, across = frame(shape, pixel_um, turn)
        off = np.abs(across - rng.uniform(-0.6, 0.6) * reach)
        width = max(rng.uniform(0.4, 2.0), 0.8 * pixel_um)
        run = ramp(rng.uniform(0.2, 1.2) * reach - np.abs(along - rng.uniform(-1, 1) * reach), 0, 0.15 * reach)
        np.maximum(drawn, np.exp(-((off / width) ** 2)) * run * np.float32(rng.uniform(0.3, 1) * SCRATCH_UM), out=drawn)
    return drawn


def spots(rng, shape, pixel_um: float, number: int, size_um: tuple[float, float], curl: float) -> np.ndarray:
    """Bool (rows, cols): flakes that are long and curled (curl near 1) or pits that are round (curl 0); size_um: of lengths."""
    drawn = np.zeros(shape, np.uint8)
    for _ in range(number):
        length = rng.uniform(*size_um) / pixel_um
        steps = np.linspace(0, 7, 60)
        bends, swells = (np.interp(steps, np.arange(8), rng.standard_normal(8)) for _ in range(2))
        heading = rng.uniform(0, 2 * np.pi) + curl * rng.uniform(-0.4, 0.4) * steps + 0.5 * bends
        path = np.cumsum(np.stack([np.cos(heading), np.sin(heading)], 1) * length / 60, axis=0)
        path += rng.uniform(0, 1, 2) * shape[::-1] - path.mean(axis=0)
        thick = length * (0.04 if curl else 0.22) * rng.uniform(0.6, 1.6) * (1 + 0.4 * swells) * np.sin(np.pi * (steps + 0.3) / 7.6)
        for (x, y), radius in zip(path, thick, strict=True):
            cv2.circle(drawn, (int(x), int(y)), int(np.clip(radius, 0, 60)), 1, -1)
    return drawn > 0


def stain(rng, shape, pixel_um: float) -> np.ndarray:
    """0 to 1 (rows, cols): dried oil or tribofilm, a patch with an edge that is soft or drawn in."""
    reach = min(shape) * pixel_um
    field = spectral(rng, shape, pixel_um, (reach * 0.3, reach * 0.3), 0.0, 2.2)
    edge = rng.uniform(0.05, 0.8)
    patch = ramp(field, 1.0 - edge, 1.0 + edge)
    return patch + 0.5 * rng.random() * np.exp(-(((field - 1.0) / 0.06) ** 2))


def debris(rng, shape, pixel_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Bool footprint (rows, cols) of one to three particles, and their shadow from 0 to 1 on the ground beside them."""
    lumps = spots(rng, shape, pixel_um, int(rng.integers(1, 4)), (3.0 + 6 * pixel_um, 12.0 + 14 * pixel_um), 0.0)
    size_um = 1.0 + 2 * pixel_um
    body = soft(lumps, size_um, pixel_um)
    lumps = (body > 0.2) & (body + 0.2 * spectral(rng, shape, pixel_um, (3 * size_um, 3 * size_um), 0.0, 1.5) > 0.5)
    moved = np.roll(lumps, tuple(int(v) for v in rng.normal(0, 1 + size_um / pixel_um / 2, 2)), (0, 1))
    return lumps, soft(moved, size_um, pixel_um) * ~lumps
