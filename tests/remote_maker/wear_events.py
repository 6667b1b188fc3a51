"""Wear events along a groove: a Markov chain of stretches, each an object with its own metal.

Folds smear and interrupt honing grooves, the deep ones most (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548): the chance to
leave the open state grows with depth. A closure tends to be followed by a kindred one (a lip grows into a bridge), or opens
again. Metal moves along the stroke, so that an event is bounded by lines along the stroke, and its tables run across the
stroke (one entry a pixel), not along the groove.
"""

from dataclasses import dataclass

import numpy as np

from .directions import across_axis, diagonal
from .grooves import Groove
from .randomness import Rng, log_uniform, wander
from .specimen import CLOSURES, Specimen, Wear

KINSHIP = {"lip": (1.0, 3.0, 1.5, 1.0, 1.0), "bridge": (1.5, 1.0, 1.0, 2.5, 1.0), "flap": (1.5, 1.5, 1.0, 1.0, 1.0),
           "flush": (0.7, 2.5, 0.7, 1.0, 0.5), "sunken": (1.0, 2.0, 1.0, 1.0, 1.0)}  # fmt: skip
"""How much likelier each of ``CLOSURES`` follows the one named (this maker's own figures)."""
TO_OPEN = 0.6


@dataclass(frozen=True, kw_only=True)
class Event:
    """One stretch of moved metal, between two places across the stroke (entries of the tables).

    ``side``: -1 or 1, the rim it came from; ``reach``: how far it flowed over the groove, 1 to the other rim; ``sag_um``: depth
    of its middle; ``thickness_um``; ``tone``; ``crack``: strength of the unwelded seam; ``trace``: strength of what is left of
    the outline; ``flow``: strength of marks of flow.
    """

    kind: str
    first: int
    last: int
    side: int
    reach: float
    sag_um: float
    thickness_um: float
    tone: float
    crack: float
    trace: float
    flow: float


@dataclass(frozen=True, kw_only=True)
class Flow:
    """Tables across the stroke for one groove: reach from either rim, and the event each entry belongs to (-1 none)."""

    reach: np.ndarray
    event: np.ndarray
    events: list[Event]


def draw_flow(rng: Rng, groove: Groove, specimen: Specimen, rank: float) -> Flow:
    """Return the moved metal along one groove; ``rank`` (0-1) is the place of its depth among the field's grooves."""
    wear, pixel = specimen.wear, specimen.pixel_um
    size = diagonal(specimen.shape)
    step = abs(np.sin(np.radians(groove.deg - specimen.stroke_deg))) / pixel
    share = min(wear.closed_share * (0.65 + 0.6 * rank), 0.92)
    events: list[Event] = []
    reach, owner = np.zeros((2, size), np.float32), np.full(size, -1, np.int32)
    if share < 0.004 or step * pixel < 0.08:
        return Flow(reach=reach, event=owner, events=events)
    ends = across_axis(specimen.stroke_deg), across_axis(groove.deg)
    shift = groove.offset_px * (ends[0][0] * ends[1][0] + ends[0][1] * ends[1][1])
    lowest = size / 2 + shift - size / 2 * step * pixel
    length = wear.closure_um * 0.5 + 0.7 * groove.width_um
    open_um = length * (1 + TO_OPEN) * (1 - share) / share
    place, kind = lowest - rng.exponential(open_um) * step, None
    if rng.random() < share:
        place, kind = lowest, str(rng.choice(CLOSURES, p=wear.styles))
    while place < size:
        if kind is None:
            place += rng.exponential(open_um) * step
            kind = str(rng.choice(CLOSURES, p=wear.styles))
            continue
        last = place + rng.gamma(2.0, length / 2) * step
        first, final = int(max(place, 0)), int(min(last, size))
        if final - first >= 2:
            event = _draw_event(rng, kind, first, final, wear)
            _lay_down(rng, event, reach, owner, len(events), pixel)
            events.append(event)
        place = last
        following = np.array(wear.styles) * KINSHIP[kind]
        kind = None if rng.random() < TO_OPEN else str(rng.choice(CLOSURES, p=following / following.sum()))
    return Flow(reach=reach, event=owner, events=events)


def _draw_event(rng: Rng, kind: str, first: int, last: int, wear: Wear) -> Event:
    reach = {"lip": rng.uniform(0.25, 0.85), "flap": rng.uniform(0.8, 1.15), "sunken": 1.3}.get(
        kind, rng.uniform(1.15, 1.5)
    )
    sag = {"flush": rng.uniform(0.0, 0.2), "sunken": rng.uniform(0.45, 1.2), "flap": rng.uniform(0.0, 0.25)}.get(
        kind, rng.uniform(0.05, 0.42)
    )
    thick = {"flush": rng.uniform(0.2, 0.6), "flap": rng.uniform(0.6, 1.6)}.get(kind, rng.uniform(0.3, 1.1))
    tone = {"flush": rng.normal(0.0, 0.035), "flap": rng.normal(0.03, 0.07)}.get(kind, rng.normal(-0.01, 0.06))
    cracked = rng.random() < {"bridge": 0.6, "flap": 0.95, "flush": 0.2, "sunken": 0.7}.get(kind, 0.15)
    return Event(
        kind=kind, first=first, last=last, side=int(rng.choice([-1, 1])), reach=float(reach), sag_um=float(sag),
        thickness_um=float(thick), tone=float(1 + np.clip(tone * wear.trace, -0.25, 0.25)),
        crack=float(rng.uniform(0.25, 0.9) * wear.trace * cracked),
        trace=float(np.exp(rng.normal(-1.5 if kind == "flush" else -1.2, 0.6)) * wear.trace),
        flow=float(np.exp(rng.normal(0, 0.4)) * wear.trace * (0.55 if kind == "flush" else 1.0)),
    )  # fmt: skip


def _lay_down(rng: Rng, event: Event, reach: np.ndarray, owner: np.ndarray, number: int, pixel_um: float) -> None:
    """Write an event into the tables: fronts are ragged tongues drawn out along the stroke, thin at both ends."""
    count = event.last - event.first
    place = (np.arange(count) + 0.5) / count
    ends = np.minimum(np.minimum(place / rng.uniform(0.1, 0.4), (1 - place) / rng.uniform(0.1, 0.4)), 1) ** rng.uniform(
        0.4, 0.9
    )
    ragged = {"flush": 0.08, "lip": 0.2}.get(event.kind, 0.16) * np.exp(rng.normal(0, 0.4))
    lobes = log_uniform(rng, 3, 14)
    tongue = wander(rng, count, max(lobes / pixel_um, 2)) + rng.uniform(0.05, 0.5) * wander(
        rng, count, max(1.3 / pixel_um, 1)
    )
    tongue *= ragged
    front = np.clip(event.reach * ends + tongue * (0.4 + 0.6 * ends), 0, 1.6)
    span = slice(event.first, event.last)
    near, far = (0, 1) if event.side < 0 else (1, 0)
    reach[near, span] = front
    if event.kind in ("bridge", "sunken") and rng.random() < 0.4:
        part = rng.uniform(0.35, 0.65)
        reach[near, span] = front * part
        reach[far, span] = np.clip(front * (1 - part) + 0.5 * ragged * wander(rng, count, max(2 / pixel_um, 1)), 0, 1.6)
    owner[span] = number
