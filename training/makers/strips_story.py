"""What happens along a groove: open, closed by moved metal, open again; and the look of closed stretches."""

import math
from dataclasses import dataclass

import numpy as np

from .strips_frame import log_uniform

SHAPES = ("cap", "bridge", "lip", "fold", "feather", "flush", "scaly", "porous", "cracked", "filled", "half_filled")
ENDS = ("straight", "slanted", "tongue", "ragged", "feather")


@dataclass(frozen=True, kw_only=True)
class Look:
    """How closed metal looks; greys in units of the field's groove contrast."""

    shape: str
    tone: float
    cover: float  # 0: the plateau's own picture shows, 1: only the closed metal's
    streak: float
    grain: float
    scale: float
    rims: float  # what is left of the groove's rims: thin lines, bright or dark
    outline: float
    ends: tuple[str, ...]
    spill: float  # px the metal runs over the groove's edges


@dataclass(frozen=True, kw_only=True)
class Event:
    """One closed stretch between two columns of a groove's strip."""

    start: float
    stop: float
    look: Look
    slanted: bool


@dataclass(frozen=True, kw_only=True)
class Wear:
    """How the grooves of one lay closed: share of length, length of a closed stretch in groove widths, bands in px."""

    share: float
    length: float
    whole: float
    bands: tuple[tuple[float, float], ...]
    looks: tuple[Look, ...]
    weights: np.ndarray
    ground: float  # spread of the plateau's grey
    floor: float  # mean grey of the open floor


def draw_look(rng: np.random.Generator, floor_tone: float, rims_only: bool) -> Look:
    """A look that can't be taken for the open floor."""
    shape = str(rng.choice(SHAPES, p=[0.17, 0.07, 0.13, 0.08, 0.1, 0.14, 0.08, 0.07, 0.06, 0.06, 0.04]))
    tone = float(rng.choice([0.0, rng.uniform(0.1, 0.7), -rng.uniform(0.08, 0.5)], p=[0.4, 0.38, 0.22]))
    if tone * floor_tone > 0:
        tone = math.copysign(min(abs(tone), 0.3 * abs(floor_tone)), tone)
    cover = float(rng.choice([0.0, rng.uniform(0.3, 0.9), 1.0], p=[0.2, 0.3, 0.5]))
    if shape == "flush":
        cover, tone = float(rng.choice([0.0, rng.uniform(0.3, 1.0)])), tone * 0.4
    rims = float(rng.choice([0.0, rng.uniform(0.08, 0.5)], p=[0.45, 0.55])) * (0.5 if rims_only else 1.0)
    rims *= rng.choice([1, -1], p=[0.65, 0.35])
    return Look(
        shape=shape,
        tone=tone,
        cover=cover,
        streak=float(rng.choice([0.0, rng.uniform(0.05, 0.3)])),
        grain=log_uniform(rng, 0.01, 0.2),
        scale=rng.uniform(0.1, 0.35)
        if shape == "scaly"
        else float(rng.choice([0.0, rng.uniform(0.05, 0.2)], p=[0.8, 0.2])),
        rims=rims,
        outline=float(rng.choice([0.0, rng.uniform(0.1, 0.6), -rng.uniform(0.1, 0.6)], p=[0.4, 0.35, 0.25])),
        ends=tuple(str(end) for end in rng.choice(ENDS, size=2, p=[0.08, 0.27, 0.25, 0.2, 0.2])),
        spill=float(rng.choice([0.0, rng.uniform(0.0, 2.0)], p=[0.7, 0.3])),
    )


def traced(rng: np.random.Generator, look: Look, wear: Wear) -> Look:
    """The same look with something left to see where no open groove goes on: lines or a tone that the floor has not."""
    if max(abs(look.tone) * look.cover, abs(look.rims) * 0.7, look.scale * look.cover) > 0.22 + 0.5 * wear.ground:
        return look
    values = {**look.__dict__}
    if rng.random() < 0.5:
        values |= {
            "cover": rng.uniform(0.8, 1.0),
            "tone": (-1 if wear.floor > 0 else 1) * min(rng.uniform(0.22, 0.4) + 0.7 * wear.ground, 0.7),
        }
    else:
        values |= {"rims": rng.choice([-1, 1]) * min(rng.uniform(0.32, 0.55) + wear.ground, 0.9)}
    return Look(**values)


def draw_wear(
    rng: np.random.Generator, floor_tone: float, rims_only: bool, reach: float, ground: float
) -> tuple[Wear, Wear]:
    """The wear of two lays; `reach` is the field's size across the stroke, px."""
    count = int(rng.integers(1, 6))
    looks = tuple(draw_look(rng, floor_tone, rims_only) for _ in range(count))
    weights = rng.dirichlet(np.full(count, 0.8))
    regime = str(rng.choice(["scattered", "wholes", "bands", "one_lay", "mixed"], p=[0.4, 0.15, 0.15, 0.1, 0.2]))
    share = float(rng.beta(1.8, 1.3) * 0.63 + 0.02)
    scattered = share if regime in ("scattered", "one_lay") else share * 0.5 if regime == "mixed" else 0.08
    whole = share if regime == "wholes" else share * 0.4 if regime == "mixed" else 0.0
    bands = ()
    if regime in ("bands", "mixed"):
        number = int(rng.integers(1, 5))
        bands = tuple(
            (rng.uniform(-0.5, 0.5) * reach, log_uniform(rng, 0.04, 0.35) * reach * (1 + share) / number**0.7)
            for _ in range(number)
        )
    wears = [
        Wear(
            share=scattered,
            length=log_uniform(rng, 0.5, 40),
            whole=whole,
            bands=bands,
            looks=looks,
            weights=weights,
            ground=ground,
            floor=floor_tone,
        )
        for _ in range(2)
    ]
    if regime == "one_lay":
        spared = int(rng.integers(2))
        wears[spared] = Wear(
            share=0.0, length=1.0, whole=0.0, bands=(), looks=looks, weights=weights, ground=ground, floor=floor_tone
        )
    return wears[0], wears[1]


def tell(
    rng: np.random.Generator,
    wear: Wear,
    first: int,
    last: int,
    width: float,
    crossing: tuple[float, float],
) -> list[Event]:
    """The closed stretches of one groove between columns `first` and `last`; `crossing`: column where the groove meets
    the stroke line through the field's middle, and columns per px across the stroke."""

    def event(start: float, stop: float, slanted: bool) -> Event:
        look = wear.looks[int(rng.choice(len(wear.looks), p=wear.weights))]
        hidden = start < first + 2 * width or stop > last - 2 * width or stop - start > 7 * width
        return Event(start=start, stop=stop, look=traced(rng, look, wear) if hidden else look, slanted=slanted)

    if rng.random() < wear.whole:
        return [event(first - 4 * width, last + 4 * width, False)]
    events = []
    for middle, half in wear.bands:
        centre, reach = crossing[0] + middle * crossing[1], abs(half * crossing[1])
        if centre + reach > first and centre - reach < last:
            events.append(event(centre - reach, centre + reach, True))
    if wear.share > 0 and last > first:
        closed = max(wear.length * width, 3.0)
        open_length = closed * (1 - wear.share) / wear.share
        stretch = max(1.0, (last - first) / (9 * (closed + open_length)))
        closed, open_length = closed * stretch, open_length * stretch
        position = first - rng.uniform(0, 1) * (closed + open_length)
        while position < last and len(events) < 14:
            position += rng.exponential(open_length) + 1.0
            length = closed * rng.lognormal(-0.18, 0.6)
            if position < last and position + length > first:
                events.append(event(position, position + length, rng.random() < 0.4))
            position += length
    return events
