"""Graphite flakes in section: dark, curved, thin; a look-alike that counts as what it lies in."""

import cv2
import numpy as np

from tests.session_maker.noise import blur
from tests.session_maker.relief import Relief
from tests.session_maker.specimen import Iron

LENGTHS_UM, WIDTHS_UM = (12, 75), (0.8, 3.2)
"""Flakes in section: common practice, no source."""

MOST = 140
"""Flakes in a field: own choice."""

STEPS = 14
SUBPIXEL = 8
"""Points of a curve, and parts of a pixel that ends are drawn to (cv2's shift of 3 bits)."""


def draw_flakes(
    rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float, per_10000_um2: float
) -> np.ndarray:  # fmt: skip
    """Return flakes scattered at random, (rows, cols) float32 0-1."""
    drawn = np.zeros(shape, np.uint8)
    area_um2 = shape[0] * shape[1] * pixel_size_um * pixel_size_um
    for _ in range(min(MOST, rng.poisson(per_10000_um2 * area_um2 / 1e4))):
        x, y = rng.uniform(0, shape[1]), rng.uniform(0, shape[0])
        length = rng.uniform(*LENGTHS_UM) / pixel_size_um
        width = max(1.0, rng.uniform(*WIDTHS_UM) / pixel_size_um)
        angle = rng.uniform(0, 2 * np.pi)
        bend = rng.normal(0, 1.3) / length
        points = []
        for _ in range(STEPS):
            points.append((x, y))
            angle += bend * length / STEPS + rng.normal(0, 0.13)
            x += np.cos(angle) * length / STEPS
            y += np.sin(angle) * length / STEPS
        for i in range(STEPS - 1):
            pen = width * (0.35 + np.sin(np.pi * (i + 0.5) / (STEPS - 1))) * rng.uniform(0.6, 1.2)
            one, other = (tuple(int(c * SUBPIXEL) for c in point) for point in points[i : i + 2])
            cv2.line(drawn, one, other, 255, max(1, int(round(pen))), cv2.LINE_AA, 3)
    return blur(drawn.astype(np.float32) / 255, 0.6)


def add_flakes(
    rng: np.random.Generator, relief: Relief, closed: np.ndarray, pixel_size_um: float, iron: Iron, kept: float | None
) -> None:  # fmt: skip
    """Lay graphite into the surface; closures cover it, and in a track only ``kept``, 0-1, of it still shows (None: unrun)."""
    drawn = draw_flakes(rng, closed.shape, pixel_size_um, iron.flakes) * (1 - 0.8 * blur(closed.astype(np.float32), 1))
    if kept is not None:
        drawn *= kept
    relief.brightness *= 1 - drawn * iron.flake_dark
    relief.heights -= drawn * iron.flake_um
