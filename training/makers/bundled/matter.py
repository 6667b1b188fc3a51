"""Matter other than ground metal: graphite, pull-outs, stains and debris.

Graphite is dark in either electron mode (backscatter coefficient 0.06 against iron's 0.28, Reuter). Flakes curve
through grey iron for tens of µm; a pull-out is the cup that one leaves. Neither is a hone groove. Debris hides what
lies beneath and is not assessed.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .frame import cloudy, soft


@dataclass
class Matter:
    graphite: np.ndarray
    pits: np.ndarray
    stain: np.ndarray
    debris: np.ndarray


def flake(rng: np.random.Generator, canvas: np.ndarray, pixel_size_um: float) -> None:
    rows, cols = canvas.shape
    steps = 14
    length = rng.lognormal(np.log(35), 0.6) / pixel_size_um
    heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, rng.uniform(0.05, 0.25), steps))
    x = rng.uniform(0, cols) + np.cumsum(np.cos(heading)) * length / steps
    y = rng.uniform(0, rows) + np.cumsum(np.sin(heading)) * length / steps
    thick = rng.uniform(0.5, 2.5)
    points = np.round(np.stack([x, y], -1) * 8).astype(np.int32)
    for i in range(steps - 1):
        wide = rng.uniform(0.6, 1.4) * thick * np.sin(np.pi * (i + 0.6) / steps) / pixel_size_um
        width = int(np.clip(round(wide), 1, 40))
        cv2.line(
            canvas,
            points[i].tolist(),
            points[i + 1].tolist(),
            float(min(1.0, 0.25 + 0.75 * wide)),
            width,
            cv2.LINE_AA,
            3,
        )


def blob(rng: np.random.Generator, canvas: np.ndarray, radius: float, ragged: float) -> None:
    rows, cols = canvas.shape
    turn = np.linspace(0, 2 * np.pi, 18, endpoint=False)
    wild = rng.normal(0, 1, 18)
    out = radius * (1 + ragged * (0.6 * wild + 0.8 * np.roll(wild, 1))).clip(0.4, 1.8)
    spin, flat = rng.uniform(0, np.pi), rng.uniform(0.5, 1)
    x, y = out * np.cos(turn), out * np.sin(turn) * flat
    outline = np.stack([x * np.cos(spin) - y * np.sin(spin), x * np.sin(spin) + y * np.cos(spin)], -1)
    outline += [rng.uniform(0, cols), rng.uniform(0, rows)]
    cv2.fillPoly(canvas, [np.round(outline * 8).astype(np.int32)], 1.0, cv2.LINE_8, 3)


def present(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> Matter:
    area_mm2 = shape[0] * shape[1] * (pixel_size_um / 1000) ** 2
    graphite, pits, debris = (np.zeros(shape, np.float32) for _ in range(3))
    if rng.random() < 0.42:
        for _ in range(min(rng.poisson(np.exp(rng.uniform(2, 5.2)) * area_mm2 + 0.5), 70)):
            flake(rng, graphite, pixel_size_um)
    if rng.random() < 0.45:
        for _ in range(min(rng.poisson(np.exp(rng.uniform(2, 5)) * area_mm2 + 1), 50)):
            blob(rng, pits, float(np.clip(rng.lognormal(np.log(3 / pixel_size_um), 0.5), 2, 25)), 0.16)
    if rng.random() < 0.4:
        for _ in range(int(rng.integers(1, 9))):
            blob(rng, debris, float(np.clip(rng.lognormal(np.log(2.5 / pixel_size_um), 0.6), 2.5, 16)), 0.12)
    stain = np.zeros(shape, np.float32)
    if rng.random() < 0.3:
        cloud = cloudy(rng, shape, rng.uniform(50, 160))
        stain = soft(cloud > rng.uniform(0.4, 1.4), rng.uniform(2, 14)) * np.float32(rng.uniform(-0.35, 0.2))
    return Matter(soft(graphite, 0.6), pits, stain, debris)
