"""What lies about that is no groove: graphite, stains, films, debris with its shadow, charging. Tones in grey levels, lengths in pixels."""

import cv2
import numpy as np

from .weave import cloud, spread


def graphite(rng: np.random.Generator, shape: tuple[int, int], pixel: float) -> np.ndarray:
    """Cover 0–1 of curled flakes and their pull-outs; pixel in µm."""
    sheet = np.zeros(shape, np.uint8)
    length = spread(rng, 12, 120) / pixel
    count = min(int(np.prod(shape) / length**2 * spread(rng, 0.15, 1.5)) + 1, 120)
    for _ in range(count):
        run = length * spread(rng, 0.3, 1.6)
        steps = 8
        bearing = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.35, steps))
        path = np.cumsum(np.stack([np.cos(bearing), np.sin(bearing)], -1) * run / steps, 0) + rng.uniform(0, 1, 2) * shape[::-1]
        thick = max(1, round(run * rng.uniform(0.02, 0.09)))
        cv2.polylines(sheet, [np.round(path * 8).astype(np.int32)], False, 255, thick, cv2.LINE_AA, 3)
        if rng.random() < 0.15:
            spot = path[rng.integers(steps)].astype(int)
            axes = (max(1, int(run * rng.uniform(0.05, 0.16))), max(1, int(run * 0.05)))
            cv2.ellipse(sheet, (int(spot[0]), int(spot[1])), axes, float(rng.uniform(0, 180)), 0, 360, 255, -1, cv2.LINE_AA)
    return sheet.astype(np.float32) / 255


def stains(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Tone of oil and film patches: soft or sharp-edged lumps, darker more often than brighter."""
    lump = cloud(rng, shape, spread(rng, 20, 150), spread(rng, 20, 150))
    edge = spread(rng, 0.05, 0.6)
    return np.clip((lump - rng.uniform(0.5, 1.6)) / edge, 0, 1) * rng.choice([-1, -1, 1]) * spread(rng, 6, 40)


def debris(rng: np.random.Generator, grey: np.ndarray, lit: np.ndarray, pixel: float) -> np.ndarray:
    """Lay particles on the picture, in place; returns where they hide the ground (bool). lit: unit vector to the detector."""
    hidden = np.zeros(grey.shape, bool)
    for _ in range(int(spread(rng, 1, 9))):
        size = float(np.clip(spread(rng, 1.5, 25) / pixel, 2.5, 32))
        turn = rng.uniform(0, 2 * np.pi, 1) + np.sort(rng.uniform(0, 2 * np.pi, 9))
        ring = np.stack([np.cos(turn), np.sin(turn)], -1) * size * rng.uniform(0.55, 1.1, (9, 1))
        spot = rng.uniform(0, 1, 2) * grey.shape[::-1]
        body, shade = np.zeros(grey.shape, np.uint8), np.zeros(grey.shape, np.uint8)
        cv2.fillPoly(body, [np.round(ring + spot).astype(np.int32)], 1)
        cv2.fillPoly(shade, [np.round(ring * 1.15 + spot - lit * size * 0.7).astype(np.int32)], 255)
        y0, x0 = np.maximum(spot[::-1] - 3 * size, 0).astype(int)
        box = np.s_[y0 : int(spot[1] + 3 * size) + 1, x0 : int(spot[0] + 3 * size) + 1]
        grey[box] -= cv2.GaussianBlur(shade[box], (0, 0), max(0.8, size * 0.2)).astype(np.float32) / 255 * rng.uniform(8, 40)
        inside = body[box] > 0
        # Oxide and metal crumbs outshine the ground, soot is darker; none has the ground's own tone.
        tone = rng.uniform(165, 215) if rng.random() < 0.7 else rng.uniform(50, 85)
        grain = cloud(rng, inside.shape, 2.5, 2.5)
        rows, cols = np.nonzero(inside)
        facing = ((cols + x0 - spot[0]) * lit[0] + (rows + y0 - spot[1]) * lit[1]) / size
        grey[box][inside] = tone + facing * rng.uniform(3, 28) + grain[rows, cols] * rng.uniform(4, 14)
        hidden |= body > 0
    return hidden


def charging(rng: np.random.Generator, grey: np.ndarray) -> np.ndarray:
    """A charged spot that outshines the ground and drags along the rows, in place; returns where it hides the ground (bool)."""
    rows, cols = np.ogrid[: grey.shape[0], : grey.shape[1]]
    y, x = rng.uniform(0, 1, 2) * grey.shape
    tall, wide = spread(rng, 5, 35), spread(rng, 15, 90)
    glow = np.exp(-(((rows - y) / tall) ** 2) - ((cols - x) / wide) ** 2).astype(np.float32)
    glow *= 1 + 0.15 * rng.standard_normal((grey.shape[0], 1)).astype(np.float32)
    veil = np.clip(glow * 1.4, 0, 1)
    grey += (238 - grey) * veil
    return veil > 0.75
