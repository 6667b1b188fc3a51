"""The grey iron under the finish: graphite flakes, pull-outs and steadite.

Type A graphite: flakes some 20 to 120 um long and a few um thick, evenly spread or in rosettes (ASTM A247, from memory).
Part of the flakes lies smeared over by honing and can't be seen. Steadite (phosphide eutectic) is hard and stands proud
by a tenth of a um or two. None of these is a groove.
"""

import math

import cv2
import numpy as np

from .recipe import Finish
from .roughness import above_share, roughness


def _flake(rng: np.random.Generator, sheet: np.ndarray, start: np.ndarray, heading: float, pixel_um: float) -> None:
    length, thick = rng.uniform(20, 110) / pixel_um, rng.uniform(0.8, 3.2) / pixel_um
    steps = 14
    bend = rng.normal(0, 0.05) + rng.normal(0, 0.13, steps)
    at = start.copy()
    for step in range(steps):
        heading += bend[step]
        to = at + length / steps * np.array([math.cos(heading), math.sin(heading)])
        width = max(thick * math.sin(math.pi * (step + 0.7) / (steps + 0.5)) * rng.uniform(0.7, 1.2), 1.0)
        ends = [tuple(int(v * 16) for v in point) for point in (at, to)]
        cv2.line(sheet, ends[0], ends[1], 255, max(int(round(width)), 1), cv2.LINE_AA, 4)
        at = to


def graphite(rng: np.random.Generator, shape: tuple[int, int], finish: Finish, pixel_um: float) -> np.ndarray:
    """Return how much of each cell is open graphite, 0 to 1."""
    sheet = np.zeros(shape, np.uint8)
    area = shape[0] * shape[1] * pixel_um**2
    count = int(finish.graphite_share * area / (60 * 2.0))
    if not count:
        return sheet.astype(np.float32)
    centres = rng.uniform(0, 1, (max(count // 9, 1), 2)) * [shape[1], shape[0]]
    for number in range(count):
        start = rng.uniform(0, 1, 2) * [shape[1], shape[0]]
        heading = rng.uniform(0, 2 * math.pi)
        if finish.rosettes:
            start = centres[number % len(centres)] + rng.normal(0, 14 / pixel_um, 2)
            heading = math.atan2(*(start - centres[number % len(centres)])[::-1]) + rng.normal(0, 0.5)
        _flake(rng, sheet, start, heading, pixel_um)
    hidden = roughness(rng, shape, 12 / pixel_um, 12 / pixel_um) + 0.5 * roughness(
        rng, shape, 2 / pixel_um, 2 / pixel_um
    )
    return cv2.GaussianBlur(sheet.astype(np.float32) / 255, (0, 0), 0.6) * np.clip(hidden * 2 + 1.2, 0, 1)


def pull_outs(rng: np.random.Generator, shape: tuple[int, int], finish: Finish, pixel_um: float) -> np.ndarray:
    """Return the depth (um) of small ragged pits where a grain came out."""
    pits = np.zeros(shape, np.float32)
    count = rng.poisson(finish.pullouts_per_mm2 * shape[0] * shape[1] * pixel_um**2 * 1e-6)
    rows, cols = np.ogrid[: shape[0], : shape[1]]
    for _ in range(count):
        size = max(rng.uniform(2, 8), 2 * pixel_um) / pixel_um
        row, col = rng.uniform(0, shape[0]), rng.uniform(0, shape[1])
        reach = int(size * 2) + 2
        window = (slice(max(int(row) - reach, 0), int(row) + reach), slice(max(int(col) - reach, 0), int(col) + reach))
        dy, dx = (rows[window[0]] - row) / size, (cols[:, window[1]] - col) / size
        if not (dy.size and dx.size):
            continue
        turn = np.arctan2(dy, dx)
        wall = 1 + sum(
            rng.normal(0, 0.32) / k**1.1 * np.cos(k * turn + rng.uniform(0, 6.3)) for k in (2, 3, 4, 7, 11, 16)
        )
        pit = np.clip((wall - np.hypot(dy, dx)) * 2.5, 0, 1) * rng.uniform(0.6, 2.5)
        pits[window] = np.maximum(pits[window], pit)
    return pits


def steadite(rng: np.random.Generator, shape: tuple[int, int], finish: Finish, pixel_um: float) -> np.ndarray:
    """Return where hard islands stand, 0 to 1."""
    if finish.steadite_share <= 0:
        return np.zeros(shape, np.float32)
    net = -np.abs(roughness(rng, shape, 40 / pixel_um, 40 / pixel_um)) + 0.25 * roughness(
        rng, shape, 9 / pixel_um, 9 / pixel_um
    )
    patch = roughness(rng, shape, 70 / pixel_um, 70 / pixel_um)
    score = net + 0.5 * patch
    return np.clip((score - above_share(score, finish.steadite_share)) * 8, 0, 1)
