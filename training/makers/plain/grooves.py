"""Two crossing bands of hone grooves, stroked as nested polygons: one for every level below the plateau."""

import math
from dataclasses import dataclass

import numpy as np

from .draws import between, chance, fill, wander

OPEN_UM = 0.5
"""Ground this far below the plateau is open valley (the mask codes' definition)."""
POINTS = 40
"""Stations along a groove; its outline is straight between them."""


@dataclass(frozen=True, kw_only=True)
class Groove:
    """Middle line (POINTS, 2) x and y in pixels; half widths between middle and rim in µm and depths in µm at the
    stations; wall slope and direction in degrees."""

    middle: np.ndarray
    half_um: np.ndarray
    depth_um: np.ndarray
    wall_deg: float
    lay_deg: float

    def half_at_um(self, level_um: float) -> np.ndarray:
        """Half width in µm of the ground below a level; negative where the groove does not reach that deep."""
        half = self.half_um - level_um / math.tan(math.radians(self.wall_deg))
        return np.where(self.depth_um > level_um, half, -1.0)

    def ribbon(self, first: int, last: int, left: np.ndarray, right: np.ndarray) -> np.ndarray:
        """Outline between two stations, `left` and `right` pixels off the middle line (arrays of POINTS)."""
        across = np.array([-math.sin(math.radians(self.lay_deg)), math.cos(math.radians(self.lay_deg))])
        part = slice(first, last + 1)
        one = self.middle[part] + left[part, None] * across
        other = self.middle[part] + right[part, None] * across
        return np.concatenate([one, other[::-1]])


def lays_deg(stroke_deg: float, included_deg: float) -> tuple[float, float]:
    """The two lays, mirrored about the circumference, which is square to the stroke and halves the included angle."""
    return stroke_deg + 90 - included_deg / 2, stroke_deg + 90 + included_deg / 2


def groove(
    rng: np.random.Generator, *, shape: tuple[int, int], pixel_size_um: float, lay_deg: float, offset: float,
    width_um: float, depth_um: float, wall_deg: float, unrest: float, ends: float,
) -> Groove:
    """One groove `offset` pixels off the field's middle; unrest 0–1 of its edges, ends: share that end or fade."""
    reach = math.hypot(*shape) * 0.55
    along = np.linspace(-reach, reach, POINTS)
    c, s = math.cos(math.radians(lay_deg)), math.sin(math.radians(lay_deg))
    width = width_um / pixel_size_um
    across = offset + wander(rng, POINTS, 9) * unrest * min(width, 12) * 0.3
    middle = np.stack([shape[1] / 2 + c * along - s * across, shape[0] / 2 + s * along + c * across], axis=1)
    strength = np.ones(POINTS)
    if chance(rng, ends):
        fade = between(rng, 0.02, 0.8) * reach
        strength = np.clip((along - rng.uniform(-0.7, 0.6) * reach) / fade, 0, 1)
        if chance(rng, 0.5):
            strength = strength[::-1]
    strength = strength * np.clip(1 + 0.25 * unrest * wander(rng, POINTS, 4), 0.3, 1.5)
    # a fading scratch gets narrower as it gets shallower, since its walls keep their slope
    depth = np.minimum(depth_um * strength, 10.0)
    jag = unrest * 0.12 * rng.uniform(-1, 1, POINTS)
    half = 0.5 * width_um * np.clip(np.sqrt(strength) + jag, 0.05, 2)
    return Groove(middle=middle, half_um=half, depth_um=depth, wall_deg=wall_deg, lay_deg=lay_deg)


def runs(inside: np.ndarray) -> list[tuple[int, int]]:
    """First and last index of every stretch of at least two True."""
    edge = np.diff(np.concatenate([[0], inside.astype(int), [0]]))
    pairs = zip(np.flatnonzero(edge == 1), np.flatnonzero(edge == -1) - 1, strict=True)
    return [(int(a), int(b)) for a, b in pairs if b > a]


def ground_um(grooves: list[Groove], shape: tuple[int, int], pixel_size_um: float, levels: int = 9) -> np.ndarray:
    """Depth below the plateau in µm, rows by columns; where grooves cross the deeper one counts."""
    steps = []
    for one in grooves:
        deepest = float(one.depth_um.max())
        marks = np.unique(np.append(np.linspace(0, deepest, levels + 1), OPEN_UM if deepest > OPEN_UM else 0.0))
        steps += [(0.5 * (low + high), low, one) for low, high in zip(marks[:-1], marks[1:], strict=True)]
    depth = np.zeros(shape, np.float32)
    # painted shallow to deep, so that painting over is taking the deeper
    for value, low, one in sorted(steps, key=lambda step: step[0]):
        half = one.half_at_um(low) / pixel_size_um
        # the filler paints its outline's pixels too, which adds half a pixel on either side
        for first, last in runs(half > 0.3):
            side = np.maximum(half - 0.5, 0)
            fill(depth, one.ribbon(first, last, -side, side), float(value))
    return depth


def bands(
    rng: np.random.Generator, *, shape: tuple[int, int], pixel_size_um: float, stroke_deg: float, included_deg: float
) -> list[Groove]:
    """Both bands; widths and depths in µm are scattered about the field's own."""
    side_um = min(shape) * pixel_size_um
    reach = math.hypot(*shape) * 0.5
    width_um = between(rng, max(1.5, 3 * pixel_size_um), max(min(40, 0.12 * side_um), 4 * pixel_size_um))
    depth_um = between(rng, 0.7, 7)
    steep_enough = math.degrees(math.atan(2 * 1.1 / width_um))
    wall_deg = between(rng, max(6.0, steep_enough), 75)
    share, unrest, ends = between(rng, 0.05, 0.3), between(rng, 0.03, 1), rng.uniform(0, 0.6)
    spread, groups = between(rng, 0.1, 0.7), rng.uniform(0, 0.8)
    weak = between(rng, 0.1, 1) if chance(rng, 0.4) else 1.0
    drawn = []
    for lay, strength in zip(lays_deg(stroke_deg, included_deg), rng.permutation([1.0, weak]), strict=True):
        count = int(np.clip(round(share * strength * 2 * reach * pixel_size_um / width_um), 1, 32))
        centre = rng.uniform(-reach, reach)
        for _ in range(count):
            if chance(rng, groups):
                offset = centre + rng.normal(0, 1.5) * width_um / pixel_size_um
            else:
                offset = centre = rng.uniform(-reach, reach)
            width = float(np.clip(width_um * math.exp(rng.normal(0, spread)), 1.5, 60))
            wall = float(np.clip(wall_deg * math.exp(rng.normal(0, 0.2)), 6, 75))
            deep = depth_um * math.exp(rng.normal(0, spread)) * (width / width_um) ** 0.5
            deep = float(np.clip(deep, 0.2, 0.9 * width / 2 * math.tan(math.radians(wall))))
            drawn.append(
                groove(
                    rng, shape=shape, pixel_size_um=pixel_size_um, lay_deg=lay + rng.normal(0, 1.2), offset=offset,
                    width_um=width, depth_um=deep, wall_deg=wall, unrest=unrest, ends=ends,
                )
            )
    return drawn
