"""Maker of training fields: sloped-walled grooves, worn, closed by moved metal and scuffed, in secondary electrons.

Heights come first and the truth is read from them; the picture is drawn last. Lengths are in µm, heights against the
plateau of the moment, directions in degrees from the rows' axis with y downwards.
"""

import numpy as np

from ..made import Made
from .beam import picture
from .closing import close
from .grid import Grid
from .ground import Ground
from .hone import FINISHES, lay_grooves
from .scratches import scratch_plateau
from .scuffing import scuff
from .spots import debris, graphite
from .texture import textures
from .trench import cut_trench, lay_over


def make(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Made:
    """One field with its truth; shape is (rows, cols), the whole field either ran or didn't.

    Four fields in ten are unworn; half of the worn ones have moved metal and half of those scuff (this maker's own mix).
    """
    grid = Grid(shape, float(pixel_size_um))
    finish = FINISHES[int(rng.choice(3, p=(0.4, 0.3, 0.3)))]
    worn = rng.random() >= 0.4
    smeared = bool(worn and rng.random() < 0.5)
    scuffed = bool(smeared and rng.random() < 0.5)

    tilt = rng.uniform(-10, 10)
    stroke = 90 + tilt
    half = rng.uniform(*finish.angle_deg) / 2
    lays = (tilt + half, tilt - half)
    wear = rng.uniform(0.2, 0.7) if worn else 0.0
    share = rng.uniform(0.1, 0.6) if smeared else 0.0
    push = 1 if rng.random() < 0.5 else -1

    ground = Ground(grid)
    for groove in lay_grooves(rng, grid, finish, lays, wear):
        mine = float(np.clip(share * rng.uniform(0.7, 1.3), 0.05, 0.7)) if share else 0.0
        trench = cut_trench(rng, grid, groove, wear)
        if trench is None:
            continue
        if mine:
            close(rng, grid, trench, mine, stroke, push)
        lay_over(ground, trench)

    scratch_plateau(rng, ground, lays, stroke, finish.scratches_per_mm, worn)
    torn = scuff(rng, ground, stroke) if scuffed else np.zeros(shape, np.float32)
    rough = textures(rng, grid, finish.land_um, lays[0], stroke, worn=worn, smeared=smeared)
    carbon = graphite(rng, ground)
    lump = debris(rng, ground) if rng.random() < 0.06 else np.zeros(shape, np.float32)

    image = picture(rng, ground, rough, torn, carbon, lump)
    codes = ground.codes()
    kind = "worn" + " smeared" * bool((codes == 2).any()) + " scuffed" * bool((codes == 3).any()) if worn else "unworn"
    return Made(image=image, codes=codes, worn=np.full(shape, worn), kind=kind)
