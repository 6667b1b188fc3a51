"""Honed ground: the lower of a coarse process of grooves along the lays and a fine plateau process.

Grooves are the low parts of oriented noise, so they fork, merge, fade and stand at random distances. Their depths follow
from the rank within the groove's share of area: depth = D q^s makes a valley triangle of Rvk = 2 D / (s + 1), so that the
material-ratio curve is the one asked for (ISO 13565-2). Two-process ground as the sum or the lower of two random
processes: Pawlus and others (from memory). A lay as a band of grooves placed at random at one angle: Puente León,
CIRP Annals 51 (2002) 503.
"""

from dataclasses import dataclass

import numpy as np

from .noise import lay_noise, rank, smooth_noise, soft_step
from .specimen import Finish


@dataclass
class Ground:
    """Heights about the plateau's mean level and the depth of each lay's grooves, µm, on the stroke's own grid."""

    height_um: np.ndarray
    depths_um: list[np.ndarray]


def honed_ground(shape: tuple[int, int], pixel_um: float, finish: Finish, rng: np.random.Generator) -> Ground:
    """Return ground whose rows lie across the stroke and whose columns lie along it."""
    share = 1 - (1 - finish.valley_share * 1.05) ** (1 / len(finish.lays_deg))
    depths, burr = [], np.zeros(shape, np.float32)
    for index, lay in enumerate(finish.lays_deg):
        own = share * (finish.balance if index else 2 - finish.balance) if len(finish.lays_deg) > 1 else share
        depth, rim = _lay(shape, pixel_um, finish, lay, own, rng)
        depths.append(depth)
        burr = np.maximum(burr, rim)
    plateau = _plateau(shape, pixel_um, finish, rng) + finish.burr_um * burr
    depth = np.maximum.reduce(depths)
    inside = soft_step(depth, 0.0, 0.4)
    return Ground(height_um=plateau * (1 - 0.6 * inside) - depth, depths_um=depths)


def _lay(shape, pixel_um: float, finish: Finish, lay_deg: float, share: float, rng) -> tuple[np.ndarray, np.ndarray]:
    """Return the depth map of one lay and where its rims may carry burrs, 0 to 1."""
    across = finish.width_um / 2.0 / pixel_um
    lowest = None
    for _ in range(3):
        angle = lay_deg + rng.normal(0, 0.9)
        length = finish.width_um * rng.uniform(12, 40) / pixel_um
        noise = lay_noise(shape, angle, across, length, rng, wobble_px=rng.uniform(0.2, 1.2) / pixel_um, fine=0.45)
        lowest = noise if lowest is None else np.minimum(lowest, noise)
    rim_break = smooth_noise(shape, 0.6 / pixel_um + 0.6, 0.6 / pixel_um + 0.6, rng)
    order = rank(lowest + 0.02 * rim_break, rng)
    inside = np.clip(1 - order / share, 0, 1)
    deepest = 1.3 * finish.rvk_um * (finish.wall + 1) / 2  # the core line takes some of it
    depth = deepest * inside**finish.wall
    striae = lay_noise(shape, lay_deg, 0.5 / pixel_um + 0.4, 60 / pixel_um, rng, fine=0.7)
    torn = smooth_noise(shape, 0.8 / pixel_um + 0.5, 0.8 / pixel_um + 0.5, rng)
    rough = min(0.22, 0.1 * finish.rvk_um)
    depth = depth + soft_step(depth, 0.3, 1.2) * rough * (0.8 * striae + 0.35 * torn)
    band = soft_step(order, share * 0.95, share * 1.05) * (1 - soft_step(order, share * 1.1, share * 1.6))
    patchy = soft_step(lay_noise(shape, lay_deg, across * 0.7, 12 / pixel_um, rng), -0.2, 1.2)
    return np.clip(depth, 0, None), band * patchy


def _plateau(shape, pixel_um: float, finish: Finish, rng) -> np.ndarray:
    """Return the fine process: finishing marks along the lays, of the core roughness asked for."""
    marks = np.zeros(shape, np.float32)
    for lay in finish.lays_deg:
        angle = lay + rng.normal(0, 0.6)
        marks += lay_noise(shape, angle, 0.9 / pixel_um + 0.5, 90 / pixel_um, rng, fine=0.8)
        if finish.kind == "rough":
            marks += 0.6 * lay_noise(shape, angle, 2.6 / pixel_um, 120 / pixel_um, rng, fine=0.5)
    grain = smooth_noise(shape, 0.4 / pixel_um + 0.5, 0.4 / pixel_um + 0.5, rng)
    marks = marks / marks.std() + 0.25 * grain
    skewed = marks - 0.12 * np.clip(-marks - 0.5, 0, None) ** 2
    return (finish.rk_um / 3.5 * (skewed - skewed.mean())).astype(np.float32)
