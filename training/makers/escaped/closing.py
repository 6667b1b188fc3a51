"""Metal moved over grooves: caps, bridges, lips, tongues and flush burnished strips."""

from dataclasses import dataclass

import numpy as np

from makers.escaped.frame import Frame, strand
from makers.escaped.hone import LIMIT_UM, Groove

SHARES = (0.05, 0.7)
LENGTHS = {"cap": (1.0, 5.0), "bridge": (0.5, 1.3), "lip": (1.5, 8.0), "tongue": (1.5, 6.0), "flush": (2.0, 12.0)}
"""Length along the groove in groove widths (common practice, no source)."""
LONGEST = 0.3
"""Of the field's shorter side, so that closed and open stretches are seen beside each other."""
SMALLEST_PX = 16


@dataclass(frozen=True)
class Closed:
    """Maps (rows, cols): depth after closing, µm; the closed footprint; how boldly it shows, 0 to 1; its own grey, spread 1."""

    depth: np.ndarray
    moved: np.ndarray
    bold: np.ndarray
    tone: np.ndarray


def close(
    rng: np.random.Generator, grooves: list[Groove], depth: np.ndarray, worn: np.ndarray, frame: Frame, smeared: bool
) -> Closed:
    """Closes a share of the length of the grooves inside the track; deep grooves are closed more often
    (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548)."""
    closed = Closed(depth.copy(), np.zeros(frame.shape, bool), *(np.zeros(frame.shape, np.float32) for _ in range(2)))
    if not smeared:
        return closed
    share, mix = rng.uniform(*SHARES), rng.dirichlet(np.full(len(LENGTHS), 0.8))
    deepest = max(groove.depth_um for groove in grooves)
    for groove in grooves:
        own = np.clip(share * (0.75 + 0.5 * groove.depth_um / deepest), *SHARES)
        start = float(groove.along.min()) - rng.exponential(4 * groove.half_um)
        while start < float(groove.along.max()):
            kind = str(rng.choice(list(LENGTHS), p=mix))
            length = min(2 * groove.half_um * rng.uniform(*LENGTHS[kind]) * rng.lognormal(0, 0.3), LONGEST * frame.side_um)
            length = frame.at_least(length, 7)
            _lay_over(rng, closed, depth, worn, frame, groove, (kind, start, length))
            start += length + frame.at_least(rng.exponential(length * (1 - own) / own), 4)
    return closed


def _lay_over(rng, closed, depth, worn, frame, groove, span) -> None:
    """Puts one piece of moved metal over the stretch of a groove, where its ground lies below the limit inside the track."""
    kind, start, length = span
    lean = np.tan(np.radians(90 - (frame.stroke_deg - groove.lay_deg)))
    shift = float(np.clip(lean, -1.2, 1.2)) * groove.half_um
    near = np.flatnonzero(np.abs(groove.along - start - length / 2) < length / 2 + 2 * groove.half_um)
    if near.size == 0:
        return
    place, pixels = groove.place[near], groove.pixels[near]
    ragged = groove.half_um * (0.2 * strand(rng, place, 0.45) + 0.1 * strand(rng, place, 0.1))
    run = (groove.along[near] - start - shift * place + ragged) / length
    cover = covered(rng, kind, run, place, 2 * groove.half_um / frame.pixel_um, length / groove.half_um)
    cover &= (depth.flat[pixels] >= LIMIT_UM) & worn.flat[pixels]
    if cover.sum() < SMALLEST_PX:
        return
    pixels = pixels[cover]
    flush = kind == "flush"
    left = rng.uniform(-0.05, 0.08) if flush else rng.uniform(-0.25, 0.35)
    bulge = 0.0 if flush else 0.12 * (place[cover] ** 2 - 0.5)
    closed.depth.flat[pixels] = np.clip(left + bulge, -0.4, 0.9 * LIMIT_UM)
    closed.moved.flat[pixels] = True
    closed.bold.flat[pixels] = rng.uniform(0.6, 0.85) if flush else rng.uniform(0.8, 1.0)
    closed.tone.flat[pixels] = rng.normal()


def covered(
    rng: np.random.Generator, kind: str, run: np.ndarray, place: np.ndarray, width_px: float, stretch: float
) -> np.ndarray:
    """Which points are covered: run 0 to 1 along the piece, place -1 to 1 across the groove, stretch its length in half widths."""
    inside = (run > 0) & (run < 1)
    side = rng.choice((-1.0, 1.0))
    across = (1 + side * place) / 2
    if kind == "bridge":
        return np.abs(2 * run - 1) < 1 - 0.35 * (1 - place**2)
    if kind == "lip":
        reach = rng.uniform(0.45, 0.8) * np.clip(1 - (2 * run - 1) ** 2, 0, 1) ** 0.3 + 0.06 * _frayed(rng, run, stretch)
        return inside & (across < np.where((1 - reach) * width_px < 2.5, 2, reach))
    if kind == "tongue":
        reach = np.clip(0.75 + 0.45 * _frayed(rng, run, stretch), 0, 1.2)
        return inside & (across < np.where((1 - reach) * width_px < 2, 2, reach))
    return inside


def _frayed(rng, run, stretch) -> np.ndarray:
    """The uneven front of a lip or of tongues along the piece."""
    return strand(rng, run, 0.8 / stretch) + 0.4 * strand(rng, run, 0.2 / stretch)
