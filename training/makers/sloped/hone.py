"""Three honing processes and the grooves they lay out."""

from dataclasses import dataclass

import numpy as np

from .grid import Grid


@dataclass(frozen=True, kw_only=True)
class Finish:
    """Included hone angle bisected by the circumference (degrees), median groove width and depth (µm), share of ground
    that grooves cover, deviation of the lands (µm), finishing scratches per mm across each lay."""

    angle_deg: tuple[float, float]
    width_um: float
    depth_um: float
    cover: tuple[float, float]
    land_um: float
    scratches_per_mm: float


FINISHES = (
    Finish(angle_deg=(40, 58), width_um=18, depth_um=2.6, cover=(0.18, 0.28), land_um=0.020, scratches_per_mm=40),
    Finish(angle_deg=(120, 140), width_um=20, depth_um=3.0, cover=(0.18, 0.30), land_um=0.018, scratches_per_mm=30),
    Finish(angle_deg=(45, 70), width_um=14, depth_um=2.4, cover=(0.28, 0.40), land_um=0.030, scratches_per_mm=70),
)
"""Plateau-honed, steep and single-stage. Angles of 30 to 60°, widths of 5 to 50 µm, depths of 1 to 10 µm and a valley share
of 15 to 30 % are usual (tests/SOURCES.md, from memory there); steeper and rougher ones: common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Groove:
    """A straight groove along `deg`, `at` µm off the middle; width and depth as cut, before wear (µm); slope: of its walls."""

    deg: float
    at: float
    width: float
    depth: float
    slope: float


def lay_grooves(rng: np.random.Generator, grid: Grid, finish: Finish, lays: tuple[float, float], wear: float) -> list[Groove]:
    """Grooves of both lays (degrees), placed at random (two bands at two angles: Puente León, CIRP Annals 51 (2002) 503) and
    hardly overlapping within one lay. `wear` µm will be taken off: width and depth are what is left after it, plus it.
    Walls slope by 17 to 27° of the 6 to 27° in tests/SOURCES.md."""
    grooves = []
    cover = rng.uniform(*finish.cover)
    balance = rng.uniform(0.4, 0.6)
    for deg, share in zip(lays, (balance, 1 - balance), strict=True):
        span = 2 * grid.reach
        used, taken = 0.0, []
        for _ in range(600):
            if used >= share * cover * span:
                break
            width = float(np.clip(finish.width_um * np.exp(0.5 * rng.standard_normal()), max(7, 10 * grid.pixel), 60))
            slope = np.tan(np.radians(rng.uniform(17, 27)))
            depth = float(np.clip(finish.depth_um * np.exp(0.4 * rng.standard_normal()), 1.0, 6.0))
            depth = min(depth, 0.46 * width * slope)
            at = rng.uniform(-grid.reach, grid.reach)
            if any(abs(at - other) < 0.5 * (width + wide) + 3 for other, wide in taken):
                continue
            used += width
            taken.append((at, width))
            grooves.append(Groove(deg=deg, at=at, width=width + 2 * wear / slope, depth=depth + wear, slope=slope))
    return grooves
