"""What the ring did to a field: how much it polished, smeared and scuffed."""

from dataclasses import dataclass, replace

import numpy as np

KINDS = ("smeared", "polished", "scuffed", "smeared", "hardly", "polished", "smeared", "scuffed")
"""The kinds of eight specimens of a session, shuffled; how often each comes is an own choice."""

MOST_SMEARED, MOST_SCUFFED = 0.85, 0.45
"""Shares that no field exceeds: own choice."""


@dataclass(frozen=True, kw_only=True)
class Wear:
    """Shares, 0-1: polished_to, of the valleys' area left by polishing; smeared, of the footprint that closes; open_strips, of
    the width that stays open in strips along the stroke; scuffed, of the area; flakes_kept, how clearly graphite still shows."""

    polished_to: float = 1.0
    smeared: float = 0.0
    open_strips: float = 0.0
    scuffed: float = 0.0
    flakes_kept: float = 1.0


def draw_wear(rng: np.random.Generator, kind: str) -> Wear:
    """Draw what the ring did to a specimen of a kind; the ranges are common practice, no source."""
    if kind == "polished":
        return Wear(polished_to=rng.uniform(0.62, 0.88), smeared=rng.uniform(0, 0.05))
    if kind == "smeared":
        return Wear(
            polished_to=rng.uniform(0.78, 0.97), smeared=rng.uniform(0.3, 0.78),
            open_strips=float(rng.choice([0, 0.12, 0.25])), flakes_kept=rng.uniform(0.3, 0.8),
        )  # fmt: skip
    if kind == "scuffed":
        return Wear(
            polished_to=rng.uniform(0.75, 0.95), smeared=rng.uniform(0.1, 0.4), open_strips=float(rng.choice([0, 0.1])),
            scuffed=rng.uniform(0.08, 0.3), flakes_kept=rng.uniform(0.4, 0.9),
        )  # fmt: skip
    return Wear(polished_to=rng.uniform(0.94, 0.99), smeared=rng.uniform(0, 0.03))


def field_wear(rng: np.random.Generator, wear: Wear, in_track: bool) -> Wear:
    """Return what happened to one field; out of the track only honing itself has folded a little metal."""
    folded = Wear(smeared=float(max(0, rng.normal(0.005, 0.015))))
    if not in_track:
        return folded
    smeared = float(wear.smeared * np.exp(rng.normal(0, 0.18)))
    scuffed = float(wear.scuffed * np.exp(rng.normal(0, 0.3)))
    polished_to = float(np.clip(wear.polished_to + rng.normal(0, 0.03), 0.4, 1))
    return replace(
        wear, polished_to=polished_to, smeared=min(smeared, MOST_SMEARED), scuffed=min(scuffed, MOST_SCUFFED)
    )  # fmt: skip
