"""What lies on the specimen or builds up under the beam: debris particles and charging.

A particle that doesn't conduct charges up: it glows, darkens what surrounds it along the scan, and trails streaks along the
lines. Particles and glare hide the surface, so that neither is assessed; the shadow beside a particle hides nothing.
"""

import numpy as np

from tests.reserve_maker.random_fields import fractal_noise, line_noise, ramp


def debris(shape: tuple[int, int], pixel: float, count: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Return height of particles, (rows, cols) float32 µm, and where they lie (bool)."""
    height = np.zeros(shape, np.float32)
    for _ in range(count):
        radius = float(np.clip(rng.lognormal(0.9, 0.6), 2.5 * pixel, 40 * pixel))
        half = int(2.2 * radius / pixel) + 3
        if 2 * half + 2 >= min(shape):
            continue
        row, col = int(rng.uniform(half, shape[0] - half - 1)), int(rng.uniform(half, shape[1] - half - 1))
        grid = np.mgrid[-half : half + 1, -half : half + 1].astype(np.float32) * pixel
        turn = rng.uniform(0, np.pi)
        along = grid[0] * np.sin(turn) + grid[1] * np.cos(turn)
        across = (grid[0] * np.cos(turn) - grid[1] * np.sin(turn)) * rng.uniform(1, 2.2)
        faces = rng.uniform(0, 2 * np.pi, 7)
        reach = (
            np.max([(along * np.cos(f) + across * np.sin(f)) / rng.uniform(0.75, 1.1) for f in faces], axis=0) / radius
        )
        rough = fractal_noise(along.shape, max(2, 0.6 * radius / pixel), rng, octaves=3, hurst=0.9)
        lump = ramp(1 - reach + 0.08 * rough, 0, 0.5) * radius * rng.uniform(0.4, 0.9) * (1 + 0.08 * rough)
        window = height[row - half : row + half + 1, col - half : col + half + 1]
        np.maximum(window, lump, out=window)
    return height, height > 0.15


def charging(shape: tuple[int, int], lies: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return what charging adds to the signal, (rows, cols) float32; where that is more than the grey range holds, the
    surface is hidden.

    lies: where debris lies; without any, glare comes from the picture's edge.
    """
    rows, cols = shape
    glow = np.zeros(shape, np.float32)
    spots = np.argwhere(lies)
    for _ in range(int(rng.integers(1, 4))):
        row, col = spots[rng.integers(len(spots))] if len(spots) else (rng.uniform(0, rows), rng.choice([0, cols - 1]))
        size = rng.uniform(0.01, 0.035) * cols
        down = (np.arange(rows, dtype=np.float32)[:, None] - row) / size
        right = (np.arange(cols, dtype=np.float32) - col) / (size * rng.uniform(1.5, 5))
        lines = np.clip(1 + 0.35 * line_noise(rows, 2, rng), 0.2, 2)[:, None]
        glow += rng.uniform(0.8, 1.8) * lines * np.exp(-(down**2)) * np.exp(-np.abs(right))
        glow -= 0.10 * np.exp(-((down / 3) ** 2)) * np.exp(-np.abs(right) / 4)
    return glow.astype(np.float32)
