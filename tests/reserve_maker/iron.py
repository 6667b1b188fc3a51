"""What grey iron adds to a honed surface: graphite flakes and pull-outs.

Flakes of type A are curved lamellae some tens of µm long, seen edge on as thin dark lines (ISO 945-1, from memory). The
stone drags metal over part of each. Pull-outs are pits that grains or flakes left. Neither is a hone groove.
"""

import cv2
import numpy as np

from tests.reserve_maker.finish import Matrix
from tests.reserve_maker.random_fields import fractal_noise, ramp


def graphite(shape: tuple[int, int], matrix: Matrix, pixel: float, rng: np.random.Generator) -> np.ndarray:
    """Return how bare graphite lies, 0 to 1, (rows, cols) float32."""
    canvas = np.zeros(shape, np.uint8)
    length, width = matrix.flake_um / pixel, max(1.0, matrix.flake_um / 28 / pixel)
    count = int(matrix.graphite_share * shape[0] * shape[1] / (length * width * 1.1))
    nests = rng.uniform(0, 1, (1 + count // 6, 2)) * (shape[1], shape[0])
    for _ in range(count):
        points = 14
        turn = rng.normal(0, 0.7) / points + 0.25 * rng.standard_normal(points)
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(turn)
        step = length * rng.lognormal(0, 0.4) / points
        path = np.column_stack([np.cumsum(np.cos(heading)), np.cumsum(np.sin(heading))]) * step
        path += rng.uniform(0, 1, 2) * (shape[1], shape[0]) if rng.random() < 0.6 else nests[rng.integers(len(nests))]
        swell = width * rng.lognormal(0, 0.4) * np.sin(np.linspace(0.25, 2.9, points)) * rng.uniform(0.6, 1.4, points)
        for first, last, thick in zip(path[:-1], path[1:], swell[1:], strict=True):
            ends = [tuple(int(v) for v in np.round(point * 16)) for point in (first, last)]
            cv2.line(canvas, *ends, 255, max(1, round(thick)), cv2.LINE_AA, 4)
    soft = cv2.GaussianBlur(canvas, (0, 0), max(0.6, 0.25 * width)).astype(np.float32) / 255
    ragged = fractal_noise(shape, max(4.0, 4 / pixel), rng, octaves=3)
    covered = fractal_noise(shape, 14 / pixel, rng, octaves=4)
    return ramp(soft * (1 + 0.4 * ragged), 0.15, 0.6) * ramp(covered, -2.2 * matrix.bare, 1.2 - 2.2 * matrix.bare)


def pull_outs(shape: tuple[int, int], matrix: Matrix, pixel: float, rng: np.random.Generator) -> np.ndarray:
    """Return the depth of pits, (rows, cols) float32 µm, at most 0."""
    depth = np.zeros(shape, np.float32)
    if matrix.pull_out_share == 0:
        return depth
    count = rng.poisson(matrix.pull_out_share * shape[0] * shape[1] * pixel**2 / 90)
    for _ in range(count):
        radius = float(np.clip(rng.lognormal(1.3, 0.45), 2.5 * pixel, 14))
        half = int(2 * radius / pixel) + 3
        row, col = int(rng.uniform(half, shape[0] - half)), int(rng.uniform(half, shape[1] - half))
        grid = np.mgrid[-half : half + 1, -half : half + 1].astype(np.float32) * pixel
        angle = np.arctan2(grid[0], grid[1])
        lobes = sum(rng.normal(0, 0.16 / n) * np.cos(n * angle + rng.uniform(0, 6.3)) for n in range(1, 7))
        facets = fractal_noise(angle.shape, max(2, radius / pixel), rng, octaves=4, hurst=0.5)
        edge = np.hypot(*grid) / radius - 1 - lobes + 0.12 * facets
        pit = -ramp(-edge, -0.15, 0.6) * radius * rng.uniform(0.10, 0.35) * (1 + 0.25 * facets)
        window = depth[row - half : row + half + 1, col - half : col + half + 1]
        np.minimum(window, pit, out=window)
    return np.minimum(depth, 0)
