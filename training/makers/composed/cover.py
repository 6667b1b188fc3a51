"""Closures: moved metal that comes from one wall or from both and closes a groove, by kind."""

from dataclasses import dataclass

import numpy as np

from .lay import LIMIT_UM, Sheet, waver
from .noise import spectral

KINDS = {  # length over width, length of the ends over width
    "cap": ((1.0, 5.0), (0.3, 1.2)),
    "bridge": ((0.5, 1.4), (0.15, 0.4)),
    "lip": ((1.5, 6.0), (0.4, 1.5)),
    "tongue": ((0.5, 2.2), (0.2, 0.6)),
    "flush": ((3.0, 14.0), (0.05, 0.5)),
}
"""Common practice, no source."""
FAR = 1.6
"""A front that hasn't started stands this far out, in half widths."""


@dataclass(frozen=True, kw_only=True)
class Closed:
    """Maps (rows, cols): depth after closing in µm; cap and flush: bool footprints of raised and of burnished metal; seam: 0 to 1,
    where two fronts meet; crease: 0 to 1, the former rims of what was closed."""

    depth: np.ndarray
    cap: np.ndarray
    flush: np.ndarray
    seam: np.ndarray
    crease: np.ndarray


def fronts(rng, sheet: Sheet, width_um: np.ndarray, share: float, kinds: list[str]) -> tuple[np.ndarray, ...]:
    """Tables (grooves, bins): the front that came from the rim at -1, the one from +1, and which of it is burnished flush.
    Each groove of width_um (grooves,) is closed over about share of its length."""
    low = np.full((sheet.count, sheet.bins), -FAR, np.float32)
    high = np.full((sheet.count, sheet.bins), FAR, np.float32)
    flush = np.zeros((sheet.count, sheet.bins), bool)
    drift = waver(rng, sheet.count, sheet.bins, 0.6 * float(np.median(width_um)) / sheet.step_um)
    for number in np.unique(sheet.groove):
        shut, wanted = 0.0, np.clip(share * rng.lognormal(0, 0.4), 0, 0.85) * sheet.bins
        for _ in range(60):
            if shut >= wanted:
                break
            kind = kinds[rng.integers(len(kinds))]
            lengths, ends = KINDS[kind]
            bins = max(int(rng.uniform(*lengths) * width_um[number] / sheet.step_um), 4)
            first = int(rng.integers(-bins // 2, sheet.bins - bins // 2))
            if shut + bins > wanted and rng.random() > (wanted - shut) / bins:
                break
            x = np.arange(max(first, 0), min(first + bins, sheet.bins))
            end = np.maximum(rng.uniform(*ends, 2) * width_um[number] / sheet.step_um, 1)
            grown = np.clip(np.minimum((x - first + 1) / end[0], (first + bins - x) / end[1]), 0, 1) ** 0.6
            wander = 0.25 * drift[number, x]
            if kind in ("cap", "bridge"):  # two fronts meet
                meet = rng.uniform(-0.5, 0.5) + wander
                left, right = -FAR + (meet + 0.03 + FAR) * grown, FAR - (FAR - meet + 0.03) * grown
            else:
                tip = {"flush": FAR, "tongue": rng.uniform(0.3, FAR), "lip": rng.uniform(-0.1, 0.8)}[kind]
                left, right = -FAR + (tip + (kind != "flush") * wander + FAR) * grown, np.full(len(x), FAR)
                if rng.random() < 0.5:
                    left, right = -right, -left
            fresh = np.count_nonzero((low[number, x] <= -FAR) & (high[number, x] >= FAR))
            low[number, x] = np.maximum(low[number, x], left)
            high[number, x] = np.minimum(high[number, x], right)
            flush[number, x] = kind == "flush"
            shut += fresh * (0.6 if kind == "lip" else 1.0)
    return low, high, flush


def close(rng, sheet: Sheet, depth: np.ndarray, worn: np.ndarray, pixel_um: float, stroke_deg: float, share: float,
          kinds: list[str]) -> Closed:
    """depth (rows, cols) is the sheet's ground as worn, in µm. Ends are cut along the stroke, since metal is carried that way."""
    middle = np.zeros(sheet.count, np.float32)
    middle[sheet.groove.ravel()] = sheet.half.ravel()
    width = 2 * np.maximum(middle, 1.5)
    low, high, flush = fronts(rng, sheet, width, share, kinds)
    turn = np.deg2rad(stroke_deg - sheet.lay_deg)
    lean = np.clip(np.cos(turn) / (np.sin(turn) + 1e-3), -1.5, 1.5)
    ragged = spectral(rng, depth.shape, pixel_um, (3.0, 0.8), stroke_deg, 1.1)
    place = sheet.place + 0.07 * ragged
    carried = sheet.along - np.float32(lean) * sheet.place * sheet.half + np.float32(0.06) * sheet.half * ragged
    left, right, burnished = (sheet.at(table, carried) for table in (low, high, flush))
    dug = worn & (depth >= LIMIT_UM) & (np.abs(sheet.place) < 1)
    shut = dug & ((place < left) | (place > right))
    meet = (left + right) / 2
    apart = np.abs(place - meet) * sheet.half
    near = np.exp(-((apart / max(0.35, 0.9 * pixel_um)) ** 2)) * (left > right) * (left < 1) * (right > -1)
    apart_um = np.maximum(0.2 * sheet.half, 1.2 * pixel_um)
    shut &= burnished | (apart > apart_um) | (left >= 1) | (ragged < rng.uniform(1.5, 2.6))  # else a pinhole
    level = (0.5 + 0.5 * np.tanh(ragged)) * np.float32(rng.uniform(0.1, 0.44))
    after = np.where(shut, np.where(burnished, 0.3 * level, level), depth).astype(np.float32)
    rim = np.exp(-(((np.abs(sheet.place) - 0.97) * sheet.half / max(0.5, 0.9 * pixel_um)) ** 2))
    rim *= (place < left) | (place > right)
    return Closed(depth=after, cap=shut & ~burnished, flush=shut & burnished, seam=near * shut, crease=rim * worn)
