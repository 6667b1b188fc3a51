"""Two crossing bands of hone grooves, each groove with its own cross-section. Depths and lengths in um."""

from dataclasses import dataclass, field

import numpy as np

from .ground import Frame, log_uniform, wander


@dataclass
class Groove:
    """Pixels (flat indices) in and beside one groove: along (um), offset from its middle in half-widths, depth (um, 0 beyond rims)."""

    pixels: np.ndarray
    along: np.ndarray
    offset: np.ndarray
    depth: np.ndarray
    half_um: float
    deepest_um: float


@dataclass
class Bands:
    """depth: of the ground below the plateau as honed; rim: height of the torn rims; lays: directions of the two bands."""

    depth: np.ndarray
    rim: np.ndarray
    floor: np.ndarray
    lays: tuple[float, float]
    grooves: list[list[Groove]] = field(default_factory=list)
    of_band: list[np.ndarray] = field(default_factory=list)


def lays_of(stroke: float, included: float) -> tuple[float, float]:
    """The two lays (rad) whose included hone angle is bisected by the circumference, the direction across the stroke."""
    return stroke + np.pi / 2 - included / 2, stroke + np.pi / 2 + included / 2


def section(distance: np.ndarray, half_um: float, depth: np.ndarray, slopes: tuple[float, float]) -> np.ndarray:
    """Depth (um) at a distance (um) from the middle: two straight walls of the given slopes (rad) down to a floor."""
    left = (distance + half_um) * np.tan(slopes[0])
    right = (half_um - distance) * np.tan(slopes[1])
    return np.maximum(np.minimum(np.minimum(left, right), depth), 0).astype(np.float32)


def draw(rng: np.random.Generator, frame: Frame) -> Bands:
    included = np.radians(rng.uniform(25, 70) if rng.random() < 0.6 else rng.uniform(20, 150))
    zeros = np.zeros(frame.shape, np.float32)
    bands = Bands(zeros.copy(), zeros.copy(), zeros.copy(), lays_of(frame.stroke, included))
    side = min(frame.shape) * frame.pixel_um
    typical_depth = log_uniform(rng, 0.9, 5)
    # Narrower than some pixels nobody sees it, wider than a third of the field nobody calls it a groove.
    typical_width = float(np.clip(log_uniform(rng, 3, 40), 5 * frame.pixel_um, max(0.2 * side, 6 * frame.pixel_um)))
    share, slope = log_uniform(rng, 0.13, 0.4), np.radians(log_uniform(rng, 8, 24))
    torn, spread, wave = rng.uniform(0, 0.6) ** 2, rng.uniform(0.2, 0.8), log_uniform(rng, 0.03, 0.5)
    weaker = rng.uniform(0.15, 1) if rng.random() < 0.4 else 1.0
    for lay, strength in zip(bands.lays, rng.permutation([1.0, weaker]), strict=True):
        _band(rng, frame, bands, lay, typical_width, typical_depth * strength**0.5, share * strength, slope, torn, spread, wave)
    return bands


def _band(rng, frame, bands, lay, typical_width, typical_depth, share, slope, torn, spread, wave):
    along, across = frame.turned(lay)
    reach = float(np.abs(across).max())
    count = int(np.clip(rng.normal(2 * reach * share / typical_width, 1), 2, 36))
    places = rng.uniform(-reach, reach, count)
    if rng.random() < 0.4:
        places = places[rng.integers(0, max(count // 3, 1), count)] + rng.normal(0, 2 * typical_width, count)
    across, along, own = across.ravel(), along.ravel(), np.zeros(frame.shape, np.float32)
    depth_map, rim_map, floor_map = bands.depth.ravel(), bands.rim.ravel(), bands.floor.ravel()
    grooves, span = [], frame.span_um
    for place in places:
        width = float(np.clip(typical_width * np.exp(rng.normal(0, spread)), 2, 60))
        deepest = float(np.clip(typical_depth * np.exp(rng.normal(0, spread)), 0.2, 10))
        walls = tuple(np.clip(slope * np.exp(rng.normal(0, 0.2, 2)), np.radians(6), np.radians(27)))
        half = width / 2
        lying = np.abs(across - np.float32(place)) < 1.7 * half + 3 * wave * half
        pixels = np.flatnonzero(lying)
        if pixels.size < 20:
            continue
        s = along[pixels]
        offset = across[pixels] - np.float32(place) - wave * half * wander(rng, s, rng.uniform(15, 60) * half, span)
        level = 1 + 0.15 * wander(rng, s, 8 * half, span)
        if rng.random() < 0.35:
            end, fade = rng.uniform(-span / 2, span / 2), log_uniform(rng, 1, 12) * width
            level = level * np.clip((s - end) * rng.choice([-1, 1]) / fade, 0, 1)
        deep = section(offset, half * np.minimum(1, 0.3 + level), deepest * level, walls)
        # The grit's corners rule the floor along the groove.
        rule = wander(rng, offset, log_uniform(rng, 0.05, 0.3) * half, 2.5 * half)
        deep = np.maximum(deep * (1 + rng.uniform(0.03, 0.12) * rule), 0)
        beside = np.exp(-((np.abs(offset) - half * 1.05) / (0.12 * half + 0.4)) ** 2)
        ragged = np.maximum(wander(rng, s + 0.3 * offset, max(1.0, 2 * frame.pixel_um), span) + rng.normal(0.3, 0.7), 0)
        rim_map[pixels] = np.maximum(rim_map[pixels], torn * beside * ragged * np.sqrt(deepest) * np.clip(level, 0, 1))
        depth_map[pixels] = np.maximum(depth_map[pixels], deep)
        floor_map[pixels] = np.maximum(floor_map[pixels], deep / deepest)
        own.ravel()[pixels] = np.maximum(own.ravel()[pixels], deep)
        grooves.append(Groove(pixels, s, offset / np.float32(half), deep, half, deepest))
    bands.grooves.append(grooves)
    bands.of_band.append(own)
