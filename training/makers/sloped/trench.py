"""One groove cut into the plateau: sloped walls, a striated floor, burrs at its rims, truncated by wear."""

from dataclasses import dataclass

import numpy as np

from .grid import Grid
from .ground import LIMIT_UM, Ground
from .hone import Groove
from .noise import curve


@dataclass(kw_only=True)
class Trench:
    """The n pixels of one groove, each array (n,): flat index into the field, distance across (s) and along (t) in µm,
    half width and depth of the cut (µm), height now and small relief (µm), moved metal from 0 to 1, change of yield."""

    groove: Groove
    index: np.ndarray
    s: np.ndarray
    t: np.ndarray
    half: np.ndarray
    cut: np.ndarray
    z: np.ndarray
    relief: np.ndarray
    metal: np.ndarray
    grey: np.ndarray


def cut_trench(rng: np.random.Generator, grid: Grid, groove: Groove, wear: float) -> Trench | None:
    """The groove once `wear` µm of plateau are gone, which lowers its depth and narrows it by 2·wear/slope; None when it
    misses the field. Where the cut is deeper than the limit the floor's striae never lift it above the limit."""
    width, slope = groove.width, groove.slope
    s = grid.along(groove.deg + 90) - np.float32(groove.at)
    index = np.flatnonzero(np.abs(s).ravel() < width / 2 + 3)
    if not index.size:
        return None
    s = s.ravel()[index]
    rows, cols = np.divmod(index, grid.shape[1])
    c, n = np.cos(np.radians(groove.deg)), np.sin(np.radians(groove.deg))
    t = grid.x[cols] * np.float32(c) + grid.y[rows] * np.float32(n)
    reach = grid.radius * 1.1
    s = s + curve(rng, reach, 60, 0.5)(t)
    left, right = (curve(rng, reach, 5, 0.035 * min(width, 16))(t) for _ in range(2))
    half = width / 2 + np.where(s < 0, left, right)
    inside = half - np.abs(s)  # from the rim inwards
    floor = groove.depth * (1 + curve(rng, reach, 40, 0.05)(t))
    cut = np.clip(np.minimum(inside * slope, floor) - wear, 0, None).astype(np.float32)
    striae = curve(rng, width / 2 + 4, 1.6, 0.10)(s) + curve(rng, width / 2 + 4, 5, 0.10)(s)
    z = -np.clip(cut + striae * np.clip((cut - 0.7) / 0.8, 0, 1), 0, None)
    z = np.where(cut >= LIMIT_UM, np.minimum(z, -LIMIT_UM), z)
    from_rim = inside - wear / slope
    burr = (0.02 if wear else 0.06) * np.exp(-0.5 * ((from_rim + 0.4) / max(0.5, grid.pixel)) ** 2)  # wear takes it
    metal, grey = np.zeros_like(z), np.zeros_like(z)
    return Trench(groove=groove, index=index, s=s, t=t, half=half, cut=cut, z=z, relief=burr, metal=metal, grey=grey)


def lay_over(ground: Ground, trench: Trench) -> None:
    """Put a trench into the ground: the deeper stays, and metal rises only where nothing has been cut yet."""
    maps = (ground.z, ground.cut, ground.relief, ground.metal, ground.grey)
    z, cut, relief, metal, grey = (values.ravel() for values in maps)
    at = trench.index
    raised = (trench.cut > 0) & (trench.z >= z[at]) & (z[at] >= -0.02)
    z[at] = np.where((trench.z < z[at]) | raised, trench.z, z[at])
    cut[at] = np.maximum(cut[at], trench.cut)
    relief[at] += trench.relief
    metal[at] = np.maximum(metal[at], trench.metal)
    grey[at] = np.maximum(grey[at], trench.grey)
