"""What lies in or on the metal and is no valley: graphite, pull-outs, stains, films, debris, charging."""

from dataclasses import dataclass

import cv2
import numpy as np

from .noise import log_uniform, smooth


@dataclass(frozen=True, kw_only=True)
class Dirt:
    """Yield factor of the surface (1 is clean metal), pit heights (um, <= 0), pixels hidden by debris or charge (bool), and the
    signal these add (1 is flat clean metal)."""

    yield_factor: np.ndarray
    pits: np.ndarray
    hidden: np.ndarray
    glow: np.ndarray


def _flakes(rng: np.random.Generator, shape: tuple[int, int], pixel: float) -> np.ndarray:
    """Graphite flakes as crooked lines of tapering width: share of each pixel (0 to 1)."""
    canvas = np.zeros(shape, np.uint8)
    area = shape[0] * shape[1] * pixel**2
    count = int(np.clip(area * log_uniform(rng, 2e-4, 3e-3), 2, 70))
    size = log_uniform(rng, 8, 70)
    for _ in range(count):
        steps = int(rng.integers(4, 9))
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.35, steps))
        stride = log_uniform(rng, 0.5, 1.8) * size / pixel / steps
        track = np.cumsum(np.stack([np.cos(turn), np.sin(turn)], 1) * stride, 0) + rng.uniform(0, 1, 2) * (shape[1], shape[0])
        thick = max(1.0, log_uniform(rng, 0.6, 4) / pixel)
        for piece in range(steps - 1):
            taper = 1 - abs(2 * piece / (steps - 1) - 1) * 0.6
            ends = [tuple(int(v * 8) for v in track[piece + k]) for k in (0, 1)]
            cv2.line(canvas, ends[0], ends[1], 255, max(1, round(thick * taper)), cv2.LINE_AA, 3)
    return canvas.astype(np.float32) / 255


def _blob(rng: np.random.Generator, shape: tuple[int, int], radius: float) -> np.ndarray:
    """One ragged particle (bool), radius px, somewhere in the field."""
    spot = np.zeros(shape, bool)
    reach = int(radius * 1.6) + 2
    y, x = (int(rng.uniform(0, side)) for side in shape)
    top, left, bottom, right = max(0, y - reach), max(0, x - reach), min(shape[0], y + reach), min(shape[1], x + reach)
    rows, cols = np.mgrid[top:bottom, left:right].astype(np.float32)
    # Broken metal and carbide have faces: cut the particle from the plane by straight edges, then chip them.
    faces = rng.uniform(0, 2 * np.pi, int(rng.integers(5, 10)))
    faces = np.append(faces, (0.3, 2.4, 4.5))
    outside = np.max([((cols - x) * np.cos(a) + (rows - y) * np.sin(a)) / rng.uniform(0.6, 1.3) for a in faces], axis=0)
    chips = smooth(rng, outside.shape, (max(1.0, radius / 4),) * 2) * rng.uniform(0.02, 0.15) * radius
    spot[top:bottom, left:right] = outside + chips < radius
    return spot


def draw_dirt(rng: np.random.Generator, shape: tuple[int, int], pixel: float, *, backscatter: bool, side: tuple[float, float]) -> Dirt:
    """All dirt of one field, in the stroke frame; side: unit vector (x, y) towards the detector."""
    factor, pits, glow = np.ones(shape, np.float32), np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    hidden = np.zeros(shape, bool)
    if rng.random() < 0.4:
        share = _flakes(rng, shape, pixel)
        factor *= 1 - share * (rng.uniform(0.5, 0.8) if backscatter else rng.uniform(0.2, 0.75))
        pits -= share * rng.uniform(0, 0.6)
    for _ in range(int(rng.integers(1, 9)) if rng.random() < 0.35 else 0):
        # Pull-outs: metal gone around graphite or carbide, round rather than long.
        hole = _blob(rng, shape, max(1.5, log_uniform(rng, 1, 9) / pixel)).astype(np.float32)
        pits -= cv2.GaussianBlur(hole, (0, 0), 1) * rng.uniform(0.5, 3)
    if rng.random() < 0.3:
        # Oil stain: flat inside, often with a darker line where it dried.
        level = smooth(rng, shape, (log_uniform(rng, 20, 200) / pixel,) * 2) - rng.uniform(0.3, 1.5)
        level += rng.uniform(0.05, 0.4) * smooth(rng, shape, (log_uniform(rng, 3, 20) / pixel,) * 2)
        strength = rng.uniform(-0.25, 0.15)
        factor *= 1 + strength / (1 + np.exp(-level * 12)) - rng.uniform(0, 0.12) * np.exp(-np.square(level * 12))
    if rng.random() < 0.3:
        film = smooth(rng, shape, (log_uniform(rng, 30, 200) / pixel, log_uniform(rng, 3, 25) / pixel)) - rng.uniform(0.2, 1.2)
        factor *= 1 - rng.uniform(0.05, 0.3) / (1 + np.exp(-film * log_uniform(rng, 3, 12)))
    for _ in range(int(rng.integers(1, 8)) if rng.random() < 0.3 else 0):
        radius = max(1.8, log_uniform(rng, 0.006, 0.06) * min(shape))
        spot = _blob(rng, shape, radius)
        away = np.float32([[1, 0, -side[0] * radius * 0.8], [0, 1, -side[1] * radius * 0.8]])
        cast = cv2.warpAffine(spot.astype(np.float32), away, (shape[1], shape[0]))
        factor *= 1 - rng.uniform(0, 0.45) * cv2.GaussianBlur(cast, (0, 0), max(0.8, radius * 0.35))
        hidden |= spot
        solid = cv2.GaussianBlur(spot.astype(np.float32), (0, 0), max(0.8, radius * 0.25))
        facets = np.clip(1 + 0.3 * smooth(rng, shape, (radius / 2, radius / 2)), 0.3, 2)
        glow += spot * ((0.25 + 1.5 * (1 - solid)) * facets - 0.1) * rng.uniform(0.4, 1.2) * (1 if rng.random() < 0.75 else -0.5)
    if rng.random() < 0.08:
        charge = cv2.GaussianBlur(_blob(rng, shape, log_uniform(rng, 0.03, 0.12) * min(shape)).astype(np.float32), (0, 0), 5)
        glow += charge * 2.5
        hidden |= charge > 0.35
    return Dirt(yield_factor=factor, pits=pits, hidden=hidden, glow=glow)
