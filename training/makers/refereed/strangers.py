"""What is no groove and no wear: graphite, pull-outs, finishing marks, marks of the stroke, films and debris."""

import cv2
import numpy as np

from .relief import Frame, log_uniform, noise


def flakes(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Graphite flakes of grey iron as (carbon 0–1, pits in µm): curved, thin, without common direction."""
    mask = np.zeros(shape, np.uint8)
    area_mm2 = shape[0] * shape[1] * pixel_size_um**2 / 1e6
    for _ in range(min(rng.poisson(log_uniform(rng, 30, 900) * area_mm2) + int(rng.integers(0, 4)), 150)):
        steps, heading, bend = 14, rng.uniform(0, 2 * np.pi), 0.25 * rng.standard_normal()
        stride = log_uniform(rng, 6, 90) / steps / pixel_size_um
        headings = heading + np.cumsum(bend * 0.5 + 0.18 * rng.standard_normal(steps))
        path = rng.uniform(0, 1, 2) * shape[::-1] + stride * np.cumsum(np.c_[np.cos(headings), np.sin(headings)], 0)
        breadth_px = max(log_uniform(rng, 0.7, 4.0) / pixel_size_um, 1.0)
        for i in range(steps - 1):
            thick = max(round(breadth_px * (1 - abs(2 * i / steps - 1) ** 2) + 0.3), 1)
            ends = [tuple(int(c) for c in np.round(p * 8)) for p in path[i : i + 2]]
            cv2.line(mask, *ends, 255, thick, cv2.LINE_AA, 3)
    carbon = mask.astype(np.float32) / 255
    pulled = np.clip(noise(rng, shape, 20, 20) * 0.6 + rng.uniform(-0.3, 1), 0, 1)
    return carbon * (1 - 0.8 * pulled), -carbon * pulled * log_uniform(rng, 0.3, 2.5)


def marks(rng: np.random.Generator, frame: Frame, pixel_size_um: float, share: float, depth_um: float) -> np.ndarray:
    """Scratches in µm along the rows of the frame, shallower than 0.5 µm and so plateau by definition."""
    drawn = np.zeros((frame.size, frame.size), np.float32)
    for _ in range(int(share * frame.size)):
        row, start = rng.integers(0, frame.size), rng.integers(-frame.size // 2, frame.size)
        stop = start + int(frame.size * log_uniform(rng, 0.1, 2))
        broad = int(rng.integers(1, 3 + int(0.8 / pixel_size_um)))
        part = drawn[row : row + broad, max(start, 0) : max(stop, 0)]
        np.minimum(part, -min(depth_um * rng.exponential(), 0.45), out=part)
    return frame.to_field(cv2.GaussianBlur(drawn, (0, 0), 0.8))


def film(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Share of the yield that a stain, oil or tribofilm lets through: blots with an edge, some in gradual steps."""
    grain = log_uniform(rng, 15, 150)
    blot = noise(rng, shape, grain, grain * log_uniform(rng, 0.5, 2)) + 0.25 * noise(rng, shape, grain / 5, grain / 5)
    blot = np.clip((blot - rng.uniform(0.3, 1.8)) * log_uniform(rng, 1, 15), 0, 1)
    return 1 - rng.uniform(-0.15, 0.4) * blot


def debris(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """Height in µm of particles that lie on the surface."""
    height = np.zeros(shape, np.float32)
    for _ in range(int(rng.integers(1, 9))):
        radius_um = min(log_uniform(rng, 1.0, 8.0), 0.05 * min(shape) * pixel_size_um)
        radius = max(radius_um / pixel_size_um, 1.5)
        x, y = rng.uniform(0, shape[1]), rng.uniform(0, shape[0])
        reach = int(2 * radius) + 2
        rows = slice(max(int(y) - reach, 0), min(int(y) + reach, shape[0]))
        cols = slice(max(int(x) - reach, 0), min(int(x) + reach, shape[1]))
        if rows.stop - rows.start < 2 or cols.stop - cols.start < 2:
            continue
        dy, dx = np.ogrid[rows, cols]
        turn, flat = rng.uniform(0, np.pi), rng.uniform(0.5, 1)
        a, b = (dx - x) * np.cos(turn) + (dy - y) * np.sin(turn), -(dx - x) * np.sin(turn) + (dy - y) * np.cos(turn)
        lumps = 0.25 * noise(rng, (rows.stop - rows.start, cols.stop - cols.start), radius / 2, radius / 2)
        dome = np.clip(1 - (a**2 + (b / flat) ** 2) / radius**2 + lumps, 0, 1)
        np.maximum(height[rows, cols], 1.2 * radius_um * np.sqrt(dome), out=height[rows, cols])
    return height
