"""Grey cast iron under the ground: graphite lamellae, dark in either mode, and pull-outs, where a piece broke away.

Backscatter coefficient of carbon about 0.06 against 0.28 for iron (Reuter). Neither is open valley.
"""

import cv2
import numpy as np

from .noise import smooth_noise, soft_step


def graphite(shape: tuple[int, int], pixel_um: float, per_mm2: float, rng: np.random.Generator) -> np.ndarray:
    """Return the cover of graphite lamellae, 0 to 1."""
    cover = np.zeros(shape, np.uint8)
    count = rng.poisson(per_mm2 * shape[0] * shape[1] * pixel_um**2 / 1e6)
    for _ in range(count):
        length = np.exp(rng.normal(np.log(28), 0.5)) / pixel_um
        steps = max(6, int(length / 6))
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.16, steps))
        path = np.cumsum(np.stack([np.cos(heading), np.sin(heading)], 1) * length / steps, 0)
        path += rng.uniform(0, 1, 2) * (shape[1], shape[0])
        thick = np.exp(rng.normal(np.log(1.3), 0.35)) / pixel_um * np.sin(np.linspace(0.25, np.pi - 0.15, steps)) ** 0.6
        for a, b, width in zip(path[:-1], path[1:], thick[1:], strict=True):
            ends = [tuple(int(v) for v in np.round(point * 8)) for point in (a, b)]
            cv2.line(cover, *ends, 255, max(1, round(float(width * rng.uniform(0.7, 1.2)))), cv2.LINE_AA, 3)
    ragged = smooth_noise(shape, 0.5 / pixel_um + 0.5, 0.5 / pixel_um + 0.5, rng)
    soft = cv2.GaussianBlur(cover.astype(np.float32) / 255, (0, 0), 0.35 / pixel_um + 0.4)
    return soft_step(soft + 0.14 * ragged * (soft > 0.02), 0.3, 0.6)


def pullouts(shape: tuple[int, int], pixel_um: float, per_mm2: float, rng: np.random.Generator) -> np.ndarray:
    """Return the depth of pull-outs, µm."""
    depth = np.zeros(shape, np.float32)
    for _ in range(rng.poisson(per_mm2 * shape[0] * shape[1] * pixel_um**2 / 1e6)):
        radius = float(np.exp(rng.normal(np.log(3.5), 0.45))) / pixel_um
        size = int(radius * 3) + 6
        y, x = np.mgrid[-size : size + 1, -size : size + 1].astype(np.float32)
        stretch, turn = rng.uniform(0.5, 1.0), rng.uniform(0, np.pi)
        u, v = x * np.cos(turn) + y * np.sin(turn), (y * np.cos(turn) - x * np.sin(turn)) / stretch
        bumps = smooth_noise(x.shape, radius / 3 + 0.5, radius / 3 + 0.5, rng)
        facets = smooth_noise(x.shape, 0.7 / pixel_um + 0.5, 0.7 / pixel_um + 0.5, rng)
        inside = soft_step(1.15 - np.hypot(u, v) / radius + 0.22 * bumps, 0.0, 0.35)
        patch = inside * (rng.uniform(0.8, 2.6) + 0.35 * facets)
        row, col = rng.integers(0, shape[0]), rng.integers(0, shape[1])
        rows = slice(max(0, row - size), min(shape[0], row + size + 1))
        cols = slice(max(0, col - size), min(shape[1], col + size + 1))
        cut = patch[rows.start - row + size : rows.stop - row + size, cols.start - col + size : cols.stop - col + size]
        depth[rows, cols] = np.maximum(depth[rows, cols], cut)
    return depth
