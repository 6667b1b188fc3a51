"""Two lays of hone grooves, placed at random (Puente León, CIRP Annals 51 (2002) 503)."""

from dataclasses import dataclass

import numpy as np

from makers.escaped.frame import Frame, axes, strand

LIMIT_UM = 0.5
STEEPEST = np.tan(np.radians(27))
"""Walls of hone grooves slope by 6 to 27° (tests/SOURCES.md)."""
FINISHES = {
    "plateau-honed": ((28, 64), (7, 30), (1.2, 4.5)),
    "single-stage": ((22, 60), (5, 14), (0.7, 2.2)),
    "helical-slide": ((125, 150), (6, 26), (1.0, 4.0)),
}
"""Hone angle in °, median groove width and depth in µm (angles of the trade: tests/SOURCES.md; the rest common practice, no source)."""
FINISH_SHARES = (0.5, 0.25, 0.25)
WIDTHS_UM = (3.0, 60.0)
DEPTHS_UM = (0.25, 9.0)
REACH = 1.35
"""A groove with its rims ends at so many half widths."""


@dataclass(frozen=True)
class Groove:
    """One groove: flat indices of its pixels, their place across (-1 and 1 at the rims) and distance along, µm."""

    pixels: np.ndarray
    place: np.ndarray
    along: np.ndarray
    half_um: float
    depth_um: float
    lay_deg: float


@dataclass(frozen=True)
class Relief:
    """Maps (rows, cols): depth of grooves below the plateau and height of their burred rims, µm; which lay runs there, 0 or 1;
    the lays' directions in °."""

    depth: np.ndarray
    rim: np.ndarray
    lay: np.ndarray
    lays_deg: tuple[float, float]


def lays_of(stroke_deg: float, hone_deg: float) -> tuple[float, float]:
    """The two lays, either side of the line across the stroke, which bisects the hone angle."""
    return stroke_deg + 90 - hone_deg / 2, stroke_deg + 90 + hone_deg / 2


def hone(rng: np.random.Generator, frame: Frame) -> tuple[str, list[Groove], Relief]:
    """The finish's name, the grooves that reach into the field, and their relief."""
    finish = str(rng.choice(list(FINISHES), p=FINISH_SHARES))
    (angles, widths, depths) = FINISHES[finish]
    lays = lays_of(frame.stroke_deg, rng.uniform(*angles))
    width, depth = (float(np.exp(rng.uniform(*np.log(limits)))) for limits in (widths, depths))
    share, weaker = rng.uniform(0.10, 0.32), rng.uniform(0.3, 0.5)
    parts = (weaker, 1 - weaker) if rng.random() < 0.5 else (1 - weaker, weaker)
    relief = Relief(*(np.zeros(frame.shape, kind) for kind in (np.float32, np.float32, np.uint8)), lays)
    burr, wander, grooves = rng.uniform(0, 0.3), rng.uniform(0.03, 0.13), []
    for number, lay_deg in enumerate(lays):
        along, across = axes(frame.shape, frame.pixel_um, lay_deg)
        low, high = float(across.min()), float(across.max())
        cut, first = 0.0, True
        while cut < share * parts[number] * (high - low):
            widest = min(WIDTHS_UM[1], 0.27 * frame.side_um)
            one = float(np.clip(width * rng.lognormal(0, 0.45), frame.at_least(WIDTHS_UM[0], 2.6), widest))
            deep = float(np.clip(depth * (one / width) ** 0.4 * rng.lognormal(0, 0.35), *DEPTHS_UM))
            centre = rng.uniform(0.3, 0.7) if first else rng.random()
            cut, first = cut + one, False
            groove = _cut(rng, relief, number, (along, across - (low + centre * (high - low))), one / 2, deep, (burr, wander))
            if groove is not None:
                grooves.append(groove)
    return finish, grooves, relief


def _cut(rng, relief, number, distances, half_um, depth_um, character) -> Groove | None:
    """Cuts one groove into the relief; distances along and across its line (rows, cols), µm; None where it misses the field."""
    along, across = distances
    burr, wander = character
    across = across - np.float32(np.tan(np.radians(rng.normal(0, 0.8)))) * along
    pixels = np.flatnonzero(np.abs(across) < 1.8 * half_um)
    if pixels.size == 0:
        return None
    run = along.ravel()[pixels]
    middle = across.ravel()[pixels] - 0.3 * half_um * strand(rng, run, 60 * half_um + 40)
    edge = 1 + wander * sum(part * strand(rng, run, knots * half_um) for part, knots in ((0.7, 6), (0.4, 1.4), (0.5, 0.25)))
    place = middle / (half_um * np.clip(edge, 0.7, 1.3))
    near = np.abs(place) < REACH
    pixels, run, place = pixels[near], run[near], place[near]
    if pixels.size == 0:
        return None
    depth_um = min(depth_um, STEEPEST * half_um)
    ends = _ends(rng, run, half_um) * np.clip(1 + 0.12 * strand(rng, run, 10 * half_um), 0.6, 1.0)
    lean = rng.uniform(-0.25, 0.25)
    profile = np.clip(1 - np.abs(place - lean * (1 - place**2)) ** rng.uniform(1.4, 3.2), 0, 1)
    depth = (depth_um * ends * profile).astype(np.float32)
    deeper = depth > relief.depth.flat[pixels]
    relief.depth.flat[pixels[deeper]] = depth[deeper]
    relief.lay.flat[pixels[deeper]] = number
    swell = burr * ends * np.exp(-(((np.abs(place) - 1.1) / 0.1) ** 2)) * np.clip(0.6 + 0.6 * strand(rng, run, 4 * half_um), 0, 1.5)
    relief.rim.flat[pixels] = np.maximum(relief.rim.flat[pixels], swell.astype(np.float32))
    return Groove(pixels, place, run, half_um, depth_um, relief.lays_deg[number])


def _ends(rng, run, half_um) -> np.ndarray:
    """How fully the groove is cut along its run, 0 to 1: most run through the field, one in five begins or ends inside it."""
    if rng.random() > 0.2:
        return np.ones_like(run)
    end = rng.uniform(float(run.min()), float(run.max()))
    return np.clip(rng.choice((-1.0, 1.0)) * (run - end) / (12 * half_um) + 0.5, 0, 1)
