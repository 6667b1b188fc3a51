"""What is no hone groove: graphite flakes and pull-outs in the iron, debris lying on it, stains."""

import cv2
import numpy as np

from .chance import between, blurred, grainy


def blob(rng: np.random.Generator, centre: np.ndarray, size: float, slender: float, turn: float) -> np.ndarray:
    """Corners of an irregular rounded patch, px (column, row)."""
    angle = np.linspace(0, 2 * np.pi, 15)[:-1]
    radius = size * np.exp(rng.normal(0, 0.22, angle.size))
    points = np.column_stack([radius * np.cos(angle), radius * np.sin(angle) * slender])
    cos, sin = np.cos(turn), np.sin(turn)
    return (points @ np.array([[cos, sin], [-sin, cos]]) + centre).round().astype(np.int32)


def graphite(rng: np.random.Generator, shape: tuple[int, int], amount: float, pixel_size_um: float) -> np.ndarray:
    """Share 0–1 of flake in each pixel: curved flakes 15–80 µm long and 1–4 µm wide (grey iron, from memory)."""
    flakes = np.zeros(shape, np.uint8)
    area_um2 = shape[0] * shape[1] * pixel_size_um**2
    for _ in range(min(rng.poisson(amount * area_um2 / 4000 + 0.3 * amount), 50)):
        length = between(rng, 15, 80) / pixel_size_um
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.35, 9))
        steps = np.column_stack([np.cos(heading), np.sin(heading)]) * length / 9
        points = (rng.uniform(0, 1, 2) * shape[::-1] + np.cumsum(steps, 0)).round().astype(np.int32)
        wide = max(between(rng, 1, 4) / pixel_size_um, 1.5)
        for first, second, taper in zip(points[:-1], points[1:], np.hanning(10)[1:-1], strict=True):
            cv2.line(flakes, first.tolist(), second.tolist(), 255, max(int(wide * (0.4 + taper)), 1), cv2.LINE_AA)
    ragged = blurred(flakes.astype(np.float32) / 255, 1.2) + 0.15 * grainy(rng, shape, 2.5)
    return np.clip((ragged - 0.35) * 4, 0, 1) if flakes.any() else np.zeros(shape, np.float32)


def pull_outs(rng: np.random.Generator, shape: tuple[int, int], amount: float, pixel_size_um: float) -> np.ndarray:
    """Depth in µm of pits where a grain or flake has come out, 2–15 µm across."""
    pits = np.zeros(shape, np.float32)
    area_um2 = shape[0] * shape[1] * pixel_size_um**2
    for _ in range(min(rng.poisson(amount * area_um2 / 5000 + 1.5 * amount), 60)):
        size = max(between(rng, 1, 7) / pixel_size_um, 1.5)
        corners = blob(rng, rng.uniform(0, 1, 2) * shape[::-1], size, rng.uniform(0.3, 1), rng.uniform(0, np.pi))
        cv2.fillPoly(pits, [corners], float(min(between(rng, 0.25, 0.7) * size * pixel_size_um, 4)))
    if not pits.any():
        return pits
    return blurred(pits, 1.0) * np.clip(1 + 0.3 * grainy(rng, shape, 2.0), 0.2, 2)


def debris(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Heaps of particles on the screen: their height in µm and their area (bool)."""
    heap = np.zeros(shape, np.uint8)
    for _ in range(rng.integers(1, 9)):
        size = float(np.clip(between(rng, 0.6, 6) / pixel_size_um, 2, 0.06 * min(shape)))
        corners = blob(rng, rng.uniform(0, 1, 2) * shape[::-1], size, rng.uniform(0.4, 1), rng.uniform(0, np.pi))
        cv2.fillPoly(heap, [corners], 1)
    rise = blurred(np.sqrt(np.minimum(cv2.distanceTransform(heap, cv2.DIST_L2, 3), 9)), 1.2) * pixel_size_um * 0.6
    return rise * np.clip(1 + 0.35 * grainy(rng, shape, 2), 0.3, 2), heap > 0


def stains(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Darkening 0–1 by oil residue or carbon written by the beam."""
    patches = grainy(rng, shape, rng.uniform(30, 150))
    return np.clip(patches - rng.uniform(0.6, 1.4), 0, 1)
