"""What the metal holds and carries: graphite, carbon in valleys, films, particles that charge."""

import cv2
import numpy as np

from .draws import log_uniform, smooth_map


def graphite(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """Flakes of grey iron as cut by the surface, True: curved, pointed, 20 to 150 µm long, in no direction."""
    marks = np.zeros(shape, np.uint8)
    area_mm2 = shape[0] * shape[1] * pixel_size_um**2 * 1e-6
    for _ in range(min(60, rng.poisson(area_mm2 * log_uniform(rng, 40, 600)) + int(rng.integers(1, 4)))):
        length, points = log_uniform(rng, 20, 150) / pixel_size_um, 12
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.22, points))
        steps = np.stack((np.cos(heading), np.sin(heading)), 1) * length / points
        path = rng.uniform((0, 0), shape[::-1]) + np.cumsum(steps, 0)
        thick = log_uniform(rng, 0.8, 4) / pixel_size_um
        for at in range(points - 1):
            taper = max(1, round(thick * np.sin(np.pi * (at + 1) / points)))
            ends = [tuple(int(c) for c in np.rint(path[i])) for i in (at, at + 1)]
            cv2.line(marks, *ends, 1, min(taper, 12))
    return marks > 0


def particles(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """Height in µm of loose debris, 0 on clean ground."""
    height = np.zeros(shape, np.float32)
    for _ in range(int(rng.integers(1, 9))):
        size = max(2.5, log_uniform(rng, 1, 15) / pixel_size_um)
        size = min(size, min(shape) / 14)
        angles = np.linspace(0, 2 * np.pi, 9)[:-1] + rng.uniform(-0.3, 0.3, 8)
        radius = size * rng.uniform(0.5, 1.1, 8)
        outline = rng.uniform((0, 0), shape[::-1]) + np.stack((np.cos(angles), np.sin(angles)), 1) * radius[:, None]
        blank = np.zeros(shape, np.uint8)
        cv2.fillPoly(blank, [np.rint(outline).astype(np.int32)], 1)
        height[blank > 0] = min(size * pixel_size_um * rng.uniform(0.15, 0.6), 5)
    return height


def films(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Cover 0 to 1 of oil or tribofilm in patches with soft or sharp edges."""
    cell = log_uniform(rng, 15, 120)
    patch = smooth_map(rng, shape, (cell, cell)) + 0.4 * smooth_map(rng, shape, (cell / 4, cell / 4))
    return np.clip((patch - rng.uniform(0.4, 1.5)) * log_uniform(rng, 1, 10), 0, 1).astype(np.float32)


def charging(rng: np.random.Generator, charged: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Change of brightness round particles that hold charge (dark halo, streaks along the lines after them), and where it
    hides the surface; the change is a share of the plateau's signal."""
    at = charged.astype(np.float32)
    halo = cv2.GaussianBlur(at, (0, 0), log_uniform(rng, 3, 12))
    tail = int(log_uniform(rng, 15, 120))
    kernel = np.zeros((1, 2 * tail + 1), np.float32)
    # The beam moves right, so what a line suffers comes after the particle: the kernel looks left.
    kernel[0, : tail + 1] = np.exp(-np.arange(tail, -1, -1) * 4 / tail)
    streak = cv2.filter2D(at, -1, kernel / kernel.sum(), borderType=cv2.BORDER_CONSTANT)
    streak *= rng.normal(0.6, 0.5, (at.shape[0], 1)).astype(np.float32)
    change = rng.uniform(0.2, 0.8) * (streak - halo)
    return change, np.abs(change) > 0.16
