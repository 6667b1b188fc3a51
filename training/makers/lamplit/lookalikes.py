"""Things on a liner that are no valley: graphite, pull-outs, scratches, stains, and the debris that hides the surface."""

import cv2
import numpy as np

from .noise import Turned, cloud, log_between, wander


def graphite(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """Share 0-1 of flakes and pull-outs on the picture."""
    mask = np.zeros(shape, np.uint8)
    if rng.random() < 0.45:
        return mask.astype(np.float32)
    slim = log_between(rng, 0.6, 3.5)
    length = float(np.clip(log_between(rng, 8, 90) / pixel_size_um, 5, 0.4 * min(shape)))
    for _ in range(int(log_between(rng, 2, 60))):
        points = int(rng.integers(9, 20))
        turns = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.12, points)) + rng.normal(0, 0.1) * np.arange(points)
        steps = length * np.exp(0.4 * rng.standard_normal()) / points * np.stack([np.cos(turns), np.sin(turns)], 1)
        path = np.cumsum(steps, 0) + rng.uniform(0, 1, 2) * shape[::-1]
        thick = np.clip(rng.uniform(0.4, 1.0) * slim / pixel_size_um, 1, max(1.0, 0.2 * length))
        # A flake swells in its middle and thins out to both ends.
        swell = np.sin(np.linspace(0.25, np.pi - 0.25, points - 1))
        corners = np.round(path * 8).astype(np.int32)
        for a, b, wide in zip(corners[:-1], corners[1:], thick * swell * rng.uniform(0.6, 1.3, points - 1), strict=True):
            cv2.line(mask, a.tolist(), b.tolist(), 255, max(int(round(wide)), 1), cv2.LINE_AA, 3)
        if rng.random() < 0.15:
            cv2.ellipse(
                mask, (path[-1].tolist(), (float(thick) * 2 + 2, float(thick) * 3.5 + 3), float(rng.uniform(0, 180))), 255, -1, cv2.LINE_AA
            )
    return mask.astype(np.float32) / 255


def stroke_scratches(rng: np.random.Generator, turned: Turned) -> np.ndarray:
    """A few distinct scratches along the stroke, um below zero, shallower than 0.48 um."""
    side = turned.side
    ground = np.zeros((side, side), np.float32)
    for _ in range(int(rng.integers(0, 7))):
        row, wide = rng.uniform(0.1, 0.9) * side, int(rng.integers(1, 5))
        start, run = int(rng.uniform(-0.4, 0.8) * side), int(side * log_between(rng, 0.1, 1.4))
        lean = rng.uniform(-0.03, 0.03) * side
        cv2.line(ground, (start, int(row)), (start + run, int(row + lean)), -float(rng.uniform(0.2, 0.48)), wide)
    return turned.to_picture(ground)


def stains(rng: np.random.Generator, shape: tuple[int, int], turned: Turned) -> np.ndarray:
    """Brightness factor about 1 from oil rims, tribofilm patches along the stroke and lumps of shade."""
    factor = np.ones(shape, np.float32)
    if rng.random() < 0.4:
        field = cloud(rng, shape, min(shape) * rng.uniform(0.08, 0.4)) + 0.25 * cloud(rng, shape, 6)
        inside = np.clip((field - rng.uniform(0.2, 1.3)) * rng.uniform(2, 12), 0, 1)
        factor -= inside * rng.uniform(-0.12, 0.35)
        factor -= 4 * inside * (1 - inside) * rng.uniform(-0.1, 0.2) / 2
    if rng.random() < 0.35:
        film = turned.to_picture(cloud(rng, (turned.side,) * 2, 9, 70))
        factor -= np.clip(film - rng.uniform(0.2, 1.2), 0, 0.8) * rng.uniform(-0.1, 0.3)
    return np.maximum(factor, 0.3)


def debris(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """Height in um of lumps that lie on the surface, 0 where none does."""
    height = np.zeros(shape, np.float32)
    if rng.random() < 0.5:
        return height
    for _ in range(int(rng.integers(1, 9))):
        radius = float(np.clip(log_between(rng, 0.6, 18) / pixel_size_um, 2.5, 0.09 * min(shape)))
        reach = int(radius * 1.7) + 2
        row, col = int(rng.uniform(0, shape[0])), int(rng.uniform(0, shape[1]))
        top, left = max(row - reach, 0), max(col - reach, 0)
        y, x = np.mgrid[top : min(row + reach, shape[0]), left : min(col + reach, shape[1])].astype(np.float32)
        outline = 1 + 0.25 * wander(rng, 64, 6)
        outline[-8:] = np.linspace(outline[-8], outline[0], 8)
        turn = ((np.arctan2(y - row, x - col) + np.pi) / (2 * np.pi) * 63).astype(int)
        far = np.hypot((y - row) * rng.uniform(0.8, 1.4), x - col) / (radius * np.clip(outline[turn], 0.5, 1.6))
        lump = np.sqrt(np.clip(1 - far * far, 0, 1)) * radius * pixel_size_um
        lump *= 1 + 0.3 * cloud(rng, lump.shape, 3)
        patch = height[top : top + lump.shape[0], left : left + lump.shape[1]]
        np.maximum(patch, np.where(far < 1, np.maximum(lump, 0.05), 0), out=patch)
    return height


def charging(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Share 0-1 of a glare that blots the surface out, smeared along the scan rows; mostly absent."""
    if rng.random() < 0.9:
        return np.zeros(shape, np.float32)
    field = cloud(rng, shape, min(shape) * 0.06, min(shape) * rng.uniform(0.15, 0.4))
    field += 0.25 * cloud(rng, shape, 2, 25) + 0.2 * cloud(rng, shape, 9)
    return np.clip((field - rng.uniform(1.7, 2.4)) * 2.5, 0, 1)
