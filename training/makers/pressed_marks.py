"""What lies on a liner besides grooves: scratches along the stroke, graphite, stains, films, spots, particles.

Frame: rows along the stroke. All of it stays plateau, particles are not assessed.
"""

import cv2
import numpy as np

from makers.pressed_hone import grain, line_noise, spread


def scratches(rng, shape, pixel, where):
    """Depth (µm) of scratches along the stroke, each with its own beginning and end."""
    rows, cols = shape
    depth = np.zeros(shape, np.float32)
    count = int(rng.choice([0, 1, 3, 10, 40], p=[0.3, 0.2, 0.25, 0.15, 0.1]))
    wide = spread(rng, 0.5, 6)
    for _ in range(count):
        width = max(wide * spread(rng, 0.5, 2.0) / pixel, 1.0)
        deep = spread(rng, 0.1, 2.5) * min(1.0, width * pixel / 2)
        middle, lean = rng.uniform(0, cols), rng.normal(0, 0.012)
        length = spread(rng, 0.2, 3.0) * rows
        first = rng.uniform(-0.5 * rows, rows)
        lo, hi = int(max(first, 0)), int(min(first + length, rows))
        if hi - lo < 8:
            continue
        t = np.arange(lo, hi, dtype=np.float32)
        centre = middle + lean * (t - rows / 2)
        reach = int(width * 1.5 + abs(lean) * rows) + 3
        left, right = int(max(middle - reach, 0)), int(min(middle + reach, cols))
        if right - left < 2:
            continue
        fade = np.clip((t - first) / 30, 0, 1) * np.clip((first + length - t) / 30, 0, 1)
        fade *= np.clip(1 + 0.3 * line_noise(rng, t.size, 20), 0.2, 1.6)
        x = (np.arange(left, right, dtype=np.float32)[None, :] - centre[:, None]) / np.float32(width / 2)
        mark = np.clip(1 - x * x, 0, 1) - 0.25 * np.exp(-((np.abs(x) - 1.4) ** 2) * 6)
        part = depth[lo:hi, left:right]
        np.copyto(part, np.where(np.abs(mark) > np.abs(part) / max(deep, 1e-3), mark * (deep * fade)[:, None], part))
    return depth * where if where is not None else depth


def graphite(rng, shape, pixel):
    """Share (0–1) of graphite or pull-out seen at the surface: worm- and lens-shaped flakes."""
    rows, cols = shape
    sheet = np.zeros(shape, np.uint8)
    area = rows * cols * pixel * pixel
    length = spread(rng, 6, 90)
    count = int(min(rng.poisson(spread(rng, 0.1, 1.2) * area / (length * length * 3)), 600))
    thick = spread(rng, 0.5, 4)
    for _ in range(count):
        n = 7
        turn = np.cumsum(rng.normal(0, rng.choice([0.15, 0.5]), n)) + rng.uniform(0, 2 * np.pi)
        step = length * spread(rng, 0.4, 1.6) / n / pixel
        x = rng.uniform(0, cols) + np.cumsum(np.cos(turn)) * step
        y = rng.uniform(0, rows) + np.cumsum(np.sin(turn)) * step
        points = np.stack([x, y], 1)
        size = max(thick * spread(rng, 0.5, 2) / pixel, 1.0)
        for k in range(n - 1):
            taper = max(int(round(size * np.sin(np.pi * (k + 0.8) / n))), 1)
            a, b = (points[k : k + 2] * 8).astype(int)
            cv2.line(sheet, a.tolist(), b.tolist(), 255, taper, cv2.LINE_AA, 3)
    return sheet.astype(np.float32) / 255


def stains(rng, shape, pixel, worn):
    """Tone of stains, oil and tribofilm (±1 about), islands often drawn out along the stroke."""
    tone = np.zeros(shape, np.float32)
    for _ in range(int(rng.choice([0, 1, 2], p=[0.6, 0.3, 0.1]))):
        size = spread(rng, 3, 150) / pixel
        draw = spread(rng, 1, 12) if worn else spread(rng, 1, 2)
        level, sharp = rng.uniform(0.9, 2.3), spread(rng, 0.6, 8)
        patch = np.clip((grain(rng, shape, size * draw, size) - np.float32(level)) * np.float32(sharp), 0, 1)
        tone += patch * np.float32(rng.choice([-1, 1], p=[0.65, 0.35]) * rng.uniform(0.2, 1))
    if rng.random() < 0.12:  # corrosion spots
        size = spread(rng, 1, 6) / pixel
        tone -= np.clip((grain(rng, shape, size, size) - 2.2) * 3, 0, 1)
    return tone


def particles(rng, shape, pixel):
    """Debris: list of (centre row, column, contour points in pixels)."""
    found = []
    for _ in range(int(rng.choice([0, 1, 4, 14], p=[0.72, 0.18, 0.08, 0.02]))):
        size = min(max(spread(rng, 0.8, 10) / pixel, 2.0), 0.06 * min(shape))
        n = int(rng.integers(6, 14))
        angle = np.sort(rng.uniform(0, 2 * np.pi, n))
        radius = size * rng.uniform(0.5, 1.1, n)
        middle = rng.uniform(0, 1, 2) * (shape[1], shape[0])
        found.append((middle + np.stack([np.cos(angle), np.sin(angle)], 1) * radius[:, None]).astype(np.int32))
    return found
