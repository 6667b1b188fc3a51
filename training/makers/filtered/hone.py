"""The honed ground: two lays of grooves placed at random (Puente León, CIRP Annals 51 (2002) 503)."""

from dataclasses import dataclass

import numpy as np

from makers.filtered.grain import cloud, frame

STEEPEST = np.tan(np.radians(27))
"""Walls of hone grooves slope by 6 to 27° (tests/SOURCES.md), taken as the mean from rim to floor."""


@dataclass(frozen=True)
class Sheet:
    """Grooves of one lay and size, maps of (rows, cols): depth, µm; index of the nearest groove; place across it in half widths;
    distance along the lay, µm; their mean width, µm; lay, °; count of grooves."""

    depth: np.ndarray
    index: np.ndarray
    place: np.ndarray
    along: np.ndarray
    width_um: float
    lay_deg: float
    count: int


def finish(rng: np.random.Generator) -> dict:
    """The plan of one field's hone: name, included angle (°), widths (µm), depth (µm), shares of area of coarse and fine sheets.
    Angles, widths, depths and shares as in tests/SOURCES.md (from memory there); the mix is common practice, no source."""
    name = str(rng.choice(["plateau", "single", "helical"], p=[0.55, 0.25, 0.2]))
    angle = rng.uniform(140, 150) if name == "helical" else rng.uniform(30, 60) if rng.random() < 0.75 else rng.uniform(60, 95)
    depth = rng.uniform(0.7, 1.1) if rng.random() < 0.12 else float(np.clip(np.exp(rng.normal(0.85, 0.5)), 0.9, 6))
    width = float(np.exp(rng.uniform(np.log(5), np.log(60))))
    coarse, fine = rng.uniform(0.06, 0.15), rng.uniform(0.02, 0.07)
    if name == "single":
        coarse, fine = coarse * 1.4, fine * 2
    return {"name": name, "angle": angle, "depth": depth, "width": width, "coarse": coarse, "fine": fine}


def hone(rng: np.random.Generator, plan: dict, shape: tuple[int, int], pixel_um: float, stroke_deg: float) -> list[Sheet]:
    """Sheets of the two lays, bisected by the line across the stroke; the first shows a groove near the middle of the field."""
    side_um = min(shape) * pixel_um
    width = float(np.clip(plan["width"], 5 * pixel_um, max(0.28 * side_um, 5 * pixel_um)))
    sheets = []
    for sign in rng.permutation([-1, 1]):
        balance = rng.uniform(0.55, 1.2)
        for share, scale in ((plan["coarse"], 1.0), (plan["fine"], rng.uniform(0.3, 0.55))):
            if scale < 1 and (scale * width < 3.5 * pixel_um or rng.random() < 0.3):
                continue
            lay = stroke_deg + 90 + sign * plan["angle"] / 2 + rng.normal(0, 1.0)
            deep = plan["depth"] * scale**0.6
            sheets.append(_sheet(rng, shape, pixel_um, lay, width * scale, deep, share * balance, not sheets))
    return sheets


def _sheet(rng, shape, pixel_um, lay, width, deep, share, show) -> Sheet:
    """Grooves of about `width` and `deep`, both µm, that take `share` of the area of (rows, cols)."""
    along, across = frame(shape, pixel_um, lay)
    reach = float(np.abs(across).max()) + width
    centres, halves, at = [], [], -reach + rng.uniform(0, width / share)
    while at < reach:
        half = 0.5 * width * float(np.exp(rng.normal(-0.06, 0.35)))
        at += half
        centres.append(at)
        halves.append(half)
        at += half + width * (0.12 + rng.exponential(max(1 / share - 1.12, 0.1)))
    if not centres:
        centres, halves = [rng.uniform(-reach, reach)], [0.5 * width]
    centres, halves = np.array(centres), np.clip(halves, 1.6, 30)
    if show:
        nearest = np.abs(centres).argmin()
        centres = centres + np.float64(rng.uniform(-0.2, 0.2) * min(shape) * pixel_um) - centres[nearest]
    depths = np.minimum(np.clip(deep * np.exp(rng.normal(0, 0.3, len(centres))), 0.75, 10), halves * STEEPEST)
    power = rng.uniform(1.5, 3.0, len(centres)).astype(np.float32)
    wander = cloud(rng, along, across, (max(8 * width, 30), 4 * width)) * np.float32(0.10 * width)
    index = np.searchsorted((centres[1:] + centres[:-1]) / 2, (across + wander).ravel()).reshape(shape)
    place = (across + wander - centres.astype(np.float32)[index]) / halves.astype(np.float32)[index]
    ragged = cloud(rng, along, across, (max(0.7 * width, 1.5 * pixel_um), max(0.35 * width, 1.5 * pixel_um)))
    inside = np.clip(1 - np.abs(place) * (1 + np.float32(rng.uniform(0.02, 0.1)) * ragged), 0, 1)
    deepness = depths.astype(np.float32)[index] * (1 + 0.14 * cloud(rng, along, across, (5 * width, width))).clip(0.8, 1.4)
    depth = deepness * (1 - (1 - inside) ** power[index])
    if rng.random() < 0.4:  # some grooves begin or end within the field
        ends = rng.uniform(-0.2, 1.4, len(centres)) * np.abs(along).max()
        turned = rng.choice([-1, 1], len(centres))
        depth = depth * np.clip((ends[index] - turned[index] * along) / (2 * width), 0, 1)
    return Sheet(depth.astype(np.float32), index, place.astype(np.float32), along, width, lay, len(centres))
