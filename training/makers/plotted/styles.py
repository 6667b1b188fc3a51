"""How a groove is drawn: tone across it, rims, rough or carbon-filled floor; tones are grey levels about a plateau at 128."""

from dataclasses import dataclass

import numpy as np

from .grooves import Groove
from .ribbon import fill_between, jagged, trace

PLATEAU = 128
STYLES = ("flat", "gradient", "banks", "rims", "texture", "dashed")


@dataclass(frozen=True)
class Look:
    """What the session's instrument and honing do to every groove; tones in grey levels."""

    style: str
    detector_deg: float
    starve: float
    side: float
    rim: float
    floor: float
    rough: float


def tilt_gain(slope_deg: float) -> float:
    """Relative gain of secondaries from a wall of that slope: sec θ − 1."""
    return 1 / np.cos(np.deg2rad(slope_deg)) - 1


def starved(depth_um) -> np.ndarray:
    """Share of the electrons that never leave a groove: none from a shallow one, most from a deep one."""
    return 1 - np.exp(-np.asarray(depth_um, float) / 2.0)


def facing(lay_deg: float, detector_deg: float) -> float:
    """−1 to 1: how far a wall on the normal's side of a groove of that lay looks to the detector; walls along it see no side."""
    return float(np.cos(np.deg2rad(lay_deg - 90 - detector_deg)))


def draw_look(rng: np.random.Generator) -> Look:
    style = str(rng.choice(STYLES, p=[0.25, 0.2, 0.22, 0.1, 0.13, 0.1]))
    return Look(
        style=style,
        detector_deg=float(rng.uniform(0, 360)),
        starve=float(rng.uniform(15, 75)),
        side=float(rng.uniform(60, 220)),
        rim=float(np.exp(rng.uniform(np.log(6), np.log(70)))),
        floor=float(rng.choice([rng.uniform(-45, -5), rng.uniform(15, 50)], p=[0.75, 0.25])),
        rough=float(rng.uniform(90, 255)),
    )


def tone(look: Look, groove: Groove, across: float, depth_um: float) -> float:
    """Grey level `across` (−1 to 1, rim to rim) of a groove of that depth."""
    down = min(1.5 * (1 - abs(across)), 1.0)
    lit = facing(groove.lay_deg, look.detector_deg)
    slope = np.tan(np.deg2rad(groove.slope_deg))
    dark = -look.starve * float(starved(depth_um)) * down
    bank = -np.sign(across) * lit * look.side * slope * (abs(across) > 0.3) + 100 * tilt_gain(groove.slope_deg)
    inside = min(depth_um / 0.8, 1.0)
    match look.style:
        case "flat":
            return PLATEAU + dark + look.floor * inside * (down > 0.5)
        case "gradient":
            return PLATEAU + 0.6 * dark - across * (0.35 + 0.65 * abs(lit)) * np.sign(lit) * look.side * slope * inside
        case "banks":
            return PLATEAU + 0.7 * dark + bank * inside
        case "rims" | "texture":
            return PLATEAU + 0.25 * dark
        case _:
            return PLATEAU + 0.7 * dark


def paint(rng: np.random.Generator, tones: np.ndarray, roughs: np.ndarray, look: Look, groove: Groove) -> None:
    """Paints one groove onto the tone and the roughness layer (uint8), piece by piece as its depth changes."""
    rims, valley = groove.rims, groove.valley
    count = len(rims.points)
    wide = float(rims.half.max())
    edges = np.linspace(-1, 1, int(np.clip(wide / 1.2, 2, 22)) + 1)
    pieces = 1 if groove.depth_um.std() < 0.15 * groove.depth_um.mean() else 8
    cuts = np.linspace(0, count, pieces + 1).astype(int)
    for start, stop in zip(cuts[:-1], cuts[1:], strict=True):
        piece = rims.part(start, min(stop + 1, count))
        depth = float(groove.depth_um[start:stop].mean())
        if depth < 0.05:
            continue
        for low, high in zip(edges[:-1], edges[1:], strict=True):
            fill_between(tones, piece, low, high, tone(look, groove, (low + high) / 2, depth))
        if look.style == "dashed":
            dashes = np.flatnonzero(jagged(rng, stop - start, 4) > -0.2) + start
            for dash in np.split(dashes, np.flatnonzero(np.diff(dashes) > 1) + 1):
                low, high = sorted(rng.uniform(-0.7, 0.7, 2))
                if len(dash):
                    edge = 0.12 * jagged(rng, len(dash) + 1, 1)
                    part = rims.part(dash[0], dash[0] + len(dash) + 1)
                    edge = edge[: len(part.points)]
                    fill_between(tones, part, low - 0.1 + edge, high + 0.1 - edge, PLATEAU + look.floor - 0.6 * look.starve * depth**0.3)
    strength = look.rough * {"texture": 1.0, "rims": 0.5, "dashed": 0.7}.get(look.style, 0.45)
    if valley.half.max() > 0:
        fill_between(roughs, valley, -1, 1, strength * min(float(groove.depth_um.max()), 1.5) / 1.5)
    rim = look.rim * {"rims": 1.2, "texture": 0.7, "dashed": 0.8}.get(look.style, 0.45) * min(float(groove.depth_um.mean()), 1.0)
    for side in (-1, 1):
        line = rims.line(side * (1 + 0.05 * jagged(rng, count, 1)))
        # A rim is torn in stretches: bright only where a burr stands up.
        there = np.flatnonzero(rims.half > 0.2)
        if look.style != "flat" and len(there) > 1:
            trace(tones, line[there[0] : there[-1] + 1], PLATEAU + 0.3 * rim)
        shown = jagged(rng, count, 4) > rng.uniform(-1.5, 0.5)
        for run in np.split(np.arange(count), np.flatnonzero(np.diff(shown)) + 1):
            if shown[run[0]] and len(run) > 1 and rims.half[run].min() > 0.2:
                trace(tones, line[run], PLATEAU + rim * rng.uniform(0.2, 1.3), 2 if rim > 30 and wide > 5 else 1)
