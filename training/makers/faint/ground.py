"""Heights, slopes and truth of the cut and closed ground, groove by groove along its own strip of pixels."""

from dataclasses import dataclass

import numpy as np

from .hone import Groove
from .track import STEPS, Track, closing

LIMIT_UM = 0.5
"""Depth below the local plateau from which ground is open valley (semwear.terms)."""


@dataclass
class Ground:
    """Maps: before_um, depth_um: depth below the worn plateau without and with moved metal; along_col, along_row: slope of
    the height to the right and downwards (µm/µm); narrow: depth over width; edge: convex curvature at rims (0 to about 1);
    lip: rim of a closure (0 to 1); closed: share of closing (0 to 1)."""

    before_um: np.ndarray
    depth_um: np.ndarray
    along_col: np.ndarray
    along_row: np.ndarray
    narrow: np.ndarray
    edge: np.ndarray
    lip: np.ndarray
    closed: np.ndarray


def empty(shape: tuple[int, int]) -> Ground:
    return Ground(*(np.zeros(shape, np.float32) for _ in range(8)))


def codes(ground: Ground) -> np.ndarray:
    """Mask codes 0, 1 and 2 by depth alone."""
    was, is_ = ground.before_um >= LIMIT_UM, ground.depth_um >= LIMIT_UM
    return np.where(is_, 1, np.where(was, 2, 0)).astype(np.uint8)


def paint(
    rng: np.random.Generator,
    ground: Ground,
    groove: Groove,
    track: Track,
    *,
    place: np.ndarray,
    across_deg: float,
    pixel_size_um: float,
) -> None:
    """Cut one groove into the ground and close it as the track says. place: index into the track's tables at each pixel."""
    rows, cols = ground.depth_um.shape
    section, angle = groove.section, np.radians(groove.along_deg)
    towards = np.array([np.cos(np.radians(across_deg)), np.sin(np.radians(across_deg))])
    steep = abs(np.sin(angle)) > abs(np.cos(angle))
    if steep:  # the strip is laid along rows: mirror the frame at its diagonal
        angle, towards = np.pi / 2 - angle, towards[::-1]
    count, other = (rows, cols) if steep else (cols, rows)

    run_um = (np.arange(count) - count / 2) * pixel_size_um
    cos, tan = np.cos(angle), np.tan(angle)
    along_um = run_um / cos
    lateral, turning = np.full(count, groove.offset_um), np.zeros(count)
    for amplitude, length, phase in groove.waves:
        turn = 2 * np.pi / length
        lateral = lateral + amplitude * np.sin(turn * along_um + phase)
        turning = turning + amplitude * turn * np.cos(turn * along_um + phase)
    middle_um, drift = lateral / cos + tan * run_um, tan + turning / cos**2
    cosine = 1 / np.sqrt(1 + drift**2)
    start, stop = (np.tanh((along_um - groove.first_um) / groove.fade_um), np.tanh((along_um - groove.last_um) / groove.fade_um))
    strength, fading = 0.5 * (start - stop), 0.5 * (stop**2 - start**2) / groove.fade_um / cos

    reach = (0.5 * section.width_um + 2.5 * section.wall_um) / pixel_size_um
    half = int(np.ceil(reach / cosine.min())) + 1
    base = np.floor(middle_um / pixel_size_um + other / 2).astype(int)
    inside = np.flatnonzero((base > -half) & (base < other + half) & (strength > 0.02))
    if inside.size == 0:
        return
    cell = base[inside, None] + np.arange(-half, half + 1)
    which, what = np.nonzero((cell >= 0) & (cell < other))
    cell, at = cell[which, what], inside[which]
    flat = at * cols + cell if steep else cell * cols + at
    across = (((cell - other / 2) * pixel_size_um - middle_um[at]) * cosine[at]).astype(np.float32)

    share, slope, bend = section.at(across)
    depth_here = (section.depth_um * strength[at]).astype(np.float32)
    worn = track.worn_um.astype(np.float32)[place.ravel()[flat]]
    before = depth_here * share - worn
    under = before > 0
    before = np.where(under, before, 0)
    fall = np.where(under, depth_here * slope, 0)
    by_run = -(fall * (-drift * cosine)[at] + under * section.depth_um * fading[at] * share)
    by_other = -fall * cosine[at]

    closed, closing_slope = closing(
        rng, track, width_um=section.width_um, deep=min(1.0, section.depth_um / 3), pixel_size_um=pixel_size_um
    )
    depth, lip, shut = before, np.zeros_like(before), np.zeros_like(before)
    if closed.any():
        step = place.ravel()[flat]
        shut, shutting = closed[step].astype(np.float32), closing_slope[step].astype(np.float32)
        if rng.random() < track.partly:  # a flake comes over from one rim and stops at a line of its own
            side, turn = rng.choice([-1.0, 1.0]), max(section.wall_um * 0.5, pixel_size_um)
            over = 0.5 * (1 + np.tanh((side * across + rng.uniform(-0.3, 0.5) * section.half_um) / turn))
            shut, shutting = shut * over, shutting * over
        filled = np.maximum(before - track.left_um, 0)
        depth = before - shut * filled
        kept = 1 - shut * (filled > 0)  # ground above what a closure leaves isn't moved
        by_run = by_run * kept + shutting * towards[0] * filled
        by_other = by_other * kept + shutting * towards[1] * filled
        lip = 4 * shut * (1 - shut) * np.clip(before / LIMIT_UM, 0, 1)

    by_run, by_other = (by_other, by_run) if steep else (by_run, by_other)
    edge = np.clip(depth_here * bend * section.wall_um / np.tan(np.radians(15.0)), 0, 1.5) * under
    if worn.any():  # a worn rim is a sharp corner in place of the round one
        edge = edge + 0.7 * np.exp(-((depth_here * share - worn) / 0.15 - 0.5) ** 2) * (worn > 0.05) * (depth_here > worn)
    if groove.torn > 0:
        bits = np.repeat(rng.random(count // 3 + 1), 3)[:count]
        edge = edge * (1 + 2.5 * groove.torn * (bits[at] > 0.6))
    edge = edge * (1 - shut) ** 2

    deeper = depth > ground.depth_um.ravel()[flat]
    won = flat[deeper]
    for map_, value in (
        (ground.depth_um, depth),
        (ground.along_col, by_run),
        (ground.along_row, by_other),
        (ground.narrow, depth / section.width_um),
    ):
        map_.ravel()[won] = value[deeper]
    for map_, value in ((ground.before_um, before), (ground.edge, edge), (ground.lip, lip), (ground.closed, shut * (before > 0.1))):
        map_.ravel()[flat] = np.maximum(map_.ravel()[flat], value)


def places(across_um: np.ndarray, reach_um: float) -> np.ndarray:
    """Index into the track's tables of places across the stroke in µm."""
    return np.clip((across_um + reach_um) * ((STEPS - 1) / (2 * reach_um)), 0, STEPS - 1).astype(np.int32)
