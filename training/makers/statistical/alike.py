"""Things that look like valleys or hide the surface: graphite, pull-outs, scratches, patches, debris, charging.

Lengths are px, or um where said.
"""

import cv2
import numpy as np

from .processes import chance, fractal, log_uniform, side, soft_disc, turned


def scratches(rng: np.random.Generator, shape, pixel: float, stroke: float) -> np.ndarray:
    """Depth (um) of a few scratches along the stroke, some of them deeper than the limit."""
    n = side(shape)
    canvas = np.zeros((n, n), np.float32)
    if chance(rng, 0.4):
        y = np.arange(n, dtype=np.float32)[:, None]
        for _ in range(int(rng.poisson(5)) + 1):
            width = max(log_uniform(rng, 0.6, 5) / pixel, 0.8)
            depth = min(log_uniform(rng, 0.05, 1.2), width * pixel * 0.5)
            first, last = sorted(rng.uniform(-0.3, 1.3, 2) * n)
            a, b = int(np.clip(first, 0, n)), int(np.clip(last, 0, n))
            body = depth * np.exp(-(((y - rng.uniform(0, n)) / width * 2) ** 2))
            np.maximum(canvas[:, a:b], body, out=canvas[:, a:b])
    return turned(canvas, shape, stroke + rng.normal(0, 0.015))


def graphite(rng: np.random.Generator, shape, pixel: float) -> np.ndarray:
    """Share (0-1) of graphite flakes and of the pits they leave, of any direction and curved."""
    mask = np.zeros(shape, np.uint8)
    if not chance(rng, 0.55):
        return mask.astype(np.float32)
    area = shape[0] * shape[1] * pixel**2
    size = log_uniform(rng, 12, 90)
    count = int(min(rng.poisson(area / size**2 * log_uniform(rng, 0.05, 1.0)) + 1, 150))
    thick = log_uniform(rng, 0.8, 4)
    for _ in range(count):
        length = size * log_uniform(rng, 0.4, 1.8) / pixel
        steps = 14
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(rng.normal(0, 0.12), 0.16, steps))
        path = np.cumsum(np.stack([np.cos(heading), np.sin(heading)], 1), 0) * length / steps
        path += rng.uniform(-0.05, 1.05, 2) * np.array(shape[::-1])
        taper = thick * rng.uniform(0.5, 1.5) / pixel * np.sin(np.linspace(0.25, np.pi - 0.2, steps))
        for start, end, wide in zip(path[:-1], path[1:], taper, strict=False):
            a, b = (tuple(int(v) for v in np.round(point * 16)) for point in (start, end))
            cv2.line(mask, a, b, 255, max(int(round(wide)), 1), cv2.LINE_AA, 4)
    broken = fractal(rng, shape, 0.5, 6 / pixel + 2)
    return cv2.GaussianBlur(mask, (0, 0), 0.7).astype(np.float32) / 255 * np.clip(1.3 + 0.5 * broken, 0, 1)


def patches(rng: np.random.Generator, shape, pixel: float) -> np.ndarray:
    """Brightness of stains, oil and film (signed, about -1 to 1), with soft or hard edges."""
    tone = np.zeros(shape, np.float32)
    for _ in range(int(rng.choice([0, 0, 0, 1, 1, 2]))):
        field = fractal(rng, shape, rng.uniform(0.6, 1.4), max(log_uniform(rng, 30, 400) / pixel, 25))
        edge = log_uniform(rng, 0.04, 1.0)
        tone += rng.choice([-1, -1, 1]) * log_uniform(rng, 0.15, 0.9) * np.clip((field - rng.uniform(0.2, 1.6)) / edge, 0, 1)
    return tone


def debris(rng: np.random.Generator, shape, pixel: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Particles: their share (0-1), their relief (um), and the shadow beside them (0-1)."""
    share, relief, shade = (np.zeros(shape, np.float32) for _ in range(3))
    if chance(rng, 0.35):
        away = rng.uniform(0, 2 * np.pi)
        rough = fractal(rng, shape, 0.5, log_uniform(rng, 4, 15))
        for _ in range(int(rng.poisson(2.5)) + 1):
            radius = log_uniform(rng, 1.5, 25) / pixel
            radius = float(np.clip(radius, 3, 0.09 * min(shape)))
            body = soft_disc(rng, shape, radius)
            share = np.maximum(share, body)
            dome = cv2.GaussianBlur(body, (0, 0), radius * rng.uniform(0.15, 0.6)) * (1 + rng.uniform(0, 0.35) * rough)
            relief = np.maximum(relief, body * dome * radius * pixel * 0.8)
            far = radius * rng.uniform(0.4, 1.2)
            move = np.array([[1, 0, far * np.cos(away)], [0, 1, far * np.sin(away)]])
            cast = cv2.GaussianBlur(cv2.warpAffine(body, move, shape[::-1]), (0, 0), radius * 0.3 + 0.5)
            shade = np.maximum(shade, cast * (1 - body))
    return share, relief, shade


def charging(rng: np.random.Generator, shape) -> np.ndarray:
    """Glow (0-1) of charge, drawn out along the scan lines, that hides the surface where it exceeds one half."""
    glow = np.zeros(shape, np.float32)
    if chance(rng, 0.08):
        spot = soft_disc(rng, shape, rng.uniform(0.03, 0.1) * min(shape))
        tail = cv2.blur(spot, (int(rng.uniform(0.1, 0.4) * shape[1]) | 1, 1))
        glow = np.clip(1.2 * cv2.GaussianBlur(np.maximum(spot, 1.4 * tail), (0, 0), 2), 0, 1)
    return glow
