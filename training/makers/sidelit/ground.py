"""The surface as honed, before the ring ran."""

from dataclasses import dataclass

import numpy as np

from makers.sidelit.frame import Frame
from makers.sidelit.hone import Finish, Groove, grooves

LIMIT_UM = 0.5
"""An open valley's ground lies at least this far below the local plateau (semwear.terms)."""


@dataclass(frozen=True)
class Ground:
    """Maps (rows, cols) in µm: marks of the finish, isotropic roughness, depth of the grooves, burr at their rims; the grooves."""

    marks: np.ndarray
    isotropic: np.ndarray
    depth: np.ndarray
    rim: np.ndarray
    grooves: list[Groove]


def unrun(frame: Frame, hone: Finish) -> Ground:
    """The honed surface; of crossing grooves the deeper one shows."""
    rng = frame.rng
    one, two = (hone.fine * (frame.noise(160, 2.6, lay) + 0.6 * frame.noise(90, 1.1, lay)) for lay in hone.lays)
    marks = np.clip(one + two, -0.38, 0.38)
    isotropic = 0.03 * frame.noise(2.5, 2.5, octaves=2)
    ragged = [frame.noise(9, 3.5, lay, octaves=3) for lay in hone.lays]
    cut = grooves(frame, hone, ragged, LIMIT_UM)
    rough = [frame.noise(18, 1.5, lay).ravel() for lay in hone.lays]
    burr = rng.uniform(0, 0.35)
    depth, floor, rim = (np.zeros(frame.x.size, np.float32) for _ in range(3))
    for groove in cut:
        i = groove.near
        lay = rough[0 if groove.angle > 0 else 1][i]
        floor[i] = np.where(groove.profile > depth[i], lay, floor[i])
        depth[i] = np.maximum(depth[i], groove.profile)
        rim[i] = np.maximum(rim[i], burr * np.exp(-(((np.abs(groove.rel) - 1.08) / 0.12) ** 2)))
    depth, floor, rim = (flat.reshape(frame.shape) for flat in (depth, floor, rim))
    along = rng.uniform(0.06, 0.22) * floor
    depth += np.clip(depth, 0, 1.2) * (along + rng.uniform(0.06, 0.2) * frame.noise(2.6, 2.2, octaves=3))
    return Ground(marks, isotropic, depth, rim, cut)
