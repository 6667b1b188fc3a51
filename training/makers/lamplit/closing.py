"""Moved metal that closes stretches of one groove: sheets, folds, plugs, burnished strips, bridges, packed debris."""

from dataclasses import dataclass

import numpy as np

from .noise import log_between, wander

KINDS = ("sheet", "fold", "plug", "strip", "bridge", "packed", "pressed", "sag")
OPEN = np.float32(15.0)
BURNISHED, PACKED = 1, 2


@dataclass(frozen=True)
class Plan:
    """How a worn field smears: share of grooves touched, share of a touched groove's length that is closed, weights of KINDS,
    lip height (um), residual dip (um) and seam depth (um)."""

    touched: float
    length: float
    weights: np.ndarray
    lip_um: float
    dip_um: float
    seam_um: float


def draw_plan(rng: np.random.Generator) -> Plan:
    """A field's habits; most fields favour two or three kinds of closure."""
    weights = rng.gamma(0.5, 1.0, len(KINDS)) + 0.02
    weights[-1] *= 0.3
    return Plan(
        touched=float(rng.beta(1.6, 0.7)),
        length=log_between(rng, 0.12, 1.6),
        weights=weights / weights.sum(),
        lip_um=log_between(rng, 0.15, 1.0),
        dip_um=float(rng.uniform(0.0, 0.3)),
        seam_um=float(rng.uniform(0.12, 0.42)),
    )


def close(rng, plan: Plan, layers, rows: slice, s: np.ndarray, offset: np.ndarray, half: float, shear: float, depth: float) -> None:
    """Write closures of one groove into layers (cap um, lip um, label). s: signed half widths from the middle; offset: the same
    in pixels; half: half width in pixels; shear: pixels along the groove per pixel across it when following the stroke."""
    if rng.random() > plan.touched:
        return
    side = s.shape[1]
    left = plan.length * side * rng.uniform(0.4, 1.2)
    for _ in range(40):
        if left <= 0:
            return
        kind = KINDS[rng.choice(len(KINDS), p=plan.weights)]
        long = {"strip": (6, 60), "bridge": (0.5, 2), "plug": (0.8, 3), "packed": (1, 8)}.get(kind, (1.0, 12))
        run = float(np.clip(half * log_between(rng, *long), 5.0, 1.5 * side))
        left -= run
        _one(rng, kind, plan, layers, rows, s, offset, half, shear, depth, rng.uniform(-run * 0.3, side - run * 0.7), run)


def _one(rng, kind, plan, layers, rows, s, offset, half, shear, depth, start, run) -> None:
    cap, lip, label = layers
    # Metal moves along the stroke, so the fronts of a closure slant with it rather than stand square to the groove.
    shear = float(np.clip(shear, -2.5, 2.5)) if kind in ("bridge", "sheet", "pressed") else rng.uniform(-0.4, 0.4)
    margin = int(abs(shear) * half * 1.4 + 4)
    first, last = max(int(start) - margin, 0), min(int(start + run) + margin, s.shape[1])
    if last - first < 3:
        return
    s, offset = s[:, first:last], offset[:, first:last]
    u = np.arange(first, last, dtype=np.float32)[None, :] - np.float32(shear) * offset
    ragged = (wander(rng, s.shape[0], max(half * rng.uniform(0.1, 0.6), 1.5)) * rng.uniform(0.05, 0.4) * half)[:, None]
    edge = np.minimum(u - start - ragged, start + run + ragged[::-1] - u)
    t = np.abs(s)
    mask = (edge > 0) & (t < 1.05)
    if kind == "fold":
        reach = (rng.uniform(-0.9, 0.7) + 0.25 * wander(rng, s.shape[1], max(half, 3.0)))[None, :]
        ahead = s * rng.choice([-1, 1]) - reach
        mask &= ahead > 0
        edge = np.minimum(edge, ahead * half)
    elif kind == "plug":
        mid = start + run / 2
        edge = (1 - np.hypot((u - mid) / (run / 2), s * 0.8) - 0.4 * ragged / half) * half
        mask = (edge > 0) & (t < 1.1)
    rough = kind in ("packed", "pressed")
    dip = plan.dip_um * rng.uniform(0.3, 1.3)
    top = dip + plan.seam_um * np.clip(1 - np.abs(t - 0.86) / 0.1, 0, 1)
    top = np.minimum(top, 0.43)
    if kind == "sag":
        top = np.minimum(top + depth * rng.uniform(0.3, 0.7), depth)
    here = (rows, slice(first, last))
    cap[here] = np.where(mask, np.minimum(top, cap[here]), cap[here])
    label[here] = np.where(mask, PACKED if rough else BURNISHED, label[here])
    width = max(1.4, 0.15 * half)
    bump = np.clip(1 - np.abs(edge - width) / width, 0, 1) * rng.uniform(0.4, 1.3)
    if not rough and rng.random() < 0.6:
        # Metal that advanced stroke by stroke leaves a fold line at each halt.
        step = max(half * rng.uniform(0.3, 1.2), 5.0)
        bump = np.maximum(bump, 0.35 * (np.mod(edge + 2 * wander(rng, s.shape[1], 9)[None, :], step) < 1.4))
    lip[here] = np.maximum(lip[here], np.where(mask, bump * plan.lip_um, 0))
