"""Whole simulated fields with known states, for calibration and for re-testing old families. Never for training."""

import contextlib
from collections.abc import Callable
from functools import partial
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
    return _that_show_something(count, lambda index: _one(index, seed, held_out, shape))


def maker_fields(names: list[str], count: int, seed: int, *, shape: tuple[int, int] = (480, 640)) -> list[KnownField]:
    """Return as many fields of each of some makers, each maker a source of its own."""

    def drawn(name: str, index: int) -> KnownField:
        rng = np.random.default_rng([seed, index])
        um = float(np.exp(rng.uniform(*np.log(PIXEL_SIZES_UM))))
        made = import_module(f"makers.{name}").make(rng, pixel_size_um=um, shape=shape)
        return _known(made, um, f"{name}-{seed}-{index}", name)

    return [field for name in names for field in _that_show_something(count, partial(drawn, name))]


def _that_show_something(count: int, draw: Callable[[int], KnownField]) -> list[KnownField]:
    """Return the first fields of draw(0), draw(1) … that aren't refused: all but wholly charged or beyond the specimen."""
    fields, index = [], 0
    while len(fields) < count:
        with contextlib.suppress(RefusedError):
            fields.append(draw(index))
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
