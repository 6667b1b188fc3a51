"""What lies in or on the metal and is no groove: graphite, single scratches, stains, debris. Sizes in µm, yields relative to iron."""

import cv2
import numpy as np

from .grain import cloud, log_uniform, ramp


def flakes(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """Graphite flakes and pull-outs, 0-1: short bent lines in every direction."""
    canvas = np.zeros(shape, np.uint8)
    rows, cols = shape
    area = rows * cols * pixel_size_um**2
    number = int(np.clip(log_uniform(rng, 2, 60) * area / 2e4, 2, 120))
    length = float(np.clip(log_uniform(rng, 10, 80), 10 * pixel_size_um, 0.3 * max(shape) * pixel_size_um))
    for _ in range(number):
        reach = length * log_uniform(rng, 0.3, 1.3) / pixel_size_um
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.3, 9))
        path = np.cumsum(np.stack([np.cos(turn), np.sin(turn)], 1) * reach / 9, 0) + rng.uniform(0, 1, 2) * (cols, rows)
        thick = max(1, round(rng.uniform(0.5, 3.5) / pixel_size_um))
        for part, (start, stop) in enumerate(zip(path[:-1], path[1:], strict=True)):
            # flakes are thin blades: they taper to both ends
            local = max(1, round(min(thick, 9) * np.sin((part + 0.7) / 8.4 * np.pi) * rng.uniform(0.7, 1.2)))
            cv2.line(canvas, start.astype(int).tolist(), stop.astype(int).tolist(), 255, local, cv2.LINE_AA)
    return cv2.GaussianBlur(canvas.astype(np.float32) / 255, (0, 0), 0.7)


def scratches(rng: np.random.Generator, along: np.ndarray, across: np.ndarray, size: float, pixel_size_um: float) -> np.ndarray:
    """A few scratches along the stroke, depth in µm; they may be as deep as a valley and still are none."""
    depth = np.zeros(along.shape, np.float32)
    for _ in range(rng.integers(1, 6)):
        width = pixel_size_um * log_uniform(rng, 1, 4)
        tilt = np.tan(np.radians(rng.normal(0, 1)))
        gap = (across - rng.uniform(-0.45, 0.45) * size - tilt * along) / width
        start, run = rng.uniform(-0.6, 0.2) * size, log_uniform(rng, 0.2, 1.5) * size
        ends = ramp(along, start, start + 0.05 * size) * (1 - ramp(along, start + run, start + run * 1.2))
        depth = np.maximum(depth, np.exp(-(gap**2)) * ends * width * rng.uniform(0.1, 0.35))
    return depth


def stain(rng: np.random.Generator, along: np.ndarray, across: np.ndarray, size: float) -> np.ndarray:
    """Yield factor of oil or tribofilm patches."""
    patch = size * log_uniform(rng, 0.06, 0.5)
    field = cloud(rng, along, across, (patch * log_uniform(rng, 1, 5), patch)) + 0.4 * cloud(rng, along, across, (patch / 4, patch / 4))
    edge = rng.uniform(0.3, 1.2)
    return 1 + ramp(field, edge, edge + log_uniform(rng, 0.1, 1)) * rng.uniform(-0.35, 0.2)


def debris(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Particles: where they hide the surface, and their height in µm."""
    canvas = np.zeros(shape, np.uint8)
    for _ in range(rng.integers(1, 9)):
        radius = log_uniform(rng, 2.5, 14)
        angle = np.sort(rng.uniform(0, 2 * np.pi, rng.integers(5, 12)))
        spread = radius * rng.uniform(0.5, 1.2, angle.size)
        centre = rng.uniform(0, 1, 2) * (shape[1], shape[0])
        points = np.stack([np.cos(angle) * spread, np.sin(angle) * spread * rng.uniform(0.4, 1)], 1) + centre
        cv2.fillPoly(canvas, [points.astype(np.int32).reshape(-1, 1, 2)], 1)
    where = canvas > 0
    inside = cv2.distanceTransform(canvas, cv2.DIST_L2, 3)
    return where, np.sqrt(inside * pixel_size_um) * rng.uniform(1, 2.5)
