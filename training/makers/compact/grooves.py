"""Hone grooves as lines: place, width, depth and cross-section, cut as the lowest of all of them.

A honed bore carries two bands of grooves placed at random at two angles (Puente León, CIRP Annals 51 (2002) 503), set
evenly about the circumference. Included angles of 30–60° are usual and 140–150° for helical slide honing, grooves 1–10 µm
deep and 5–50 µm wide with walls sloping 6–27° (from memory; common practice, no source, for the narrower ones here).
"""

from dataclasses import dataclass

import numpy as np

from .geometry import Frame, wander


@dataclass(frozen=True)
class Line:
    """One groove: direction, place across that direction, width at the plateau's level and greatest depth."""

    lay_rad: float
    place_um: float
    width_um: float
    depth_um: float


@dataclass(frozen=True)
class Cut:
    """Depth below the plateau (µm), which line is deepest there (−1 none), and the place across it (0 one rim, 1 other)."""

    depth: np.ndarray
    line: np.ndarray
    share: np.ndarray


def hone_angle_deg(rng: np.random.Generator) -> float:
    low, high = [(28, 62), (138, 152), (60, 125)][rng.choice(3, p=[0.74, 0.16, 0.1])]
    return float(rng.uniform(low, high))


def lays_rad(rng: np.random.Generator, stroke_rad: float, angle_deg: float) -> list[float]:
    """Directions of the lays, evenly about the direction across the stroke; one of them alone in a few fields."""
    both = [stroke_rad + np.pi / 2 + side * np.radians(angle_deg) / 2 for side in (-1, 1)]
    return [both[rng.integers(2)]] if rng.random() < 0.08 else both


def lines(rng: np.random.Generator, frame: Frame, lays: list[float], share: float, width_um: float) -> list[Line]:
    """Grooves that take about a share of the area, of widths about width_um, regular, random or in clusters."""
    spread, slope = rng.uniform(0.15, 0.6), np.tan(np.radians(rng.uniform(8, 27)))
    depth_um = np.clip(width_um / 2 * slope, rng.uniform(0.8, 1.4), 6)
    order, found = rng.choice(["regular", "random", "clustered"], p=[0.25, 0.5, 0.25]), []
    balance = rng.uniform(0.3, 0.7) if len(lays) == 2 else 1.0
    for lay, part in zip(lays, (balance, 1 - balance), strict=False):
        count = max(2, round(share * part * 2 * frame.reach_um / (width_um * np.exp(spread**2 / 2))))
        places = rng.uniform(-1, 1, count)
        if order == "regular":
            places = (
                np.linspace(-1, 1, count, endpoint=False)
                + rng.uniform(0, 2) / count
                + rng.normal(0, 0.3 / count, count)
            )
        if order == "clustered":
            nests = rng.uniform(-1, 1, max(2, count // 4))
            places = rng.choice(nests, count) + rng.normal(0, 2 * width_um / frame.reach_um, count)
        widths = np.maximum(width_um * np.exp(rng.normal(0, spread, count)), 3 * frame.pixel_um)
        depths = depth_um * np.sqrt(widths / width_um) * np.exp(rng.normal(0, 0.3, count))
        found += [Line(lay, p * frame.reach_um, w, d) for p, w, d in zip(places, widths, depths, strict=True)]
    return found


def cut(rng: np.random.Generator, frame: Frame, drawn: list[Line], unrest: float = 1.0) -> Cut:
    """Depth map of the lines. unrest scales their waviness, rough edges and changes of depth (0: ruled straight)."""
    size = frame.x.size
    depth, line, place = np.zeros(size, np.float32), np.full(size, -1, np.int16), np.zeros(size, np.float32)
    power, flat, skew = rng.choice([1.0, 2.0, 4.0]), rng.uniform(1, 1.6), rng.uniform(-0.25, 0.25)
    rough_edge, swell, turn = (
        unrest * rng.uniform(0, 0.12),
        unrest * rng.uniform(0.05, 0.3),
        unrest * rng.uniform(0, 0.012),
    )
    tables, long = (len(drawn), frame.table_size), rng.uniform(60, 250)
    sway, deep = wander(rng, tables, long), wander(rng, tables, long / 2)
    teeth = np.median([each.width_um for each in drawn] or [1]) / frame.pixel_um * rng.uniform(0.05, 0.6)
    edges = [np.maximum(1 + rough_edge * wander(rng, tables, teeth), 0.5) for _ in range(2)]
    ridges = wander(rng, (len(drawn), 40), rng.uniform(0.8, 3)) * rng.uniform(0, 0.45) * unrest
    starts = np.where(
        rng.random(len(drawn)) < 0.15 * min(unrest, 1), rng.uniform(-1, 1, len(drawn)) * frame.reach_um, -np.inf
    )
    turns = rng.normal(0, turn, len(drawn))
    for lay in sorted({each.lay_rad for each in drawn}):
        s_all, t_all = frame.along(lay).ravel(), frame.across(lay).ravel()
        order = np.argsort(t_all)
        ranked = t_all[order]
        for number, each in enumerate(drawn):
            if each.lay_rad != lay:
                continue
            centre = each.place_um + sway[number] * unrest * min(0.3 * each.width_um, 4 * frame.pixel_um)
            centre = centre + turns[number] * frame.pixel_um * (np.arange(frame.table_size) - frame.table_size / 2)
            one, other = (each.width_um / 2 * edge[number] for edge in edges)
            first, last = np.searchsorted(ranked, [(centre - one).min(), (centre + other).max()])
            pixels = order[first:last]
            step = frame.steps(s_all[pixels])
            across = t_all[pixels] - centre[step]
            across = across / np.where(across < 0, one[step], other[step])
            inside = np.abs(across) < 1
            pixels, step, across = pixels[inside], step[inside], across[inside]
            bent = across + skew * (1 - across**2)
            deepness = each.depth_um * np.maximum(1 + swell * deep[number][step], 0.1)
            deepness = deepness * np.clip((s_all[pixels] - starts[number]) / (8 * each.width_um), 0, 1)
            floor = 1 + ridges[number][((across + 1) * 19.9).astype(np.int32)] * (1 - across**2)
            new = np.clip(np.minimum(flat * (1 - np.abs(bent) ** power), 1) * floor, 0, 1.2) * deepness
            deeper = new > depth[pixels]
            pixels = pixels[deeper]
            depth[pixels], line[pixels], place[pixels] = new[deeper], number, (across[deeper] + 1) / 2
    shape = frame.x.shape
    return Cut(depth.reshape(shape), line.reshape(shape), place.reshape(shape))
