"""Hone grooves as chains of grit strokes, each carving its own depth into the sheet of its lay."""

from dataclasses import dataclass, field

import numpy as np

from .frame import Frame, between, cloud, thread


@dataclass
class Groove:
    """One groove: its middle row along the sheet (px), half width (px), full depth (µm)."""

    path: np.ndarray
    half: float
    depth: float


@dataclass
class Lay:
    """A family of grooves on one sheet: depth and rim height in µm, closure 0–1."""

    frame: Frame
    depth: np.ndarray
    rim: np.ndarray
    shut: np.ndarray
    grooves: list[Groove] = field(default_factory=list)


def _rows(path: np.ndarray, reach: float, side: int) -> tuple[int, int]:
    return max(0, int(path.min() - reach)), min(side, int(path.max() + reach) + 2)


def _stroke(rng: np.random.Generator, lay: Lay, groove: Groove, start: int, stop: int, rim_um: float, power: float) -> None:
    """Carve one grit's cut between two columns; deeper cuts win over shallower ones, rims likewise."""
    side = lay.frame.side
    a, b = max(0, start), min(side, stop)
    if b - a < 3:
        return
    half = groove.half * between(rng, 0.75, 1.1)
    path = groove.path[a:b] + rng.normal(0, 0.12) * groove.half
    lo, hi = _rows(path, half * 1.6 + 1, side)
    if hi - lo < 1:
        return
    col = np.arange(a, b, dtype=np.float32)
    # A grit bites and lifts out over many groove widths: the hone's sweep is long beside a cut.
    fade = np.clip(np.minimum(col - start, stop - col) / (between(rng, 4, 16) * half + 1), 0, 1) ** 0.7
    wide = half * (0.45 + 0.55 * fade) * (1 + 0.08 * thread(rng, b - a, half * 10 + 10))
    off = np.abs(np.arange(lo, hi, dtype=np.float32)[:, None] - path) / np.maximum(wide, 0.35)
    deep = groove.depth * between(rng, 0.7, 1.15) * fade * (1 + 0.15 * thread(rng, b - a, half * 5 + 6))
    cut = np.clip(1 - off**power, 0, None) * np.clip(deep, 0, 10)
    window = (slice(lo, hi), slice(a, b))
    np.maximum(lay.depth[window], cut, out=lay.depth[window])
    if rim_um > 0.01:
        torn = np.clip(0.5 + thread(rng, b - a, half + 2), 0, 2) * fade * rim_um
        np.maximum(lay.rim[window], torn * np.exp(-(((off - 1.15) / 0.2) ** 2)), out=lay.rim[window])


def _places(rng: np.random.Generator, side: int, spacing: float, grouped: float) -> np.ndarray:
    """Middle rows of the grooves (px): partly at random, partly in groups left by one stone's sharp grits."""
    count = int(np.clip(side / spacing, 2, 75))
    rows = rng.uniform(0, side, count)
    hubs = rng.uniform(0, side, max(1, count // 5))
    pulled = rng.random(count) < grouped
    rows[pulled] = rng.choice(hubs, pulled.sum()) + rng.normal(0, spacing * 0.6, pulled.sum())
    return rows


def lay_of_grooves(rng: np.random.Generator, frame: Frame, px: float, strength: float, width_um: float) -> Lay:
    """One band of grooves; `strength` scales number and depth, `width_um` is its middle groove width."""
    lay = Lay(frame, frame.sheet(), frame.sheet(), frame.sheet())
    side = frame.side
    spacing = max(4.0, between(rng, 1.3, 5.5) * width_um / px) / (0.5 + 0.5 * strength)
    long = between(rng, 0.4, 5) * side
    rim = between(rng, 0.02, 0.6)
    wave, spread = between(rng, 0.02, 0.2), rng.uniform(0.2, 0.6)  # the sweep is straight over a field
    slope_mid = rng.uniform(10, 23)
    for row in _places(rng, side, spacing, rng.uniform(0, 0.7)):
        width = float(np.clip(width_um * np.exp(rng.normal(0, spread)), 2, 60))
        slope = np.radians(np.clip(rng.normal(slope_mid, 4), 5, 30))
        power = rng.uniform(1, 3)
        depth = np.clip(np.tan(slope) * width / 2 * strength / power**0.5, 0.2, 10)
        half = width / px / 2
        sway = min(2 * half * wave, 0.006 * side)  # wide grooves are no more bent than narrow ones
        path = row + (thread(rng, side, side / 2) + 0.125 * thread(rng, side, half * 4 + 8)) * sway
        groove = Groove(path, half, float(depth))
        at = -rng.uniform(0, 0.7) * long
        while at < side:
            reach = between(rng, 0.4, 2) * long
            _stroke(rng, lay, groove, int(at), int(at + reach), rim * min(depth, 2), power)
            at += reach * (rng.uniform(0.5, 0.95) if rng.random() < 0.75 else rng.uniform(1.0, 1.5))
        lay.grooves.append(groove)
    # Every grit leaves its own fine lines on walls and floor.
    lay.depth *= 1 + between(rng, 0.03, 0.25) * cloud(rng, lay.depth.shape, 1.5, between(rng, 20, 150))
    return lay


def finish(rng: np.random.Generator, frame: Frame, count: int, deepest_um: float) -> np.ndarray:
    """Fine scratches (µm deep) along one direction, all shallower than the valley limit."""
    sheet = frame.sheet()
    side = frame.side
    for _ in range(count):
        row, start = int(rng.integers(0, side)), int(rng.integers(-side // 2, side))
        stop = start + int(between(rng, 0.1, 1.5) * side)
        a, b = max(0, start), min(side, stop)
        thick = 1 if rng.random() < 0.7 else int(rng.integers(2, 4))
        np.maximum(sheet[row : row + thick, a:b], between(rng, 0.03, 1) * deepest_um, out=sheet[row : row + thick, a:b])
    return np.minimum(sheet, 0.42)
