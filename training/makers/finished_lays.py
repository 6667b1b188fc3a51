"""Populations of tracks: two lays of a hone, single tracks or bundles, depths log-normal.

A honed bore is two bands of grooves placed at random at two angles (Puente León, CIRP Annals 51 (2002) 503); the stones of
plateau honing's second step run over it in the same two lays (from memory). Grains sit in the stone in clusters, so tracks
come in bundles that merge into striped bands.
"""

from dataclasses import dataclass

import numpy as np

from .finished_tracks import Cut, Track, depths_along, plough, wall_slopes

MOST_TRACKS = 700
"""A tool leaves no more tracks in a field: time."""


@dataclass(frozen=True, kw_only=True)
class Tool:
    """One stone: lays_deg with shares; spread_deg about them; cover: summed width of its tracks over the field's; depth_um
    and depth_spread: median and log-normal spread, within depth_limits_um; slopes_deg: range of the walls; floor_um: median
    width of the flat floor; length_um: median; bundle: mean number of tracks side by side; rim: height of rims over depth;
    unevenness of depth along a track; tone and tone_spread of floors, the tone growing a little with depth."""

    lays_deg: tuple[float, ...]
    shares: tuple[float, ...]
    spread_deg: float
    cover: float
    depth_um: float
    depth_spread: float
    depth_limits_um: tuple[float, float]
    slopes_deg: tuple[float, float]
    floor_um: float
    length_um: float
    bundle: float
    rim: float
    unevenness: float
    tone: float
    tone_spread: float


def draw_lays(rng: np.random.Generator) -> tuple[tuple[float, ...], tuple[float, ...], float]:
    """Draw the lays of a field, their shares, and the stroke, degrees.

    Included hone angles are 30–60° and, for helical slide honing, 140–150° (tests/SOURCES.md, from memory); the direction
    across the stroke bisects them. Some fields show one lay only.
    """
    stroke = rng.uniform(0, 180) if rng.random() < 0.45 else rng.choice([0.0, 90.0]) + rng.normal(0, 4)
    included = rng.uniform(25, 65) if rng.random() < 0.8 else rng.uniform(80, 150)
    across = stroke + 90
    pair = ((across + included / 2) % 180, (across - included / 2) % 180)
    way = rng.random()
    if way < 0.2:
        return (pair[int(rng.integers(2))],), (1.0,), float(stroke % 180)
    share = rng.uniform(0.4, 0.6) if way < 0.7 else rng.uniform(0.12, 0.88)
    return pair, (share, 1 - share), float(stroke % 180)


def draw_tracks(rng: np.random.Generator, tool: Tool, shape: tuple[int, int], pixel_size_um: float) -> list[Track]:
    """Draw tracks until they cover what the tool's ``cover`` asks for."""
    height_um, width_um = (side * pixel_size_um for side in shape)
    wanted, covered, tracks = tool.cover * height_um * width_um, 0.0, []
    chord_um = 0.9 * min(height_um, width_um)
    while covered < wanted and len(tracks) < MOST_TRACKS:
        lay = int(rng.choice(len(tool.lays_deg), p=tool.shares))
        direction = tool.lays_deg[lay] + rng.normal(0, tool.spread_deg)
        count = 1 + (rng.geometric(1 / tool.bundle) - 1 if tool.bundle > 1 else 0)
        row, col = rng.uniform(-0.08, 1.08, 2) * shape
        offset_um, bundle_tone = 0.0, rng.normal()
        normal = np.cos(np.radians(direction)), np.sin(np.radians(direction))
        closeness = rng.uniform(0.5, 1.3)
        for _ in range(int(min(count, 40))):
            shift_px = offset_um / pixel_size_um
            path = _path(rng, tool, lay, direction + rng.normal(0, 0.25), bundle_tone, height_um + width_um)
            slip_px = rng.normal(0, 0.35) * path["length_um"] / pixel_size_um  # grains side by side start at their own places
            middle = row + shift_px * normal[0] - slip_px * normal[1], col + shift_px * normal[1] + slip_px * normal[0]
            track = Track(row_px=middle[0], col_px=middle[1], **path)
            tracks.append(track)
            covered += track.width_um * min(track.length_um, chord_um)
            offset_um += closeness * track.width_um
    return tracks


def cut_surface(tracks: list[Track], shape: tuple[int, int], pixel_size_um: float) -> Cut:
    """Cut tracks one after another into a flat surface."""
    cut = Cut.none(shape)
    for number, track in enumerate(tracks):
        plough(cut, track, number, pixel_size_um)
    return cut


def _path(rng, tool: Tool, lay: int, direction_deg: float, bundle_tone: float, sides_um: float) -> dict:
    depth = float(np.clip(tool.depth_um * np.exp(rng.normal(0, tool.depth_spread)), *tool.depth_limits_um))
    tone = tool.tone * (depth / tool.depth_um) ** 0.35 * (1 + 0.35 * rng.normal())
    slopes, floor = wall_slopes(rng, *tool.slopes_deg), tool.floor_um * float(np.exp(rng.normal(0, 0.6)))
    length = min(tool.length_um * float(np.exp(rng.normal(0, 0.6))), 4 * sides_um)
    width = floor + depth * (1 / slopes[0] + 1 / slopes[1])
    return {
        "direction_deg": direction_deg,
        "depth_um": depth,
        "slopes": slopes,
        "floor_um": floor,
        "length_um": length,
        "bow_um": float(rng.normal(0, 0.004)) * sides_um,
        "depths": depths_along(rng, tool.unevenness, length, width),
        "rim_um": tool.rim * depth * float(rng.gamma(2, 0.5)),
        "tone": float(np.clip(tone + tool.tone_spread * (0.6 * rng.normal() + 0.8 * bundle_tone), -0.9, 0.9)),
        "lay": lay,
    }
