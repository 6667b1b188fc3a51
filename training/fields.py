"""Whole simulated fields with known states, for calibration and for re-testing old families. Never for training."""

import contextlib

import numpy as np
from evaluation import KnownField
from makers import simulated
from samples import prepared_array

from semwear.errors import RefusedError
from semwear.simulate.scene import FAMILIES, HELD_OUT_FAMILY, HELD_OUT_RENDERER, TRAINING_RENDERERS

CALIBRATION_SEED = 900_001
RETEST_SEED = 900_002


def simulated_fields(count: int, seed: int, *, held_out: bool, shape: tuple[int, int] = (480, 640)) -> list[KnownField]:
    """Return simulated fields: of the training families and renderers, or (held_out) with the family or the renderer
    that training leaves out, in turn. Drawn as training's are: seldom such as show nothing."""
    fields, index = [], 0
    while len(fields) < count:
        with contextlib.suppress(RefusedError):  # all but wholly charged or beyond the specimen
            fields.append(_one(index, seed, held_out, shape))
        index += 1
    return fields


def _one(index: int, seed: int, held_out: bool, shape: tuple[int, int]) -> KnownField:
    rng = np.random.default_rng([seed, index])
    families, renderers = FAMILIES, TRAINING_RENDERERS
    if held_out:
        families = (HELD_OUT_FAMILY,) if index % 2 else families
        renderers = renderers if index % 4 == 1 else (HELD_OUT_RENDERER,)
    um = float(np.exp(rng.uniform(np.log(0.15), np.log(2.0))))
    made = simulated.make(rng, pixel_size_um=um, shape=shape, families=families, renderers=renderers)
    return KnownField(
        name=f"{made.kind.replace('/', '-')}-{seed}-{index}",
        group=made.kind,
        prepared=prepared_array(made.image, um),
        codes=made.codes,
        worn=made.worn.astype(np.uint8),
    )
