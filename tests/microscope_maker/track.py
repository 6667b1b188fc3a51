"""What the ring did to a field, and where it ran."""

from dataclasses import dataclass

import numpy as np

from tests.microscope_maker.figures import Figures
from tests.microscope_maker.frame import Frame


@dataclass(frozen=True, kw_only=True)
class Run:
    """Whether a field is worn at all, and then smeared and scuffed."""

    worn: bool
    smears: bool
    scuffs: bool


@dataclass(frozen=True, kw_only=True)
class Track:
    """where: (rows, cols) bool, the ring ran; weight: the same with a soft edge, 0-1; ends: whether it ends in the field."""

    where: np.ndarray
    weight: np.ndarray
    ends: bool


def draw_run(own: Figures, worn: bool) -> Run:
    """Return what a run did; most tracks are smeared, fewer scuffed."""
    smears = worn and own["smears"].random() < 0.87
    return Run(worn=worn, smears=smears, scuffs=worn and own["scuffs"].random() < 0.42)


def whole_track(f: Frame, worn: bool) -> Track:
    """Return a track that holds the whole field, or none of it."""
    return Track(where=np.full(f.shape, worn), weight=np.full(f.shape, worn, np.float32), ends=False)


def draw_track(f: Frame, worn: bool) -> Track:
    """Return a track that may end in the field: at its side, else at the turning point."""
    if not worn or f.rng.random() >= 0.22:
        return whole_track(f, worn)
    side = f.rng.random() < 0.7
    d = f.across if side else f.along
    lo, hi = float(d.min()), float(d.max())
    at = lo + (hi - lo) * f.rng.uniform(0.25, 0.75)
    d = (d - at) * f.rng.choice([-1, 1]) + (3 * f.noise(15, 40) if side else 8 * f.noise(8, 30))
    soft = f.rng.uniform(3, 14)
    weight = (1 / (1 + np.exp(np.clip(-d / soft, -30, 30)))).astype(np.float32)
    return Track(where=d > 0, weight=weight, ends=True)
