"""The plateau: fine finishing marks, marks of the ring, graphite, pull-outs, patches and stray scratches (all code 0)."""

from collections.abc import Sequence

import cv2
import numpy as np

from .layout import loguniform
from .sheet import Sheet, blob, fill, grain, stroke


def marks(
    rng: np.random.Generator, shape: tuple[int, int], angles: Sequence[float], pixel_size_um: float
) -> np.ndarray:
    """Tone (rows, cols) of fine marks along the given directions (radians), each less than 0.5 µm deep."""
    out = np.zeros(shape, np.float32)
    size = float(np.hypot(*shape))
    for angle in angles:
        across = max(1.0, loguniform(rng, 0.4, 3) / pixel_size_um)
        across = min(across, 12)
        out += loguniform(rng, 0.006, 0.04) * grain(rng, shape, loguniform(rng, 0.2, 1) * size, across, angle)
    return out


def scratches(rng: np.random.Generator, sheet: Sheet, shape: tuple[int, int], angle: float, count: int) -> None:
    """Thin pale or dark scratches about `angle` radians."""
    size = float(np.hypot(*shape))
    t = np.array([np.cos(angle), np.sin(angle)])
    for _ in range(count):
        mid = rng.uniform(-0.1, 1.1, 2) * [shape[1], shape[0]]
        bend = rng.normal(0, 0.02, 2)
        reach = loguniform(rng, 0.05, 0.9) * size / 2
        ends = np.stack([mid - (t + bend) * reach, mid + (t + bend) * reach])
        stroke(sheet.tone, ends, rng.normal(-0.01, 0.07), 1)


def graphite(rng: np.random.Generator, sheet: Sheet, shape: tuple[int, int], pixel_size_um: float) -> None:
    """Flakes of grey iron, dark curved lines some with a pale edge, and pull-outs, ragged pits without a lay."""
    area = shape[0] * shape[1] * pixel_size_um**2
    long = loguniform(rng, 15, 90)
    tone = -loguniform(rng, 0.08, 0.4)
    for _ in range(int(np.clip(loguniform(rng, 0.05, 0.8) * area / long**2, 1, 90))):
        n = 7
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.35, n))
        step = long * loguniform(rng, 0.4, 1.6) / n / pixel_size_um
        path = rng.uniform(-0.05, 1.05, 2) * [shape[1], shape[0]] + np.cumsum(
            np.stack([np.cos(heading), np.sin(heading)], 1) * step, 0
        )
        thick = loguniform(rng, 0.8, 4) / pixel_size_um
        if rng.random() < 0.4:
            stroke(sheet.tone, path, 0.12, thick + 2)
        stroke(sheet.tone, path, tone, thick)
        stroke(sheet.rough, path, 0.6, thick)
    for _ in range(rng.integers(0, 8)):
        size = min(loguniform(rng, 2, 18) / pixel_size_um, 0.08 * min(shape))
        pit = blob(
            rng,
            rng.uniform(0, 1, 2) * [shape[1], shape[0]],
            max(size, 1.5),
            max(size * rng.uniform(0.4, 1), 1.5),
            rng.uniform(0, 3),
        )
        fill(sheet.tone, pit, tone * 0.9)
        fill(sheet.rough, pit, 1.5)
        stroke(sheet.tone, pit[: rng.integers(6, 16)], rng.uniform(0.05, 0.25))


def patches(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Tone (rows, cols) of stains, oil and tribofilm: soft or sharp-edged clouds over whatever lies below."""
    scale = loguniform(rng, 0.06, 0.5) * min(shape)
    cloud = cv2.GaussianBlur(
        grain(rng, shape, scale * rng.uniform(1, 2.5), scale, rng.uniform(0, np.pi)), (0, 0), max(1, 0.15 * scale)
    )
    edge = loguniform(rng, 0.03, 0.5)
    cover = 1 / (1 + np.exp(-np.clip((cloud - rng.uniform(0.3, 1.5)) / edge, -30, 30)))
    return (rng.choice([-1, -1, 1]) * loguniform(rng, 0.03, 0.15) * cover).astype(np.float32)
