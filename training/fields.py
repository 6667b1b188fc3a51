"""Whole simulated fields with known states, for calibration and for re-testing old families. Never for training."""

import contextlib

import numpy as np
from evaluation import KnownField
from samples import prepared_array

from semwear.errors import RefusedError
from semwear.simulate.scene import FAMILIES, HELD_OUT_FAMILY, HELD_OUT_RENDERER, RENDERERS, simulate_field

CALIBRATION_SEED = 900_001
RETEST_SEED = 900_002


def simulated_fields(count: int, seed: int, *, held_out: bool, shape: tuple[int, int] = (480, 640)) -> list[KnownField]:
    """Return simulated fields: of the training families and renderers, or (held_out) with the family or the renderer
    that training leaves out, in turn."""
    fields, index = [], 0
    while len(fields) < count:
        with contextlib.suppress(RefusedError):  # all but wholly charged or beyond the specimen
            fields.append(_one(index, seed, held_out, shape))
        index += 1
    return fields


def _one(index: int, seed: int, held_out: bool, shape: tuple[int, int]) -> KnownField:
    rng = np.random.default_rng([seed, index])
    families = [name for name in FAMILIES if name != HELD_OUT_FAMILY]
    renderers = [name for name in RENDERERS if name != HELD_OUT_RENDERER]
    family, renderer = families[rng.integers(len(families))], renderers[rng.integers(len(renderers))]
    if held_out:
        family = HELD_OUT_FAMILY if index % 2 else family
        renderer = renderer if index % 4 == 1 else HELD_OUT_RENDERER
    field = simulate_field(
        rng, family=family, renderer=renderer, pixel_size_um=float(np.exp(rng.uniform(np.log(0.15), np.log(2.0)))),
        shape=shape,
    )  # fmt: skip
    return KnownField(
        name=f"{family}-{renderer}-{seed}-{index}",
        group=f"{family}/{renderer}",
        prepared=prepared_array(field.image, field.pixel_size_um),
        codes=field.codes,
        worn=field.worn.astype(np.uint8),
    )
