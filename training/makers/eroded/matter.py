"""What lies in or on the iron besides grooves: graphite, pull-outs, debris, tribofilm and stains."""

from dataclasses import dataclass

import cv2
import numpy as np

from .randomly import cloud, log_uniform


@dataclass(kw_only=True)
class Matter:
    """Maps 0–1 in the picture: carbon (graphite or soot), film (thin layer), debris; charging adds brightness."""

    carbon: np.ndarray
    film: np.ndarray
    debris: np.ndarray
    charging: np.ndarray


def flakes(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """Graphite of grey iron: bent worms 15–120 µm long, 0.6–5 µm wide, some of them fallen out."""
    out = np.zeros(shape, np.uint8)
    area_mm2 = shape[0] * shape[1] * pixel_size_um**2 / 1e6
    number = int(np.clip(rng.poisson(max(area_mm2 * log_uniform(rng, 80, 700), 1.5)), 0, 120))
    length, wide = log_uniform(rng, 15, 120), log_uniform(rng, 0.8, 5)
    for _ in range(number):
        steps = 14
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, rng.uniform(0.08, 0.35), steps))
        step = length * np.exp(0.4 * rng.standard_normal()) / steps / pixel_size_um
        way = rng.uniform(0, 1, 2) * shape[::-1] + np.cumsum(step * np.c_[np.cos(turn), np.sin(turn)], axis=0)
        for part in range(steps - 1):
            full = 1 - abs(2 * part / (steps - 2) - 1) ** 3
            thick = max(1, round(wide * (0.3 + full * rng.uniform(0.5, 1.1)) / pixel_size_um))
            ends = [tuple(int(v * 8) for v in way[part + both]) for both in (0, 1)]
            cv2.line(out, *ends, 255, int(min(thick, 60)), cv2.LINE_AA, 3)
    return cv2.GaussianBlur(out.astype(np.float32) / 255, (0, 0), 0.7)


def grains(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> np.ndarray:
    """Debris: ragged lumps 1–25 µm across, heights 0–1."""
    out = np.zeros(shape, np.float32)
    for _ in range(rng.integers(1, 9)):
        across = float(np.clip(log_uniform(rng, 1, 25) / pixel_size_um, 4, min(shape) / 7))
        centre = rng.uniform(0, 1, 2) * shape[::-1]
        corners = int(rng.integers(6, 13))
        turn = np.sort(rng.uniform(0, 2 * np.pi, corners))
        far = across / 2 * rng.uniform(0.45, 1.2, corners)
        outline = centre + np.c_[np.cos(turn) * far, np.sin(turn) * far * rng.uniform(0.4, 1)]
        cv2.fillPoly(out, [outline.astype(np.int32)], float(rng.uniform(0.6, 1)))
    return out


def strew(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> Matter:
    none = np.zeros(shape, np.float32)
    carbon = flakes(rng, shape, pixel_size_um) if rng.random() < 0.45 else none
    film = none
    if rng.random() < 0.4:
        lump = log_uniform(rng, 15, 300) / pixel_size_um
        patch = cloud(rng, shape, lump, lump * rng.uniform(0.5, 2)) + 0.3 * cloud(rng, shape, lump / 5, lump / 5)
        film = np.clip((patch - rng.uniform(0.2, 1.4)) * log_uniform(rng, 1.5, 12), 0, 1).astype(np.float32)
    debris = grains(rng, shape, pixel_size_um) if rng.random() < 0.4 else none
    charging = none
    if rng.random() < 0.08:
        spot = np.zeros(shape, np.float32)
        at = (rng.uniform(0, 1, 2) * shape[::-1]).astype(int)
        radius = int(rng.uniform(0.03, 0.1) * min(shape))
        cv2.ellipse(spot, tuple(int(v) for v in at), (radius * 2, radius), rng.uniform(0, 180), 0, 360, 1.0, -1)
        charging = cv2.GaussianBlur(spot, (0, 0), radius * 0.2 + 1)
    return Matter(carbon=carbon, film=film, debris=debris, charging=charging)
