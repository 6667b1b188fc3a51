"""Whole simulated fields with known states, for calibration and for re-testing old families. Never for training."""

import contextlib
from importlib import import_module

import numpy as np
from evaluation import KnownField
from makers import simulated
from makers.made import Made
from samples import prepared_array

from semwear.errors import RefusedError
from semwear.simulate.scene import FAMILIES, HELD_OUT_FAMILY, HELD_OUT_RENDERER, TRAINING_RENDERERS

CALIBRATION_SEED = 900_001
RETEST_SEED = 900_002
PIXEL_SIZES_UM = (0.15, 2.0)


def simulated_fields(count: int, seed: int, *, held_out: bool, shape: tuple[int, int] = (480, 640)) -> list[KnownField]:
    """Return simulated fields: of the training families and renderers, or (held_out) with the family or the renderer
    that training leaves out, in turn. Drawn as training's are: seldom such as show nothing."""
    fields, index = [], 0
    while len(fields) < count:
        with contextlib.suppress(RefusedError):  # all but wholly charged or beyond the specimen
            fields.append(_one(index, seed, held_out, shape))
        index += 1
    return fields


def maker_fields(names: list[str], count: int, seed: int, *, shape: tuple[int, int] = (480, 640)) -> list[KnownField]:
    """Return as many fields of each of some makers, each maker a source of its own."""
    fields = []
    for name in names:
        make, index, wanted = import_module(f"makers.{name}").make, 0, len(fields) + count
        while len(fields) < wanted:
            rng = np.random.default_rng([seed, index])
            um = float(np.exp(rng.uniform(*np.log(PIXEL_SIZES_UM))))
            with contextlib.suppress(RefusedError):
                fields.append(_known(make(rng, pixel_size_um=um, shape=shape), um, f"{name}-{seed}-{index}", name))
            index += 1
    return fields


def _one(index: int, seed: int, held_out: bool, shape: tuple[int, int]) -> KnownField:
    rng = np.random.default_rng([seed, index])
    families, renderers = FAMILIES, TRAINING_RENDERERS
    if held_out:
        families = (HELD_OUT_FAMILY,) if index % 2 else families
        renderers = renderers if index % 4 == 1 else (HELD_OUT_RENDERER,)
    um = float(np.exp(rng.uniform(*np.log(PIXEL_SIZES_UM))))
    made = simulated.make(rng, pixel_size_um=um, shape=shape, families=families, renderers=renderers)
    return _known(made, um, f"{made.kind.replace('/', '-')}-{seed}-{index}", "")


def _known(made: Made, pixel_size_um: float, name: str, source: str) -> KnownField:
    return KnownField(
        name=name,
        group=source or made.kind,
        prepared=prepared_array(made.image, pixel_size_um),
        codes=made.codes,
        worn=made.worn.astype(np.uint8),
        source=source,
    )
