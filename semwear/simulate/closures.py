"""Closures: how moved metal shuts a groove, in many kinds, by flow along the stroke.

The ring drags metal along the stroke. At a groove it flows over the upstream rim and grows across: a lip, then a
bridge or a cap. Growth is a line along the groove, read where the stroke line through a pixel meets the upstream
rim, so that the front of a lip is drawn out along the stroke. On a reciprocating rig lips grow from both rims and
may meet in a seam. Folds interrupt the deep grooves most (Dimkovski, Ohlsson, Rosén, Wear 271 (2011) 548).

Kinds: cap (full, long), bridge (short), lip (one-sided, an open slit remains), double (two lips and a seam), fold
(short, one edge proud), strip (long, flush, burnished, only a faint trace), feather (ragged front), film (thin, with
holes and cracks).
"""

from dataclasses import dataclass

import numpy as np

from .noise import line_noise

KINDS = ("cap", "bridge", "lip", "double", "fold", "strip", "feather", "film")
"""Kinds of closure."""


@dataclass(frozen=True, kw_only=True)
class ClosureStyle:
    """How the closures of one field come about; shares and ranges, drawn once a field."""

    closed_share: float  # share of the grooves' length that is shut, 0..1
    kind_weights: np.ndarray  # one a kind, sums to 1
    long_share: float  # share of grooves shut in one long stretch instead of many short ones
    width_power: float  # above 0 the wide grooves are shut more
    level_um: tuple[float, float]  # below (negative), flush or proud
    tone: tuple[float, float]  # mean and spread of the closures' grey offset
    trace: float  # strength of seams and edge traces, 0..1
    both_sides: float  # share of events that grow from the other rim
    skew_gain: float  # 1: fronts follow the stroke; 0: they stand square to the groove
    regional: float  # share of the area where whole grooves are shut together, 0 in most fields
    regional_kind: int  # 0 bands along the stroke, 1 large patches, 2 small patches
    regional_level_um: float
    regional_tone: float


def draw_closure_style(rng, severity: float) -> ClosureStyle:
    """Return the style of one field for a wear severity of 0..1."""
    share = float(np.clip(rng.beta(1.2 + 2.5 * severity, 0.9 + 1.6 * (1 - severity)), 0, 1))
    regional = 0.0
    if rng.random() < 0.1:
        share = 0.0
    elif rng.random() < 0.3:
        regional, share = share, share * float(rng.choice([0.0, 0.3]))
    few = rng.random() < 0.5
    weights = rng.dirichlet(np.full(len(KINDS), 0.25 if few else 1.2))
    level = rng.choice(4, p=[0.25, 0.4, 0.15, 0.2])
    ranges = ((-0.45, -0.1), (-0.08, 0.08), (0.05, 0.4), (-0.45, 0.3))
    tone = float(rng.normal(0, 0.5))
    return ClosureStyle(
        skew_gain=float(rng.choice([1.0, rng.random(), 0.0], p=[0.6, 0.25, 0.15])), regional=regional,
        regional_kind=int(rng.integers(3)), regional_level_um=float(rng.uniform(*ranges[level])), regional_tone=tone,
        closed_share=share, kind_weights=weights, long_share=float(rng.beta(0.6, 0.6)),
        width_power=float(rng.uniform(-0.5, 1.5)), level_um=ranges[level],
        tone=(tone, float(abs(rng.normal(0, 0.3)))), trace=float(rng.beta(0.9, 1.2)),
        both_sides=float(rng.choice([0.0, 1.0, rng.random()])),
    )  # fmt: skip


class GrooveClosures:
    """The closures of one groove as lines along it, sampled every `step_um` from `start_um`."""

    def __init__(self, start_um: float, step_um: float, count: int):
        self.start_um, self.step_um, self.count = start_um, step_um, count
        self.growth = np.full((2, count), -1, np.float32)  # from the rim on the negative and the positive side
        self.level_um = np.zeros(count, np.float32)
        self.tone = np.zeros(count, np.float32)
        self.softness = np.full(count, 0.08, np.float32)
        self.film = np.zeros(count, np.float32)
        self.trace = np.zeros(count, np.float32)
        self.sag_um = np.zeros(count, np.float32)
        self.any = False

    def lookup(self, along_um: np.ndarray) -> np.ndarray:
        """Return the sample number of places along the groove, int32."""
        at = (along_um - np.float32(self.start_um)) * np.float32(1 / self.step_um)
        return np.clip(at, 0, self.count - 1).astype(np.int32)

    def grow(self, side: int, growth: np.ndarray) -> None:
        """Let metal grow from one rim (0 or 1) as far as `growth` says, where it doesn't reach further already."""
        self.growth[side] = np.maximum(self.growth[side], growth)


@dataclass(frozen=True, kw_only=True)
class _Front:
    """The front of one closure: how far it grows, how it ends and how sharp it is."""

    ramp_um: float  # length over which it ends
    reach: float  # 0.5 the middle, 1 the other rim
    softness: float
    noise: float  # raggedness


def draw_closures(rng, style: ClosureStyle, groove, *, allowed, start_um, step_um, count, pixel_size_um):
    """Return the GrooveClosures of one groove.

    `allowed(along_um)` gives, 0..1, how strongly smear acts at a place of the groove (patches of heavy and light
    contact).
    """
    closures = GrooveClosures(start_um, step_um, count)
    width = groove.width_um
    length = min(groove.stop_um - groove.start_um, step_um * count)
    planned = _draw_stretches(rng, style, width, first=max(groove.start_um, start_um), length=length, pixel_size_um=pixel_size_um)
    if not planned:
        return closures
    at = start_um + step_um * np.arange(count, dtype=np.float32)
    grain = max(pixel_size_um, 0.15 * width) / step_um
    ragged = line_noise(rng, count, grain * 2.5)
    fine = line_noise(rng, count, max(grain, 1.5 * pixel_size_um / step_um))
    for middle, size in planned:
        if rng.random() > allowed(middle):
            continue
        kind = KINDS[int(rng.choice(len(KINDS), p=style.kind_weights))]
        if kind in ("bridge", "fold") and len(planned) > 1:
            size = max(min(size, width * rng.uniform(0.7, 3.0)), 3 * pixel_size_um)
        front = _draw_front(rng, kind, width, pixel_size_um)
        ends = np.clip((size / 2 - np.abs(at - middle)) / front.ramp_um + 0.5, 0, 1)
        uneven = ragged + 0.6 * fine if kind == "feather" else ragged
        growth = np.where(ends > 0.02, front.reach * ends + front.noise * uneven, -1).astype(np.float32)
        here = growth > np.maximum(closures.growth[0], closures.growth[1])
        side = int(rng.random() < 0.5 * style.both_sides)
        closures.grow(side, growth)
        if kind == "double":
            closures.grow(1 - side, growth + 0.1 * fine * (ends > 0.02))
        _finish_closure(rng, style, kind, closures, here, front.softness)
    return closures


def _draw_stretches(rng, style: ClosureStyle, width: float, *, first: float, length: float, pixel_size_um: float) -> list[tuple]:
    """Return middle and size, µm, of the stretches of one groove that metal may shut: none, one, or many short ones.

    `width` is the groove's; `first` and `length` say where it begins and how long it is.
    """
    share = style.closed_share * (width / 10.0) ** (0.3 * style.width_power)
    share = float(np.clip(share * rng.uniform(0.4, 1.8), 0, 1))
    if share < 0.02 or rng.random() > 0.75 + share:
        return []
    if share > 0.9 and rng.random() < 0.6:
        return [(first + length / 2, 1.3 * length)]
    if rng.random() < style.long_share:
        return [(first + rng.uniform(0.2, 0.8) * length, share * length)]
    typical = max(width * np.exp(rng.uniform(np.log(0.7), np.log(8.0))), 4 * pixel_size_um)
    number = int(np.clip(1.2 * share * length / typical, 1, 60))
    sizes = np.clip(typical * rng.gamma(2.0, 0.5, number), 3 * pixel_size_um, length)
    return list(zip(first + length * rng.random(number), sizes, strict=True))


def _draw_front(rng, kind: str, width: float, pixel_size_um: float) -> _Front:
    """Return the front of one closure of a kind in a groove of a width, µm."""
    ramp = max(width * float(np.exp(rng.uniform(np.log(0.08), np.log(2.5)))), 1.5 * pixel_size_um)
    reach, softness, noise = 1.35, rng.uniform(0.03, 0.12), 0.1
    if kind == "lip":
        reach, noise = rng.uniform(0.3, 0.85), 0.12
    elif kind == "feather":
        reach, noise, softness = rng.uniform(0.7, 1.4), 0.35, rng.uniform(0.05, 0.3)
    elif kind == "double":
        reach = rng.uniform(0.45, 0.8)
    elif kind == "strip":
        ramp = max(ramp, width * rng.uniform(0.5, 3.0))
        noise = 0.04
    elif kind == "film":
        softness = rng.uniform(0.03, 0.08)
    return _Front(ramp_um=ramp, reach=reach, softness=softness, noise=noise)


def _finish_closure(rng, style: ClosureStyle, kind: str, closures: GrooveClosures, here: np.ndarray, softness: float) -> None:
    """Draw level, tone, film, trace and sag of one closure and set them where it grows above all others (`here`, bool)."""
    low, high = style.level_um
    level = rng.uniform(-0.06, 0.06) if kind == "strip" else rng.uniform(low, high)
    if kind == "fold":
        level = abs(level) + 0.1
    closures.level_um[here] = level
    closures.tone[here] = style.tone[0] + style.tone[1] * rng.standard_normal()
    closures.softness[here] = softness
    closures.film[here] = rng.uniform(0.3, 1.0) if kind == "film" else 0.0
    closures.trace[here] = style.trace * rng.uniform(0.3, 1.0)
    closures.sag_um[here] = rng.uniform(0.0, 0.3) if rng.random() < 0.4 and kind != "strip" else 0.0
    closures.any = True


def closed_share(closures: GrooveClosures, along_um, across, half_width_um, skew, holes):
    """Return closed share, sample numbers and trace at pixels of one groove.

    `across` is -1..1 from rim to rim, `holes` a noise at the same pixels whose high values are holes in films.
    The share is 0 where the groove is open and 1 where metal has closed it; the trace is 0..1 along fronts and seams.
    """
    offset = np.float32(half_width_um * skew)
    near = closures.lookup(along_um - (across + 1) * offset)
    far = closures.lookup(along_um - (across - 1) * offset)
    from_near, from_far = (1 + across) * 0.5, (1 - across) * 0.5
    front_near = closures.growth[0][near] - from_near
    front_far = closures.growth[1][far] - from_far
    use_far = front_far > front_near
    front = np.where(use_far, front_far, front_near)
    at = np.where(use_far, far, near)
    softness = closures.softness[at]
    share = np.clip(front / softness + 0.5, 0, 1)
    share = share * share * (3 - 2 * share)
    film = closures.film[at]
    if film.any():
        open_holes = np.clip((holes - (2.6 - 1.6 * film)) * 4, 0, 1) * (film > 0)
        share = share * (1 - open_holes)
    both = np.minimum(front_near, front_far)
    seam = np.exp(-np.square(np.minimum(np.abs(front_near - front_far), 9) / 0.09)) * (both > -0.3) * (share > 0.5)
    edge = np.exp(-np.square((np.abs(across) - 1) / 0.1)) * (front > -0.05)
    trace = closures.trace[at] * np.clip(seam + edge, 0, 1)
    return share.astype(np.float32), at, trace.astype(np.float32)
