"""The states of the pixels by the depths of the grooves: the truth."""

from dataclasses import dataclass

import numpy as np

from makers.mixed.cut import LIMIT_UM, Cuts
from makers.mixed.scene import Scene


@dataclass(frozen=True)
class States:
    """Maps (rows, cols): codes, uint8; footprint, bool, once open; valley, bool, still open; lid, 0 or 1, shut since."""

    codes: np.ndarray
    footprint: np.ndarray
    valley: np.ndarray
    lid: np.ndarray


def states(cuts: Cuts) -> States:
    """Code 1 where a groove is at least 0.5 µm deep, 2 where one was until metal closed it, else 0."""
    footprint, valley = cuts.before >= LIMIT_UM, cuts.after >= LIMIT_UM
    lid = footprint & ~valley
    codes = np.where(valley, 1, np.where(lid, 2, 0)).astype(np.uint8)
    return States(codes, footprint, valley, lid.astype(np.float32))


@dataclass(frozen=True)
class Soft:
    """Soft maps (rows, cols), 0–1: open valley, closed ground, the part of it that is burnished flush, scuff."""

    valley: np.ndarray
    lid: np.ndarray
    flush: np.ndarray
    scuff: np.ndarray


def soften(scene: Scene, cuts: Cuts, truth: States, scuff: np.ndarray) -> Soft:
    """Soft borders of the states, as the heights and tones pass from one to the next; scuff (rows, cols) bool."""
    valley, lid, burnished = (scene.blur(map_, 0.4 / scene.px) for map_ in (np.float32(truth.valley), truth.lid, cuts.burnished))
    return Soft(valley, lid, lid * burnished, scene.blur(np.float32(scuff), 0.5 / scene.px))
