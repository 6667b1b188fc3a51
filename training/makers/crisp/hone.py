"""The honed ground: sheets of grooves, each sheet a table of near-parallel grooves looked up by distance across the lay.

A sheet is a set of grooves that share one waviness and one exact angle; a band of the hone is several sheets a degree or two
apart. Depths and widths in µm, depths positive downwards from the plateau.
"""

from dataclasses import dataclass

import numpy as np

from .grain import cloud, frame, log_uniform, ramp


@dataclass
class Sheet:
    """Per pixel: depth (µm), place in the groove from -1 (one rim) to 1, distance along (µm), groove number; rim height (µm)."""

    depth: np.ndarray
    place: np.ndarray
    along: np.ndarray
    groove: np.ndarray
    rim: np.ndarray
    count: int


def _section(rng: np.random.Generator, place: np.ndarray) -> np.ndarray:
    """Depth share (0-1) of a groove's cross-section, 1 at the bottom and 0 at the rims, of one of several cuts."""
    side = np.abs(place)
    cut = rng.integers(4)
    if cut == 0:
        share = 1 - side
    elif cut == 1:
        share = 1 - side**2
    elif cut == 2:
        share = np.clip((1 - side) / rng.uniform(0.3, 0.7), 0, 1)
    else:
        share = (1 - side) * (0.75 + 0.25 * np.cos(place * rng.uniform(5, 14) + rng.uniform(0, 6)))
    lean = rng.uniform(-0.35, 0.35)
    return np.clip(share * (1 + lean * place), 0, 1)


def sheet(
    rng: np.random.Generator,
    shape: tuple[int, int],
    pixel_size_um: float,
    lay_deg: float,
    cover: float,
    widths_um: tuple[float, float],
    slope_deg: tuple[float, float],
) -> Sheet:
    """One sheet of grooves whose widths lie in widths_um and which take about `cover` of the ground."""
    along, across = frame(shape, pixel_size_um, lay_deg)
    size = max(shape) * pixel_size_um
    # a stone travels straight over a field: the bend is slower than the field is long
    bend = cloud(rng, along, along * 0, (size * log_uniform(rng, 0.7, 2), size)) * widths_um[0] * rng.uniform(0, 0.4)
    across = across + bend
    step = pixel_size_um / 4
    low, span = float(across.min()) - widths_um[1], float(np.ptp(across)) + 2 * widths_um[1]
    cells = int(span / step) + 2
    depths, places, rims = np.zeros(cells, np.float32), np.full(cells, 2, np.float32), np.zeros(cells, np.float32)
    owner = np.zeros(cells, np.int32)
    count, taken, at = 0, 0.0, 0.0
    group = log_uniform(rng, 0.3, 3)
    while taken < cover * span and count < 250:
        width = log_uniform(rng, *widths_um)
        slope = np.tan(np.radians(rng.uniform(*slope_deg)))
        # grooves come in groups: a coarse grain cuts beside the last one as often as anywhere
        at = at + width * rng.uniform(1, 2.5) if rng.random() < 0.3 * min(group, 1.5) and count else rng.uniform(0, span)
        lo, hi = int((at - width * 0.8) / step), int((at + width * 0.8) / step)
        if lo < 0 or hi >= cells:
            taken += width * 0.1
            at = rng.uniform(0, span)
            continue
        place = (np.arange(lo, hi) * step - at) / (width / 2)
        inside = np.abs(place) < 1
        deep = np.clip(width / 2 * slope, 0.2, 10) * np.where(inside, _section(rng, place), 0)
        wins = (deep > depths[lo:hi]) & inside
        depths[lo:hi][wins], places[lo:hi][wins], owner[lo:hi][wins] = deep[wins], place[wins], count
        lip = np.exp(-(((np.abs(place) - 1.12) / 0.12) ** 2)) * min(0.35, 0.12 * width * slope) * rng.uniform(0, 1)
        rims[lo:hi] = np.maximum(rims[lo:hi], np.where(inside, 0, lip))
        count, taken = count + 1, taken + width
    cell = np.clip(((across - low) / step).astype(np.int32), 0, cells - 1)
    groove = owner[cell]
    gain = _lengthwise(rng, max(count, 1), along, groove, size)
    return Sheet(depths[cell] * gain, places[cell], along, groove, rims[cell] * ramp(gain, 0.3, 0.6), max(count, 1))


def _lengthwise(rng: np.random.Generator, count: int, along: np.ndarray, groove: np.ndarray, size: float) -> np.ndarray:
    """How much of its depth each groove has at each place along it: slow changes, ends and fades."""
    low, bins = float(along.min()), 512
    t = np.linspace(0, 1, bins, dtype=np.float32)[None, :] * float(np.ptp(along))
    wave = 0.85 + 0.15 * np.sin(t / (size * rng.uniform(0.1, 0.8, (count, 1))) + rng.uniform(0, 6, (count, 1)))
    ends = rng.random((count, 1)) < rng.uniform(0, 0.5)
    stop = rng.uniform(0, 1, (count, 1)) * float(np.ptp(along))
    fade = size * np.exp(rng.uniform(np.log(0.02), np.log(0.3), (count, 1)))
    way = rng.choice([-1, 1], (count, 1))
    wave = np.where(ends, wave * np.clip((t - stop) * way / fade, 0, 1), wave).astype(np.float32)
    return wave[groove, np.clip((along - low) / (np.ptp(along) + 1e-6) * (bins - 1), 0, bins - 1).astype(np.int32)]


def hone(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float, stroke_deg: float) -> list[Sheet]:
    """Both bands, two to three sheets each; stroke_deg from the row axis. Each lay is half the included angle off the line
    across the stroke."""
    half = log_uniform(rng, 20, 150) / 2
    size = max(shape) * pixel_size_um
    low = max(log_uniform(rng, 2.5, 6), 3.5 * pixel_size_um)
    # even a close view of 40 µm is taken where a groove deep enough to hold oil passes
    top = float(np.clip(size * log_uniform(rng, 0.05, 0.25), max(low * 1.8, 10), 60))
    slopes = (rng.uniform(8, 15), rng.uniform(18, 27))
    cover = rng.uniform(0.2, 0.7)
    weaker = log_uniform(rng, 0.15, 1) / 2
    shares = [weaker, 1 - weaker]
    if rng.random() < 0.5:
        shares.reverse()
    out = []
    for side, share in zip((-1, 1), shares, strict=True):
        for part in rng.dirichlet(np.full(int(rng.integers(2, 4)), 2.0)):
            lay = stroke_deg + 90 + side * half + rng.normal(0, 1.2)
            out.append(sheet(rng, shape, pixel_size_um, lay, cover * share * part, (low, top), slopes))
    return out
