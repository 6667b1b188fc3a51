"""Brightness of the material, each state's texture on its own ground, whatever the slope.

Graphite is dark in either mode (tests/SOURCES.md); amounts: common practice, no source.
"""

import cv2
import numpy as np

from makers.mixed.cut import Cuts
from makers.mixed.layers import Layers
from makers.mixed.scene import Scene
from makers.mixed.states import States


def matter(scene: Scene, layers: Layers) -> np.ndarray:
    """Tone (rows, cols), plain metal about 1."""
    rng, u = scene.rng, scene.rng.uniform
    soft, plain, spots, contact = layers.soft, layers.plain, layers.spots, layers.contact
    rags, folds, grit = layers.rags, layers.folds, layers.grit
    turned, tear = grit[::-1, ::-1], rags.tear
    pearlite = scene.grain(u(0, 180), u(4, 9), u(2, 5))
    blot = scene.grain(30, 45, 30)
    plateau = 1 + u(0.01, 0.04) * pearlite + u(0.01, 0.05) * blot + u(0.01, 0.05) * plain.fine * plain.polish
    plateau = plateau + u(0.01, 0.045) * contact * plain.running_in - u(-0.06, 0.1) * contact
    rough = u(0.03, 0.10)
    floor = u(0.60, 0.98) + u(0.1, 0.3) * layers.cuts.tone + rough * grit + 0.6 * rough * plain.fine + 0.05 * blot
    patch = scene.grain(scene.stroke, 90, 30)
    sign = rng.choice((-1, 1), p=(0.45, 0.55))
    moved = 1 + sign * u(0.05, 0.17) + 0.04 * patch + u(0.05, 0.11) * folds.streak + u(0.03, 0.08) * folds.fold
    moved = moved + u(0.01, 0.05) * turned
    burnished = 1 + rng.choice((-1, 1)) * u(0.045, 0.11) + 0.025 * patch + u(0.02, 0.05) * folds.streak
    moved = moved * (1 - soft.flush) + burnished * soft.flush
    scuff = u(0.88, 1.18) + u(0.06, 0.13) * (rags.shred * tear + rags.plough * (1 - tear))
    scuff = scuff + u(0.05, 0.2) * tear * (rags.scales - 0.5) + u(0.02, 0.07) * turned * tear
    light = plateau * (1 - soft.valley) + floor * soft.valley
    light = light * (1 - soft.lid) + moved * soft.lid
    light = light - _seam(scene, layers.cuts, layers.truth) * (1 - 0.4 * soft.flush) * u(0.35, 0.7)
    light = light * (1 - soft.scuff) + scuff * soft.scuff
    light = light * (1 - u(0.45, 0.8) * spots.flake) * (1 - 0.3 * spots.pit)
    return light * (1 - u(0.0, 0.25) * spots.scratch * (1 - soft.scuff))


def _seam(scene: Scene, cuts: Cuts, truth: States) -> np.ndarray:
    """The dark seam (rows, cols), 0 to about 1, along the rims of the ground that was closed."""
    rims = cv2.morphologyEx(truth.footprint.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)).astype(np.float32)
    seam = scene.blur(rims, max(0.5, 0.3 / scene.px)) * scene.blur(truth.lid, 0.8 / scene.px)
    return seam * np.clip(0.75 + 0.5 * cuts.jitter, 0.1, 1)
