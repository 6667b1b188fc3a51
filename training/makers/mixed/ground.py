"""Textures of the plateau and of the groove floors. Sizes and amounts: common practice, no source."""

from dataclasses import dataclass

import numpy as np

from makers.mixed.finish import Finish
from makers.mixed.scene import Scene


@dataclass(frozen=True)
class Ground:
    """Maps (rows, cols): roughness of the plateau in µm; marks of finishing (spread √2) and of running-in; polish, 1 where none."""

    rough: np.ndarray
    fine: np.ndarray
    running_in: np.ndarray
    polish: np.ndarray


def ground(scene: Scene, hone: Finish, contact: np.ndarray) -> Ground:
    """Plateau of a finish, polished and marked along the stroke in the track; contact (rows, cols), 0–1."""
    rng, stroke = scene.rng, scene.stroke
    fine = np.zeros(scene.shape, np.float32)
    for lay in hone.lays:
        fine += scene.grain(lay + rng.normal(0, 1), rng.uniform(150, 400), rng.uniform(0.8, 1.8))
    coarse = scene.grain(hone.lays[0], 300, 4) + scene.grain(hone.lays[1], 300, 4)
    amount = rng.uniform(0.05, 0.10) if hone.name == "single" else rng.uniform(0.02, 0.06)
    rough = (0.6 * fine + 0.5 * coarse) * amount
    running_in = scene.grain(stroke, rng.uniform(150, 500), rng.uniform(0.6, 1.4)) + 0.6 * scene.grain(stroke, 250, 4)
    polish = 1 - contact * rng.uniform(0.35, 0.9)
    return Ground(rough * polish + running_in * contact * rng.uniform(0.015, 0.05), fine, running_in, polish)


def floor_grit(scene: Scene) -> np.ndarray:
    """Grit (rows, cols) of floors and torn metal at three scales, alike in all directions, of about unit spread."""
    rng, grit = scene.rng, np.zeros(scene.shape, np.float32)
    for amount, um in ((1, rng.uniform(0.3, 0.6)), (0.8, 1.3), (0.5, 3.0)):
        blurred = scene.blur(rng.standard_normal(scene.shape).astype(np.float32), um / scene.px)
        grit += amount * blurred / (blurred.std() + 1e-6)
    return 0.7 * grit
