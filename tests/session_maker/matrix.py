"""The matter of floors and plateau: carbon in the grooves, the matrix, its hard network."""

import numpy as np

from tests.session_maker.noise import blur, smooth_noise
from tests.session_maker.relief import Relief
from tests.session_maker.specimen import Iron


def colour_floors(
    rng: np.random.Generator, relief: Relief, depth: np.ndarray, closed: np.ndarray, fibres: np.ndarray, iron: Iron
) -> None:
    """Let carbon and residue change the brightness of open floors; depth: (rows, cols) µm; fibres: unit noise along the lay."""
    shape = depth.shape
    seen = (1 - np.exp(-np.clip(depth, 0, None) / iron.floor_depth_um)) * (1 - blur(closed.astype(np.float32), 0.75))
    patches = np.clip(1 + 0.45 * smooth_noise(rng, shape, 45, 45) + 0.2 * smooth_noise(rng, shape, 8, 8), 0.1, 2)
    rough = 0.06 * iron.floor_rough * (smooth_noise(rng, shape, 2.5, 2.5) + fibres)
    relief.brightness *= 1 + seen * (iron.floor_brightness * patches + rough)


def colour_matrix(rng: np.random.Generator, relief: Relief, pixel_size_um: float, iron: Iron) -> None:
    """Let the matrix and, where there is one, the steadite's network change the brightness: common practice, no source."""
    shape = relief.brightness.shape
    relief.brightness *= 1 + 0.012 * smooth_noise(rng, shape, 12, 12) + 0.02 * smooth_noise(rng, shape, 90, 90)
    if iron.steadite > 0:
        cell = 28 / pixel_size_um**0.5
        wall = np.clip(0.25 - np.abs(smooth_noise(rng, shape, cell, cell)), 0, 0.25)
        relief.brightness *= 1 + iron.steadite * wall * 4 * (smooth_noise(rng, shape, 120, 120) > 0.3)
