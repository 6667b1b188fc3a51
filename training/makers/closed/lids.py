"""A catalogue of how moved metal closes a hone groove: where it lies, how high, and how it looks."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .grooves import Groove
from .noise import between, wander


@dataclass(frozen=True, kw_only=True)
class Lid:
    """Over a groove's cells: cover (bool), dip_um of its top below the plateau (negative stands proud), smooth 0–1
    (1 burnished, 0 torn), glow (extra signal; negative is shadow or crack)."""

    cover: np.ndarray
    dip_um: np.ndarray
    smooth: np.ndarray
    glow: np.ndarray


@dataclass(frozen=True, kw_only=True)
class Seen:
    """A groove as the flowing metal meets it: reach_um from the upstream rim along the flow, gap_um there to the far
    rim, root_um the place along the groove where that metal left its rim."""

    reach_um: np.ndarray
    gap_um: np.ndarray
    root_um: np.ndarray


def facing(groove: Groove, flow_deg: float) -> Seen:
    turn = np.radians(flow_deg - groove.angle_deg)
    over, along = np.sin(turn), np.cos(turn)
    # Metal that flows almost along a groove still enters it sideways.
    over = np.sign(over or 1.0) * max(abs(over), 0.35)
    up = groove.left_um if over > 0 else groove.right_um
    from_rim = np.sign(over) * groove.u_um + up
    gap = groove.left_um + groove.right_um
    return Seen(reach_um=from_rim / abs(over), gap_um=gap / abs(over), root_um=groove.v_um - from_rim * along / abs(over))


def stretches(rng: np.random.Generator, at: np.ndarray, length: float, share: float) -> np.ndarray:
    """True on stretches of about `length`, which make up `share` of the line."""
    start, span = float(at.min()), float(np.ptp(at))
    on = np.zeros(len(at), bool)
    for _ in range(int(np.clip(rng.poisson(share * span / length), 1, 40))):
        middle, half = start + rng.uniform(0, span), 0.5 * length * between(rng, 0.5, 2)
        on |= np.abs(at - middle) < half
    return on


def _edge(distance: np.ndarray, width: float) -> np.ndarray:
    return np.exp(-((distance / width) ** 2))


def _tongue(rng, groove, flow_deg, px, *, length, share, reach, rough):
    """Cover and the distance behind the front, for metal thrown `reach` gap widths over the rim."""
    seen = facing(groove, flow_deg)
    on = stretches(rng, seen.root_um, length, share)
    rag = rough * groove.width_um * wander(rng, seen.root_um, max(1.5 * px, 0.25 * groove.width_um))
    rag = rag + 0.5 * rough * groove.width_um * wander(rng, seen.root_um, max(2 * px, groove.width_um))
    front = reach * seen.gap_um + rag - seen.reach_um
    return on & (front > 0) & (seen.reach_um > -0.15 * groove.width_um), np.where(on, front, -1e3), seen


def cap(rng: np.random.Generator, groove: Groove, flow_deg: float, px: float, share: float) -> Lid:
    """Thick metal thrown over by the flow: rough, proud, and a shadow line where its front ends."""
    cover, front, _ = _tongue(
        rng, groove, flow_deg, px, length=between(rng, 1, 5) * groove.width_um, share=share, reach=1.3, rough=0.14
    )
    thick = rng.uniform(0.15, 0.7)
    line = max(1.2 * px, 0.06 * groove.width_um)
    top = -thick * np.clip(front / line, 0, 1) + 0.14 * wander(rng, groove.v_um, max(3 * px, 0.5 * groove.width_um))
    # The shadow falls ahead of the front, on what lies lower.
    glow = -rng.uniform(0.2, 0.5) * _edge(front + line, line) * (front > -3 * line)
    return Lid(cover=cover, dip_um=np.minimum(top, 0.4), smooth=np.full(len(top), 0.1), glow=glow + 0.18 * _edge(front, line))


def bridge(rng: np.random.Generator, groove: Groove, flow_deg: float, px: float, share: float) -> Lid:
    """Short ties from rim to rim that sag in the middle, each not much longer than the groove is wide."""
    cover, front, seen = _tongue(
        rng, groove, flow_deg, px, length=between(rng, 0.7, 2) * groove.width_um + 2 * px, share=0.7 * share, reach=1.1, rough=0.05
    )
    middle = np.clip(seen.reach_um / seen.gap_um, 0, 1)
    dip = rng.uniform(0.1, 0.42) * 4 * middle * (1 - middle)
    glow = rng.uniform(0.05, 0.25) * _edge(front, max(1.2 * px, 0.08 * groove.width_um))
    return Lid(cover=cover, dip_um=dip, smooth=np.full(len(dip), rng.uniform(0.2, 0.8)), glow=glow)


def lip(rng: np.random.Generator, groove: Groove, flow_deg: float, px: float, share: float) -> Lid:
    """A one-sided overhang: from the upstream rim to about half the width; beyond it the groove stays open."""
    reach = rng.uniform(0.42, 0.62)
    cover, front, _ = _tongue(
        rng, groove, flow_deg, px, length=between(rng, 4, 16) * groove.width_um, share=1.4 * share, reach=reach, rough=0.05
    )
    line = max(1.1 * px, 0.06 * groove.width_um)
    dip = rng.uniform(-0.1, 0.2) + 0.2 * _edge(front, 2 * line)
    glow = rng.uniform(0.1, 0.45) * _edge(front - line, line) - rng.uniform(0.2, 0.5) * _edge(front + line, line)
    return Lid(cover=cover, dip_um=dip, smooth=np.full(len(dip), rng.uniform(0.4, 0.9)), glow=glow * (front > -3 * line))


def _seams(rng: np.random.Generator, groove: Groove, px: float) -> np.ndarray:
    """Hairlines on one or both rims, broken where the metal welded."""
    line = max(0.9 * px, min(0.04 * groove.width_um, 0.8))
    broken = wander(rng, groove.v_um, 1.5 * groove.width_um) > -0.4
    left, right = _edge(groove.u_um + 0.92 * groove.left_um, line), _edge(groove.u_um - 0.92 * groove.right_um, line)
    which = rng.integers(0, 3)
    seam = (left if which != 1 else 0.0) + (right if which != 0 else 0.0)
    return seam * broken


def flush(rng: np.random.Generator, groove: Groove, flow_deg: float, px: float, share: float) -> Lid:
    """Burnished level with the plateau: a hairline seam, a slight change of tone and lost texture are all that shows."""
    seen = facing(groove, flow_deg)
    frayed = 0.3 * groove.width_um * wander(rng, groove.u_um, max(2 * px, 0.15 * groove.width_um))
    cover = stretches(rng, seen.root_um + frayed, between(rng, 4, 25) * groove.width_um, 1.3 * share)
    seam = _seams(rng, groove, px)
    dip = rng.uniform(0.0, 0.2) + 0.25 * seam
    glow = rng.choice([-1, -1, 1]) * rng.uniform(0.2, 0.45) * seam + rng.choice([-1, 1]) * rng.uniform(0.02, 0.12)
    return Lid(cover=cover & _between_rims(groove), dip_um=dip, smooth=np.full(len(dip), 1.0), glow=np.where(_between_rims(groove), glow, 0))


def fold(rng: np.random.Generator, groove: Groove, flow_deg: float, px: float, share: float) -> Lid:
    """Rim metal laid over in leaves: a curled, bright front and fold lines behind it."""
    cover, front, seen = _tongue(
        rng, groove, flow_deg, px, length=between(rng, 2, 10) * groove.width_um, share=1.1 * share, reach=rng.uniform(0.9, 1.15), rough=0.09
    )
    line = max(1.1 * px, 0.07 * groove.width_um)
    pitch = max(4 * px, rng.uniform(0.25, 0.5) * groove.width_um)
    phase = (front + 0.3 * pitch * wander(rng, seen.root_um, groove.width_um)) / pitch
    leaves = np.cos(2 * np.pi * phase) ** 8 * (front > 2 * line) * (seen.reach_um > 0)
    dip = 0.12 + 0.12 * leaves - rng.uniform(0.3, 0.7) * _edge(front - line, line)
    glow = rng.uniform(0.2, 0.55) * _edge(front - 0.7 * line, line) - 0.2 * leaves - 0.25 * _edge(front + 1.5 * line, line)
    return Lid(cover=cover, dip_um=dip, smooth=np.full(len(dip), 0.6), glow=glow * (front > -3 * line))


def plug(rng: np.random.Generator, groove: Groove, flow_deg: float, px: float, share: float) -> Lid:
    """Wear debris packed into the groove and rubbed over: mottled, a little low, cracked off from the walls."""
    frayed = 0.3 * groove.width_um * wander(rng, groove.u_um, max(2 * px, 0.15 * groove.width_um))
    cover = stretches(rng, groove.v_um + 0.3 * groove.u_um + frayed, between(rng, 1.5, 8) * groove.width_um, share)
    mottle = wander(rng, groove.v_um, max(2 * px, 0.2 * groove.width_um)) * wander(rng, groove.u_um, max(2 * px, 0.2 * groove.width_um))
    dip = np.clip(rng.uniform(0.12, 0.35) + 0.07 * mottle, 0, 0.46)
    glow = rng.choice([-0.12, 0.06]) + 0.13 * np.clip(mottle, -2, 2) - 0.25 * _seams(rng, groove, px)
    inside = _between_rims(groove)
    return Lid(cover=cover & inside, dip_um=dip, smooth=np.full(len(dip), 0.45), glow=np.where(inside, glow, 0))


def long(rng: np.random.Generator, groove: Groove, flow_deg: float, px: float, share: float) -> Lid:
    """Nearly the whole groove gone under, but for a few small windows with ragged ends."""
    lid = flush(rng, groove, flow_deg, px, 1.0)
    window = np.zeros(len(groove.index), bool)
    low, span = float(groove.v_um.min()), float(np.ptp(groove.v_um))
    for _ in range(rng.integers(1, 5)):
        # Windows stay few and small, however short the length that the field shows.
        half = min(between(rng, 0.4, 3) * groove.width_um, 0.12 * span) + 2 * px
        v = (groove.v_um - low - rng.uniform(0, span)) / half
        narrow = rng.uniform(0.6, 1.1) * 0.5 * groove.width_um
        window |= v**2 + (groove.u_um / narrow) ** 2 < 1 + 0.25 * wander(rng, groove.v_um, max(2 * px, 0.4 * groove.width_um))
    smooth = np.full(len(groove.index), rng.uniform(0.5, 1.0))
    return Lid(cover=_between_rims(groove) & ~window, dip_um=lid.dip_um, smooth=smooth, glow=lid.glow)


def _between_rims(groove: Groove) -> np.ndarray:
    return (groove.u_um > -1.02 * groove.left_um) & (groove.u_um < 1.02 * groove.right_um)


LIDS: dict[str, Callable[..., Lid]] = {
    "cap": cap, "bridge": bridge, "lip": lip, "flush": flush, "fold": fold, "plug": plug, "long": long,
}  # fmt: skip
