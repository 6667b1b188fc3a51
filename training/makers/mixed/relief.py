"""Heights of the surface, each state's texture on its own ground. Amounts: common practice, no source."""

import numpy as np

from makers.mixed.layers import Layers
from makers.mixed.scene import Scene


def relief(scene: Scene, layers: Layers) -> np.ndarray:
    """Height (rows, cols) float32 in µm over the plateau."""
    rng, px = scene.rng, scene.px
    cuts, truth, soft, plain = layers.cuts, layers.truth, layers.soft, layers.plain
    spots, rags, folds, grit = layers.spots, layers.rags, layers.folds, layers.grit
    tear = rags.tear
    turned = grit[::-1, ::-1]  # grit of the metal, not that of the floors
    scuff = 0.4 * rags.plough * (1.2 - tear) + 0.08 * turned + tear * (0.8 * rags.scales + 0.3 * rags.shred + 0.22 * turned - 0.6)
    scuff = scuff * rng.uniform(0.5, 1.2)
    near = np.clip(cuts.before * 2.2, 0, 1)
    rim = np.clip(scene.blur(near, 1.0 / px) - near, 0, 1) * (rng.uniform(0.1, 0.5) * (1 - 0.7 * layers.contact))
    height = -cuts.after + plain.rough * (1 - truth.lid * 0.7) + rim
    height = height - 0.45 * spots.scratch * (1 - truth.lid) - 1.2 * spots.pit - 0.3 * spots.flake
    moved = 0.06 * folds.streak + (0.16 * folds.fold + 0.05 * turned) * (1 - soft.flush)
    height = height + soft.valley * 0.14 * grit + soft.lid * moved
    filled = 0.15 * scene.blur(np.minimum(cuts.after, 3), 3 / px)
    return ((1 - soft.scuff) * height + soft.scuff * (scuff - filled)).astype(np.float32)
