"""Grit tracks: how one grain's path lowers a height map, in µm.

A track is a trough with two straight walls, rounded at rim and foot, and a floor. Walls of hone grooves slope only 6–27°
(tests/SOURCES.md, by calculation), so depth sets width: a groove 0.5 µm deep is at least 2 µm wide. Where tracks meet, the
deeper one stays: a grain cuts away what stands in its path and touches nothing below it (kinematics of abrasion, from
memory).
"""

from dataclasses import dataclass

import numpy as np

from .finished_noise import wander

WALL_SLOPE_DEG = (6.0, 27.0)
"""Range of the slope anywhere on a wall, degrees (tests/SOURCES.md, Secondary-electron picture)."""
STEEPEST_OVER_MEAN = 1.2
"""Steepest slope of the rounded wall over its mean slope: see :func:`wall`."""
NARROWEST_PX = 1.3
"""A narrower track is drawn this wide and less deep by as much: a pixel averages over its area."""


@dataclass(frozen=True, kw_only=True)
class Track:
    """One grain's path. row_px, col_px: its middle; direction_deg anticlockwise from the rows; depth_um: the greatest;
    slopes: tangents of both walls' mean slopes; floor_um, length_um; bow_um: sag at half the field's side; depths (n,):
    depth along the path over depth_um, 1 at the most; rim_um: height of the metal thrown up beside it; tone: grey of its
    floor (linear signal, 0 is the plateau's); lay: number of its lay."""

    row_px: float
    col_px: float
    direction_deg: float
    depth_um: float
    slopes: tuple[float, float]
    floor_um: float
    length_um: float
    bow_um: float
    depths: np.ndarray
    rim_um: float
    tone: float
    lay: int

    @property
    def width_um(self) -> float:
        return self.floor_um + self.depth_um * (1 / self.slopes[0] + 1 / self.slopes[1])


@dataclass(kw_only=True)
class Cut:
    """What a tool has cut, all (rows, cols): depth and raised rims in µm (float32), tone of floors (float32), lay of the
    deepest track (int8, −1 where none), number of that track (int16)."""

    depth: np.ndarray
    raised: np.ndarray
    tone: np.ndarray
    lay: np.ndarray
    track: np.ndarray

    @classmethod
    def none(cls, shape: tuple[int, int]) -> "Cut":
        zeros = (np.zeros(shape, np.float32) for _ in range(3))
        depth, raised, tone = zeros
        return cls(
            depth=depth, raised=raised, tone=tone, lay=np.full(shape, -1, np.int8), track=np.full(shape, -1, np.int16)
        )


def wall_slopes(rng: np.random.Generator, low_deg: float, high_deg: float) -> tuple[float, float]:
    """Draw the mean slopes of a track's two walls (tangents) so that no part is steeper than the range allows."""
    least = np.tan(np.radians(max(low_deg, WALL_SLOPE_DEG[0])))
    most = np.tan(np.radians(min(high_deg, WALL_SLOPE_DEG[1]))) / STEEPEST_OVER_MEAN
    first = rng.uniform(least, max(least, most))
    second = np.clip(first * np.exp(rng.normal(0, 0.3)), least, max(least, most))
    return float(first), float(second)


def wall(share: np.ndarray) -> np.ndarray:
    """Return the depth (0–1) on a wall at a share (0–1) of the way from rim to foot: a straight wall with rounded ends.

    Its steepest slope is 0.6 + 0.4 · 3/2 = 1.2 times the mean.
    """
    share = np.clip(share, 0, 1)
    return share * (0.6 + 0.4 * share * (3 - 2 * share))


def band(track: Track, shape: tuple[int, int], pixel_size_um: float, reach_um: float):
    """Return rows, cols (n,) of the pixels within ``reach_um`` of a track's path, s (n,) along and u (n,) across it, µm."""
    angle = np.radians(track.direction_deg)
    down, right = -np.sin(angle), np.cos(angle)
    rows, cols = shape
    row, col = track.row_px, track.col_px
    steep = abs(down) > abs(right)
    if steep:
        down, right, rows, cols, row, col = right, down, cols, rows, col, row
    half_um = max(track.length_um / 2, pixel_size_um)
    run_px = abs(right) * half_um / pixel_size_um + 1
    first, last = max(0, int(col - run_px)), min(cols, int(col + run_px) + 2)
    if first >= last:
        empty = np.zeros(0, int)
        return empty, empty, np.zeros(0), np.zeros(0)
    step = np.arange(first, last)
    along = (step - col) / right * pixel_size_um
    sag = track.bow_um * (along / (0.5 * max(shape) * pixel_size_um)) ** 2
    middle = row + (step - col) * (down / right) + sag / (right * pixel_size_um)
    reach_px = int(np.ceil(reach_um / (abs(right) * pixel_size_um))) + 1
    lines = np.round(middle).astype(int)[:, None] + np.arange(-reach_px, reach_px + 1)
    across = (lines - middle[:, None]) * (right * pixel_size_um)
    path = along[:, None] + (lines - middle[:, None]) * (down * pixel_size_um)
    inside = (lines >= 0) & (lines < rows) & (np.abs(across) <= reach_um + pixel_size_um)
    lines, steps = lines[inside], np.broadcast_to(step[:, None], inside.shape)[inside]
    return (steps, lines, path[inside], across[inside]) if steep else (lines, steps, path[inside], across[inside])


def depth_along(track: Track, path_um: np.ndarray) -> np.ndarray:
    """Return the floor's depth, µm, at places along a path: it fades in and out over some widths at its ends."""
    place = (path_um / max(track.length_um, 1e-6) + 0.5) * (len(track.depths) - 1)
    fade = np.clip((track.length_um / 2 - np.abs(path_um)) / (5 * track.width_um), 0, 1)
    return track.depth_um * np.interp(place, np.arange(len(track.depths)), track.depths) * np.sqrt(fade)


def plough(cut: Cut, track: Track, number: int, pixel_size_um: float) -> None:
    """Cut one track into the maps, in place."""
    widening = max(0.0, NARROWEST_PX * pixel_size_um - track.width_um)
    share = track.width_um / (track.width_um + widening)
    floor_um = track.floor_um + widening
    rim_width_um = max(0.25 * track.width_um**0.5, 0.6 * pixel_size_um)
    most = float(track.depths.max())
    reach_um = 0.5 * floor_um + most * track.depth_um / min(track.slopes) + 2 * rim_width_um
    rows, cols, path, across = band(track, cut.depth.shape, pixel_size_um, reach_um)
    if not len(rows):
        return
    floor_depth = np.maximum(depth_along(track, path), 1e-4)
    left = (0.5 * floor_um + floor_depth / track.slopes[0] + across) * (track.slopes[0] / floor_depth)
    right = (0.5 * floor_um + floor_depth / track.slopes[1] - across) * (track.slopes[1] / floor_depth)
    shape = wall(np.minimum(left, right))
    depth = (share * floor_depth * shape).astype(np.float32)
    own = depth > cut.depth[rows, cols]
    if track.rim_um > 0:
        outside = np.maximum(-left * (floor_depth / track.slopes[0]), -right * (floor_depth / track.slopes[1]))
        raised = share * track.rim_um * np.exp(-((np.maximum(outside, 0) / rim_width_um) ** 2)) * (1 - shape)
        raised *= floor_depth / track.depth_um
        cut.raised[rows, cols] = np.maximum(cut.raised[rows, cols], raised)
        cut.raised[rows[own], cols[own]] *= 1 - shape[own]
    rows, cols = rows[own], cols[own]
    cut.depth[rows, cols] = depth[own]
    cut.tone[rows, cols] = share * track.tone * shape[own]
    cut.lay[rows, cols] = track.lay
    cut.track[rows, cols] = number


def depths_along(rng: np.random.Generator, unevenness: float, length_um: float, width_um: float) -> np.ndarray:
    """Draw how the depth of a track varies over its length, (64,) with a largest value of 1.

    A grain that bears on many ridges at once changes its depth slowly: over 15 widths and more, a little of it faster.
    """
    cells = length_um / (width_um * rng.uniform(15, 60))
    slow, fast = wander(rng, 64, np.clip(cells, 1, 24)), wander(rng, 64, np.clip(3 * cells, 1, 60))
    depths = np.clip(1 + unevenness * (slow + 0.2 * fast), 0.2, 1.9)
    return depths / depths.max()
