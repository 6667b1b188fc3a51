"""The honed surface before it is run: two lays of grooves under a plateau with finishing marks.

Two bands of grooves stand at random places at two angles (Puente León, CIRP Annals 51 (2002) 503), symmetric about
the direction across the stroke. Included hone angles of 30–60° are usual, 140–150° after helical slide honing; groove
depth 1–10 µm, width 5–50 µm (from memory). The plateau has the three parts of ISO 13565-2: a core, reduced peaks on
top, and the grooves below. Depths are counted from the plateau, downwards, in µm.
"""

from dataclasses import dataclass
from math import pi

import numpy as np

from .frames import Array, Frame, Rng, correlated, rough

HONE_ANGLES_DEG = ((30.0, 60.0), (140.0, 150.0))
FINISHES = {  # share of grooved area, spread of the finishing marks (µm), depth over width
    "single": ((0.35, 0.70), (0.08, 0.16), (0.10, 0.26)),
    "plateau": ((0.18, 0.45), (0.02, 0.09), (0.12, 0.30)),
    "fine": ((0.07, 0.22), (0.015, 0.05), (0.08, 0.20)),
}


@dataclass
class Honed:
    """Maps of one honed field: depth (µm) of its grooves; side, -1 to 1 from the rim that metal reaches first; texture
    (µm) of the plateau; rim (0-1) beside grooves; striae (unit spread) that the grains leave along the lays; and stroke, finish and hone_angle_deg as drawn."""

    depth: Array
    side: Array
    texture: Array
    rim: Array
    striae: Array
    stroke: float
    finish: str
    hone_angle_deg: float
    width_px: float


def profile(offset: Array, bottom: float) -> Array:
    """Depth of a groove over its greatest, from a vee (bottom 1) to a flat floor (bottom 4)."""
    inside = np.clip(1 - np.abs(offset), 0, 1)
    return np.minimum(inside * (0.6 + 0.6 * bottom), 1 - (1 - inside) ** 2)


def _lay(rng: Rng, frame: Frame, share: float, width: float, steep: float, pixel: float) -> tuple[Array, Array, Array]:
    """Depth, side and rim of one lay, turned onto the picture; width in µm."""
    n = frame.side
    depth, side, rim = np.zeros((n, n), np.float32), np.ones((n, n), np.float32), np.zeros((n, n), np.float32)
    columns = np.linspace(-0.5, 0.5, n, dtype=np.float32)
    spread, bottom, drawn = rng.uniform(0.15, 0.55), rng.uniform(0.9, 4.0), 0.0
    target = share * n
    for number in range(90):
        if drawn >= target and number >= 4:
            break
        size = max(width * rng.lognormal(0, spread), 3.2 * pixel) / pixel
        deepest = float(np.clip(size * pixel * steep * rng.lognormal(0, 0.35), 0.35, 9.0))
        drawn += size
        wave = correlated(rng, (3, n), (9, n / rng.uniform(2, 9)))[:2]
        half = size / 2 * np.clip(1 + 0.16 * wave[0], 0.5, 1.5)
        middle = rng.uniform(0, n) + rng.normal(0, 0.012) * n * columns + 0.05 * size * wave[1]
        level = np.clip(1 + 0.18 * wave[1], 0.4, 1.6)
        if rng.random() < 0.3:  # the grain lifts off: the groove runs out
            end = rng.uniform(-0.4, 0.4) * rng.choice([-1, 1])
            level *= np.clip((columns - end) * rng.choice([-1, 1]) * n / (3 * size) + 0.5, 0, 1)
        top, low = int(max((middle - 1.6 * half).min(), 0)), int(min((middle + 1.6 * half).max() + 2, n))
        if low <= top:
            continue
        offset = (np.arange(top, low, dtype=np.float32)[:, None] - middle[None]) / half[None]
        own = profile(offset, bottom * rng.uniform(0.8, 1.2)) * (deepest * level)[None]
        part = depth[top:low]
        wins = own > part
        np.copyto(part, own, where=wins)
        np.copyto(side[top:low], offset, where=wins)
        near = np.clip(1.5 - np.abs(offset), 0, 0.5) * 2 * (np.abs(offset) > 1) * np.clip(level * deepest, 0, 1)[None]
        np.maximum(rim[top:low], near, out=rim[top:low])
    rim *= depth <= 0
    return frame.turned(depth), frame.turned(side, nearest=True), frame.turned(rim)


def core(field: Array, spread: float, peaks: float, pits: float) -> Array:
    """Heights (µm) with a straight core and drawn-out peaks and pits, from a Gaussian field (the three parts of
    ISO 13565-2); none is 0.42 µm off the plateau, so that it stays plateau by definition."""
    high, low = np.clip(field - 1.2, 0, None), np.clip(-field - 1.2, 0, None)
    return 0.42 * np.tanh(spread * (field + peaks * high - pits * low) / 0.42)


def honed(rng: Rng, shape: tuple[int, int], pixel: float, finish: str | None = None) -> Honed:
    """One honed field of a random stroke direction, hone angle and finish."""
    finish = finish or str(rng.choice(list(FINISHES), p=[0.3, 0.5, 0.2]))
    shares, spreads, steeps = FINISHES[finish]
    stroke = float(rng.uniform(0, 2 * pi))
    angle = float(rng.uniform(*HONE_ANGLES_DEG[int(rng.random() < 0.15)]))
    width = min(float(np.exp(rng.uniform(np.log(max(2.5, 5.5 * pixel)), np.log(max(8.0, 20 * pixel))))), 45.0)
    steep = max(float(rng.uniform(*steeps)), 0.75 / width)
    share = float(rng.uniform(*shares))
    balance = 1.0 if rng.random() < 0.07 else float(rng.uniform(0.35, 0.65))
    depth, side = np.zeros(shape, np.float32), np.ones(shape, np.float32)
    rim, marks = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    scratch = rng.uniform(1.1, 2.8)
    for sign, part in ((1, balance), (-1, 1 - balance)):
        if part == 0:
            continue
        lay = stroke + pi / 2 + sign * np.deg2rad(angle) / 2
        if np.sin(stroke - lay) * -1 < 0:  # so that `across` grows with the stroke: metal comes from side -1
            lay += pi
        frame = Frame(shape, lay, rng.normal(0, 0.006))
        own, own_side, own_rim = _lay(rng, frame, share * part, width, steep, pixel)
        side = np.where(own > depth, own_side, side)
        depth = np.maximum(depth, own)
        rim = np.maximum(rim, own_rim)
        long = rng.uniform(60, 500)
        marks += np.sqrt(part) * frame.streaks(rng, scratch, long)
        marks += 0.7 * np.sqrt(part) * frame.streaks(rng, scratch * 3, long)
    fine = rough(rng, shape, rng.uniform(4, 12), 3)
    grain = rng.uniform(0.1, 0.6)
    texture = core(marks * 0.8 + grain * fine, rng.uniform(*spreads), rng.uniform(0, 0.5), 10 ** rng.uniform(-1, 0.4))
    rim = rim * (depth <= 0)
    ragged = np.clip(0.5 + rough(rng, shape, max(3.0, width / pixel * 0.5), 2), 0, None)
    texture += (rng.uniform(0.02, 0.3) * rim * ragged).astype(np.float32)
    return Honed(depth, np.clip(side, -1, 1), texture, rim, marks, stroke, finish, angle, width / pixel)
