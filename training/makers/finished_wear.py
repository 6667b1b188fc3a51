"""Where the ring ran and what it took off: plateaus truncated, finishing scratches worn away, fine marks along the stroke.

Running-in takes the peaks first, then the core, the valleys last (tests/SOURCES.md, common practice): a truncation.
"""

import cv2
import numpy as np

from .finished_lays import Tool, cut_surface, draw_tracks
from .finished_noise import grown, smooth_field, wander
from .finished_tracks import Cut

VALLEY_DEPTH_UM = 0.5
"""Ground this far below the local plateau is valley (semwear.terms)."""
DATUM_REACH_UM = 12.0
"""Reach of the mean that says where the local plateau lies, µm (own choice)."""


def draw_track_ground(rng: np.random.Generator, shape, stroke_deg: float, pixel_size_um: float):
    """Return a name, worn (rows, cols) bool and how fully the ring bore there, (rows, cols) float32 0–1."""
    way = rng.random()
    if way < 0.4:
        return "unworn", np.zeros(shape, bool), np.zeros(shape, np.float32)
    if way < 0.8:
        return "worn", np.ones(shape, bool), np.ones(shape, np.float32)
    along = np.radians(stroke_deg + (0 if rng.random() < 0.75 else 90))  # the track's side, or where the stroke turns
    rows, cols = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    rows, cols = rows - shape[0] * rng.uniform(0.3, 0.7), cols - shape[1] * rng.uniform(0.3, 0.7)
    across = (rows * np.cos(along) + cols * np.sin(along)) * pixel_size_um * rng.choice([-1, 1])
    path = cols * np.cos(along) - rows * np.sin(along)
    line = wander(rng, 200, rng.uniform(2, 12)) * rng.uniform(0, 6)
    across = across + np.interp(path, np.linspace(-sum(shape), sum(shape), 200), line)
    return "edge", across > 0, np.clip(across / rng.uniform(3, 40), 0, 1).astype(np.float32)


def wear_off(
    rng: np.random.Generator, cut: Cut, bearing: np.ndarray, pixel_size_um: float, most_um: float = 0.7
) -> np.ndarray:
    """Take metal off the top of a surface, in place; return what was taken, (rows, cols) float32 µm.

    Between a polish of 0.05 µm and ``most_um``, which may be more than the finishing scratches are deep.
    """
    taken = float(np.exp(rng.uniform(np.log(0.05), np.log(most_um))))
    patches = 1 + rng.uniform(0, 0.6) * smooth_field(rng, cut.depth.shape, rng.uniform(15, 90), pixel_size_um)
    lost = taken * bearing * np.clip(patches, 0.1, 2)
    left = np.maximum(cut.depth - lost, 0)
    cut.tone *= np.clip(left / np.maximum(cut.depth, 1e-4), 0, 1)
    cut.depth[...] = left
    cut.raised *= np.clip(1 - lost / 0.05, 0, 1)
    return lost.astype(np.float32)


def stroke_marks(rng: np.random.Generator, bearing: np.ndarray, stroke_deg: float, pixel_size_um: float) -> Cut:
    """Fine scratches along the stroke on worn ground: plateau, whatever they look like."""
    plain = float(np.exp(rng.uniform(np.log(0.02), np.log(0.25))))
    tool = Tool(
        lays_deg=(stroke_deg,), shares=(1.0,), spread_deg=float(rng.uniform(0.2, 1.5)),
        cover=float(np.exp(rng.uniform(np.log(0.03), np.log(0.8)))), depth_um=float(rng.uniform(0.04, 0.15)), depth_spread=0.4,
        depth_limits_um=(0.02, 0.3), slopes_deg=(6.0, 27.0), floor_um=float(rng.uniform(0.3, 1.0)) * pixel_size_um**0.7,
        length_um=float(rng.uniform(40, 500)), bundle=float(rng.choice([1.0, 3.0, 8.0])), rim=float(rng.uniform(0, 0.2)),
        unevenness=0.3, tone=float(rng.choice([-1, 1]) * plain), tone_spread=plain / 2,
    )  # fmt: skip
    marks = cut_surface(draw_tracks(rng, tool, bearing.shape, pixel_size_um), bearing.shape, pixel_size_um)
    for values in (marks.depth, marks.raised, marks.tone):
        values *= np.clip(3 * bearing, 0, 1)
    return marks


def overlay(below: Cut, above: Cut, follows: float) -> np.ndarray:
    """Add a finer tool's work to a coarser one's, in place; return the fine relief in valleys, (rows, cols) float32 µm.

    On the plateau the deeper of both stays. Valley floors carry a share ``follows`` of the finer tool's tracks, which a
    compliant stone reaches, or which the coarse grain's own small edges left.
    """
    floor = np.clip((below.depth - 0.4) / 0.3, 0, 1)
    own = above.depth > below.depth
    relief = np.where(own, 0, follows * floor * above.depth).astype(np.float32)
    below.tone[...] = np.where(own, above.tone, below.tone + (1 - floor + follows * floor) * above.tone)
    below.raised[...] = np.maximum(below.raised * (above.depth < 0.05), above.raised * (1 - floor))
    below.depth[...] = np.maximum(below.depth, above.depth)
    return relief


def plateau_level(depth: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Return how far the local plateau lies under the highest land, (rows, cols) float32 µm: the mean depth of what is
    less deep than the limit, scratches included."""
    land = (depth < VALLEY_DEPTH_UM).astype(np.float32)
    weight = grown(land, DATUM_REACH_UM, pixel_size_um)
    return grown(land * depth, DATUM_REACH_UM, pixel_size_um) / np.maximum(weight, 0.02)


def without_specks(mask: np.ndarray, pixel_size_um: float, *, least_um2: float = 3, least_px: int = 8) -> np.ndarray:
    """Return a mask (rows, cols) bool without pieces smaller than both limits allow: nobody could see them."""
    count, pieces, facts, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    kept = facts[:, cv2.CC_STAT_AREA] >= max(least_px, least_um2 / pixel_size_um**2)
    kept[0] = False
    return kept[pieces] if count > 1 else mask
