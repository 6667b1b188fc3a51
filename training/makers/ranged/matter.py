"""What lies on the ground besides grooves: scuffed streaks, graphite, pull-outs, debris, stains, fine marks."""

import cv2
import numpy as np

from .draw import clouds, log_uniform, streaks
from .setting import Setting


def fine_marks(rng: np.random.Generator, setting: Setting, worn: np.ndarray) -> np.ndarray:
    """Height in µm of finishing scratches along the lays and, in the track, of marks along the stroke; all within 0.5 µm."""
    shape, pixel = worn.shape, setting.pixel_um
    lay = setting.lays_deg[int(rng.integers(2))] + rng.normal(0, 2)
    width = max(0.8, log_uniform(rng, 0.3, 2.0) / pixel)
    finish = log_uniform(rng, 0.01, 0.07) * streaks(rng, shape, lay, log_uniform(rng, 60, 600), width)
    if setting.extent == "unworn":
        # Scratches along the stroke, from assembly, look like valleys but aren't a hone's.
        if rng.random() < 0.3:
            scratch = streaks(rng, shape, setting.stroke_deg, log_uniform(rng, 60, 400), max(1.0, 2 / pixel))
            finish -= 0.2 * np.clip(scratch - 2.0, 0, 1)
        return np.clip(finish, -0.45, 0.45)
    width = max(0.8, log_uniform(rng, 0.3, 3.0) / pixel)
    mark = log_uniform(rng, 0.01, 0.12) * streaks(rng, shape, setting.stroke_deg, log_uniform(rng, 80, 900), width)
    mark = mark - 0.25 * np.clip(streaks(rng, shape, setting.stroke_deg, 300, 2 * width) - 2, 0, 1)
    return np.clip(np.where(worn, finish * np.exp(-2 * setting.truncation_um) + mark, finish), -0.45, 0.45)


def scuffed(rng: np.random.Generator, setting: Setting, worn: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where adhesion tore or ploughed the metal, and its height in µm: ridges along the stroke, steps of torn metal across."""
    shape, pixel = worn.shape, setting.pixel_um
    if setting.scuff == 0:
        return np.zeros(shape, bool), np.zeros(shape, np.float32)
    width = max(4.0, min(log_uniform(rng, 5, 80) / pixel, 0.2 * min(shape)))
    where = streaks(rng, shape, setting.stroke_deg, width * log_uniform(rng, 6, 30), width)
    where += 0.25 * streaks(rng, shape, setting.stroke_deg, width, max(1.0, width / 6))
    inside = where[worn]
    torn = (where > np.quantile(inside, 1 - setting.scuff)) & worn if inside.size else np.zeros(shape, bool)
    torn = cv2.morphologyEx(torn.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0
    ridge = max(1.0, log_uniform(rng, 0.8, 4) / pixel)
    height = 0.5 * streaks(rng, shape, setting.stroke_deg, ridge * 14, ridge)
    tears = clouds(rng, shape, max(1.5, ridge * 1.3)) + streaks(rng, shape, setting.stroke_deg + 90, 4 * ridge, 1.5 * ridge)
    height += 0.4 * np.abs(tears) * (clouds(rng, shape, 5 * ridge) > -0.5)
    return torn, (log_uniform(rng, 0.5, 1.5) * height).astype(np.float32)


def _flake(rng: np.random.Generator, start: np.ndarray, length: float) -> np.ndarray:
    """A curved line in pixels, as graphite flakes show in a polished section."""
    heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.22, 9))
    steps = np.stack([np.cos(heading), np.sin(heading)], axis=1) * length / 9
    return np.round(start + np.cumsum(steps, axis=0)).astype(np.int32)


def _blob(rng: np.random.Generator, radius: float) -> np.ndarray:
    """Corners in pixels of a lump or hole about the origin, drawn out one way."""
    angles = np.linspace(0, 2 * np.pi, 12)[:-1]
    corners = radius * rng.uniform(0.5, 1.25, (11, 1)) * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    turn, squash = rng.uniform(0, np.pi), rng.uniform(0.35, 1)
    axis = np.array([np.cos(turn), np.sin(turn)])
    return corners - (1 - squash) * np.outer(corners @ axis, axis)


def graphite(rng: np.random.Generator, setting: Setting, shape: tuple[int, int]) -> np.ndarray:
    """Share 0–1 of each pixel that is graphite or the hole that it left."""
    drawn = np.zeros(shape, np.uint8)
    if rng.random() < 0.5:
        return drawn.astype(np.float32)
    pixel = setting.pixel_um
    length = log_uniform(rng, 15, 120) / pixel
    count = int(np.clip(rng.uniform(0.1, 1.2) * shape[0] * shape[1] / max(length, 6) ** 2, 1, 90))
    for _ in range(count):
        start = rng.uniform(0, 1, 2) * shape[::-1]
        line = _flake(rng, start, length * rng.uniform(0.4, 1.3))
        # Flakes taper to both ends.
        thick = np.sin(np.linspace(0.3, 2.9, len(line))) * rng.uniform(0.6, 1.3, len(line))
        thick *= np.clip(log_uniform(rng, 0.6, 4) / pixel, 1, 12)
        for one, two, wide in zip(line[:-1], line[1:], thick, strict=False):
            cv2.line(drawn, one.tolist(), two.tolist(), 255, max(1, round(float(wide))), cv2.LINE_AA)
    if rng.random() < 0.4:
        for _ in range(int(rng.integers(1, 12))):
            hole = _blob(rng, float(np.clip(log_uniform(rng, 1, 8) / pixel, 1, 22)))
            cv2.fillPoly(drawn, [np.round(hole + rng.uniform(0, 1, 2) * shape[::-1]).astype(np.int32)], 255, cv2.LINE_AA)
    return cv2.GaussianBlur(drawn, (0, 0), 0.8).astype(np.float32) / 255


def debris(rng: np.random.Generator, setting: Setting, shape: tuple[int, int]) -> np.ndarray:
    """Height in µm of particles that lie on the surface and hide it; 0 beside them."""
    height = np.zeros(shape, np.float32)
    if rng.random() < 0.72:
        return height
    for _ in range(int(rng.integers(1, 14))):
        radius = float(np.clip(log_uniform(rng, 0.8, 12) / setting.pixel_um, 1.5, 0.07 * min(shape)))
        lumps = _blob(rng, radius)
        lump = np.zeros(shape, np.uint8)
        cv2.fillPoly(lump, [np.round(lumps + rng.uniform(0, 1, 2) * shape[::-1]).astype(np.int32)], 1)
        height = np.maximum(height, lump * np.float32(min(radius * setting.pixel_um, 4.0)))
    return height


def films(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Share 0–1 of stain, oil or tribofilm over the surface."""
    if rng.random() < 0.7:
        return np.zeros(shape, np.float32)
    patch = clouds(rng, shape, log_uniform(rng, 20, 150)) + 0.3 * clouds(rng, shape, 8)
    return np.clip((patch - rng.uniform(0.4, 1.4)) * log_uniform(rng, 1, 8), 0, 1)
