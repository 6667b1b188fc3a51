"""Wear: the cut through the material ratio curve, and metal moved over the grooves by an energy rule."""

from dataclasses import dataclass

import numpy as np

from .chance import log_uniform
from .cuts import Cut

LIMIT_UM = 0.5
"""semwear.terms: a groove's ground at least this far below the local plateau is an open valley."""


@dataclass(frozen=True, kw_only=True)
class Closing:
    """before_um and after_um: groove depth below the worn plateau; burnish 0 to 1; fold 0 to 1 where a fold line runs."""

    before_um: np.ndarray
    after_um: np.ndarray
    burnish: np.ndarray
    fold: np.ndarray


def level_at(height_um: np.ndarray, material_ratio: float) -> float:
    """Height in um above which lies material_ratio (0 to 1) of the surface: the material ratio curve read backwards."""
    return float(np.quantile(height_um, 1 - material_ratio))


def energy(cut: Cut, stroke_rad: float) -> float:
    """Ease of closing: high for cuts that are deep for their width and lie across the stroke."""
    return float(np.sqrt(cut.deepest_um / cut.width_um) * (0.15 + abs(np.sin(cut.lay_rad - stroke_rad)) ** 2))


def close(rng, cuts: list[Cut], *, lost_um, worn, stroke_rad: float, share: float, pixel_size_um: float) -> Closing:
    """Close about the share of the groove length; lost_um (a map) is what truncation took off the plateau."""
    shape = worn.shape
    before, after, burnish, fold = (np.zeros(worn.size, np.float32) for _ in range(4))
    lost, track = lost_um.ravel(), worn.ravel()
    ease = np.array([energy(one, stroke_rad) for one in cuts])
    ease = ease / (ease.mean() + 1e-9) if len(cuts) else ease
    typical = log_uniform(rng, 0.04, 0.6) * min(shape) * pixel_size_um
    spread = rng.uniform(0.3, 1.0)
    line = max(1.1 * pixel_size_um, 0.3)
    for one, eager in zip(cuts, ease, strict=True):
        depth = one.depth_um - lost[one.at]
        kept = depth.copy()
        run = float(np.ptp(one.along_um)) if one.at.size else 0.0
        count = (
            rng.poisson(-np.log1p(-min(share, 0.97)) * eager * run / typical / np.exp(spread**2 / 2))
            if share > 0
            else 0
        )
        for _ in range(min(int(count), 9)):
            length = typical * np.exp(rng.normal(0, spread))
            middle = one.along_um.min() + rng.uniform(0, run)
            # the front of moved metal is no straight edge: it runs slantwise over the groove with teeth
            slant, teeth = rng.normal(0, 0.5), rng.uniform(0.05, 0.25)
            bent = one.side + teeth * np.sin(5 * one.side + rng.uniform(0, 6))
            front = one.along_um - middle - bent * slant * one.width_um / 2
            inner = (
                length / 2
                - np.abs(front)
                - teeth * one.width_um * (0.5 + 0.5 * np.sin(7 * one.side + rng.uniform(0, 6)))
            )
            if rng.random() < 0.25:
                inner = np.minimum(inner, (rng.choice([-1, 1]) * one.side + rng.uniform(-0.2, 0.7)) * one.width_um / 2)
            hit = (inner > 0) & track[one.at] & (depth > 0)
            if not hit.any():
                continue
            left = rng.uniform(0, 0.5) if rng.random() < 0.85 else rng.uniform(0.5, 1.2)
            kept[hit] = np.minimum(kept[hit], left)
            burnish[one.at[hit]] = 1.0
            # metal comes from one rim and is laid down at the other; a cap hardly wider than the line shows little of it
            room = min(one.width_um / (14 * line), 1.0)
            rims = (
                np.exp(-(((1 - rng.choice([-1, 1]) * one.side[hit]) * one.width_um / 2 / line) ** 2))
                * rng.uniform(0, 1)
                * room
            )
            ends = np.exp(-((inner[hit] / line) ** 2)) * rng.uniform(0.2, 1)
            inside = (
                0.7
                * room
                * np.exp(-(((one.side[hit] - rng.normal(0, 0.4)) * one.width_um / 2 / line) ** 2))
                * (rng.random() < 0.35)
            )
            fold[one.at[hit]] = np.maximum(fold[one.at[hit]], np.maximum(np.maximum(rims, ends), inside))
        before[one.at] = np.maximum(before[one.at], depth)
        after[one.at] = np.maximum(after[one.at], kept)
    burnish[after >= LIMIT_UM] *= 0.3
    return Closing(
        **{
            name: map_.reshape(shape)
            for name, map_ in dict(before_um=before, after_um=after, burnish=burnish, fold=fold).items()
        }
    )


def states(closing: Closing) -> np.ndarray:
    """Codes 0, 1, 2 by the definitions; ground that truncation alone made shallow is plateau."""
    codes = np.zeros(closing.before_um.shape, np.uint8)
    codes[closing.after_um >= LIMIT_UM] = 1
    codes[(closing.before_um >= LIMIT_UM) & (closing.after_um < LIMIT_UM)] = 2
    return codes
