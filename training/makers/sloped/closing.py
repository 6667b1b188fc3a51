"""Moved metal that closes stretches of a groove to within the limit: caps, bridges, lips and flush folds."""

import numpy as np

from .grid import Grid
from .ground import LIMIT_UM
from .noise import curve
from .trench import Trench

KINDS, KIND_SHARES = ("cap", "flush", "lip", "bridge"), (0.36, 0.26, 0.24, 0.14)


def closures(rng: np.random.Generator, grid: Grid, width: float, share: float) -> list[tuple[float, float, str]]:
    """Closed stretches of a groove `width` µm wide as (start, end, kind) along it in µm; about `share` of its length is
    closed, open and closed stretches taking turns."""
    spans, t = [], -grid.radius
    least = 22 * grid.pixel
    while t < grid.radius:
        kind = str(rng.choice(KINDS, p=KIND_SHARES))
        size = rng.uniform(0.8, 1.8) if kind == "bridge" else rng.uniform(1.8, 6.0)
        length = max(size * width, least)
        gap = max(length * (1 - share) / share * rng.uniform(0.5, 1.5), least)
        if not spans:
            t -= rng.uniform(0, length + gap)
        spans.append((t + gap, t + gap + length, kind))
        t += gap + length
    return spans


def close(rng: np.random.Generator, grid: Grid, trench: Trench, share: float, stroke: float, push: int) -> None:
    """Close about `share` of the trench, in place; ends run along the stroke (degrees), lips hang over from the side that
    `push` (-1 or 1) names. Heights of the metal stay within the limit of the plateau."""
    groove = trench.groove
    width, pixel = groove.width, grid.pixel
    lean = 1 / np.tan(np.radians(stroke - groove.deg))
    reach = grid.radius * 2.2 + 100
    ragged = curve(rng, width / 2 + 4, 2.5, 0.9)(trench.s)
    ride = curve(rng, reach, 14, 0.22)
    along = trench.t - np.float32(np.clip(lean, -1.2, 1.2)) * trench.s + ragged
    soft, line = max(0.8, 1.2 * pixel), max(0.45, 0.7 * pixel)  # of edges; half width of a seam
    for first, last, kind in closures(rng, grid, width, share):
        here = np.flatnonzero((along > first - 4 - width) & (along < last + 4 + width) & (trench.cut > 0))
        if not here.size:
            continue
        s, t, cut = trench.s[here], along[here], trench.cut[here]
        tongue = 1 - np.clip(2 * np.abs(s - width * rng.uniform(-0.25, 0.25)) / width, 0, 1) ** 2
        start = first - tongue * width * rng.uniform(-0.25, 0.3)
        end = last + tongue * width * rng.uniform(-0.25, 0.3)
        from_end = np.minimum(t - start, end - t)
        hold = np.clip(from_end / soft + 0.5, 0, 1)
        crown = 1 - np.clip(np.abs(s) / (trench.half[here] + 1e-3), 0, 1) ** 2
        ends = np.exp(-np.clip(from_end, 0, None) / (1.5 + pixel))
        if kind == "cap":
            level, small = 0.22 * crown - 0.05, 0.12 * ends
        elif kind == "bridge":
            level, small = -0.15 - 0.15 * crown, 0.20 * ends
        elif kind == "lip":
            over = rng.uniform(0.45, 0.8) * width - width / 2 + 0.10 * width * ride(t) / 0.22
            free = over - push * s  # from the lip's free edge back over the metal
            hold = hold * np.clip(free / soft + 0.5, 0, 1)
            level, small = np.full_like(s, -0.05), 0.30 * np.exp(-np.clip(free, 0, None) / (1.5 + pixel))
        else:
            level, small = np.full_like(s, -0.03), -0.32 * np.exp(-0.5 * ((s - width * ride(t)) / line) ** 2)
        hold = hold.astype(np.float32)
        seam = np.exp(-0.5 * ((cut - LIMIT_UM) / groove.slope / line) ** 2)  # where the metal meets the rim
        small = small.astype(np.float32) - (0.16 if kind == "flush" else 0.24) * seam
        trench.z[here] = trench.z[here] * (1 - hold) + np.maximum(trench.z[here], level) * hold
        body = hold * np.clip((cut - LIMIT_UM) / 0.25 + 0.5, 0, 1)
        tone = body * (0.14 if kind == "flush" else 0.16) * rng.uniform(0.85, 1.2)
        trench.relief[here] += small * hold
        trench.metal[here] = np.maximum(trench.metal[here], body)
        trench.grey[here] = np.maximum(trench.grey[here], tone)
