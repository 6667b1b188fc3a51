"""Grey iron under the hone: graphite flakes, pull-outs, and what lies on it: loose wear particles.

Type A flakes are thin curved lamellae some 10–120 µm long and 1–4 µm wide in section (from memory). Carbon sends back
about a fifth of iron's electrons (backscatter coefficients 0.06 and 0.28 after Reuter), so a flake is dark. None of
these is a valley of the hone.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .frames import Array, Rng, rough


@dataclass
class Matter:
    """Maps of one field: graphite (0-1), pit (µm below the plateau), particles (µm above it)."""

    graphite: Array
    pit: Array
    particles: Array


def _flakes(rng: Rng, shape: tuple[int, int], pixel: float) -> Array:
    """Flakes as curved tapering lines; as many as make a few per cent of the area at most."""
    drawn = np.zeros(shape, np.uint8)
    area = shape[0] * shape[1] * pixel**2
    for _ in range(int(min(area * rng.uniform(0.0002, 0.0015), 150)) + int(rng.integers(0, 4))):
        length, thick = rng.lognormal(np.log(28), 0.5) / pixel, np.clip(rng.lognormal(np.log(1.6), 0.4) / pixel, 1, 30)
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.28, 9))
        steps = np.stack([np.cos(turn), np.sin(turn)], 1) * length / 9
        line = np.cumsum(steps, 0) + rng.uniform(0, 1, 2) * shape[::-1]
        for k in range(8):
            ends = [tuple(int(v * 16) for v in line[k + j]) for j in (0, 1)]
            taper = 1 - 0.7 * abs(k - 3.5) / 3.5
            cv2.line(drawn, *ends, 255, max(1, round(thick * taper)), cv2.LINE_AA, 4)
    ragged = cv2.GaussianBlur(drawn.astype(np.float32) / 255, (0, 0), 0.8)
    return np.clip(ragged * (1 + 0.25 * rough(rng, shape, 5, 2)), 0, 1)


def _blobs(rng: Rng, shape: tuple[int, int], pixel: float, number: int, median_um: float) -> Array:
    """Irregular patches, 0 outside to 1 in the middle."""
    drawn = np.zeros(shape, np.float32)
    for _ in range(number):
        radius = np.clip(rng.lognormal(np.log(median_um), 0.5) / 2 / pixel, 1.5, min(shape) / 10)
        reach = int(radius * 2) + 3
        at = [int(rng.integers(0, size)) for size in shape]
        box = [slice(max(a - reach, 0), min(a + reach, size)) for a, size in zip(at, shape, strict=True)]
        y, x = (np.arange(b.start, b.stop, dtype=np.float32) - a for b, a in zip(box, at, strict=True))
        turn, stretch = rng.uniform(0, np.pi), rng.uniform(1, 2)
        u = x[None] * np.cos(turn) + y[:, None] * np.sin(turn)
        v = (y[:, None] * np.cos(turn) - x[None] * np.sin(turn)) * stretch
        round_ = np.hypot(u, v) / radius
        bumps = np.minimum(round_, 1) ** 2 * sum(
            rng.normal(0, 0.28 / k) * np.cos(k * np.arctan2(v, u) + rng.uniform(0, 6.3)) for k in range(2, 8)
        )
        shape_of = np.clip((1 + bumps - round_) * 2.0, 0, 1)
        drawn[tuple(box)] = np.maximum(drawn[tuple(box)], shape_of)
    return drawn


def matter(rng: Rng, shape: tuple[int, int], pixel: float) -> Matter:
    """Flakes in about 60 % of fields, pull-outs in half, particles in a third."""
    none = np.zeros(shape, np.float32)
    graphite = _flakes(rng, shape, pixel) if rng.random() < 0.6 else none
    pit, particles = none, none
    if rng.random() < 0.5:
        pit = _blobs(rng, shape, pixel, int(rng.integers(1, 16)), 10 * pixel + 1.5)
        pit = rng.uniform(0.8, 3.5) * pit * (1 + 0.2 * rough(rng, shape, 6, 2))
    if rng.random() < 0.35:
        particles = _blobs(rng, shape, pixel, int(rng.integers(1, 14)), 7 * pixel + 0.5)
        particles = particles * rng.uniform(1.0, 6.0) * pixel * (2 + 0.4 * rough(rng, shape, 4, 2))
    return Matter(graphite, pit, particles)
