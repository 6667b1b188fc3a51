"""Running-in: the plateau is cut down to a bearing plane and gets fine marks along the stroke.

Running-in takes the peaks first, then the core, the valleys last (common practice). The cut depends on a load map with
bands along the stroke, since a ring doesn't bear evenly.
"""

from dataclasses import dataclass

import numpy as np

from .noise import smooth_noise
from .specimen import Wear


@dataclass
class Worn:
    """Run ground: heights, the bearing plane's level and the load, 0 to about 2; height in µm."""

    height_um: np.ndarray
    plane_um: np.ndarray
    load: np.ndarray


def load_map(shape: tuple[int, int], pixel_um: float, rng: np.random.Generator) -> np.ndarray:
    """Return the local load over its mean: bands along the stroke, broken by patches."""
    bands = smooth_noise(shape, 400 / pixel_um, 14 / pixel_um, rng)
    patches = smooth_noise(shape, 45 / pixel_um, 25 / pixel_um, rng)
    return np.clip(1 + 0.3 * bands + 0.25 * patches, 0.1, 2.2)


def truncate(height_um: np.ndarray, pixel_um: float, wear: Wear, rng: np.random.Generator) -> Worn:
    """Return the ground after its plateau was cut; columns lie along the stroke."""
    load = load_map(height_um.shape, pixel_um, rng)
    plane = -wear.cut_um * load
    softness = 0.03 + 0.15 * wear.cut_um
    above = height_um - plane
    cut = plane - softness * np.logaddexp(0, -above / softness)
    marks = smooth_noise(height_um.shape, 110 / pixel_um, 0.5 / pixel_um + 0.35, rng)
    coarse = smooth_noise(height_um.shape, 180 / pixel_um, 1.4 / pixel_um + 0.5, rng)
    share = smooth_noise(height_um.shape, 140 / pixel_um, 7 / pixel_um, rng)
    scratched = wear.stroke_marks_um * (0.6 * marks + 0.6 * coarse * np.clip(share, 0, None))
    bearing = np.exp(-(((plane - cut) / 0.25) ** 2))
    return Worn(height_um=(cut + scratched * bearing).astype(np.float32), plane_um=plane.astype(np.float32), load=load)
