"""Families of honed surfaces: what each finishing process leaves, and the grooves drawn for one field.

A honed bore is two bands of grooves placed at random at two angles (Puente León, CIRP Annals 51 (2002) 503), with a
tail of shallow ones. Widths of 5-50 µm, depths of 1-10 µm, included angles of 30-60° or 140-150° for helical slide
honing, and 15-30 % of valley share are usual (figures of the trade, from memory). The included angle is bisected by
the direction across the stroke.
"""

from dataclasses import dataclass

import numpy as np

SECTIONS = ("v", "rounded", "u", "trapezoid", "skewed", "double", "ribbed")
"""Cross-sections of grooves."""


@dataclass(frozen=True, kw_only=True)
class Finish:
    """Ranges of one finishing process; every field draws its own values inside them."""

    name: str
    coverage: tuple[float, float]  # share of the area inside grooves, before wear
    width_um: tuple[float, float]  # range of the field's typical width
    width_spread: tuple[float, float]  # standard deviation of log width inside a field
    depth_over_width: tuple[float, float]
    shallow_share: tuple[float, float]  # share of grooves in the shallow tail, 0.1-0.8 µm
    hone_angle_deg: tuple[tuple[float, float], ...]  # ranges of the included angle, one is drawn
    balance: tuple[float, float]  # groove length of the weaker lay over the stronger
    plateau_rms_um: tuple[float, float]  # fine roughness of the plateau, finishing marks included
    bunching: tuple[float, float]  # share of grooves that sit in bunches
    torn: tuple[float, float]  # raggedness of edges over the width
    rim_um: tuple[float, float]  # height of the displaced rims
    sections: tuple[str, ...] = SECTIONS
    end_share: tuple[float, float] = (0.0, 0.4)  # share of grooves that end inside the field
    waviness_um: tuple[float, float] = (0.0, 0.3)


_USUAL = ((30.0, 60.0),)
_ANY = ((25.0, 65.0), (25.0, 65.0), (60.0, 130.0), (135.0, 152.0))

FINISHES: dict[str, Finish] = {
    finish.name: finish
    for finish in (
        Finish(
            name="plateaued",
            coverage=(0.15, 0.5),
            width_um=(5.0, 22.0),
            width_spread=(0.25, 0.7),
            depth_over_width=(0.06, 0.18),
            shallow_share=(0.1, 0.45),
            hone_angle_deg=_USUAL,
            balance=(0.5, 1.0),
            plateau_rms_um=(0.02, 0.12),
            bunching=(0.0, 0.5),
            torn=(0.0, 0.15),
            rim_um=(0.0, 0.15),
        ),
        Finish(
            name="single-stage",
            coverage=(0.5, 1.2),
            width_um=(4.0, 18.0),
            width_spread=(0.3, 0.7),
            depth_over_width=(0.09, 0.25),
            shallow_share=(0.35, 0.75),
            hone_angle_deg=_ANY,
            balance=(0.4, 1.0),
            plateau_rms_um=(0.08, 0.22),
            bunching=(0.0, 0.3),
            torn=(0.05, 0.3),
            rim_um=(0.05, 0.5),
            waviness_um=(0.0, 0.5),
        ),
        Finish(
            name="slide-honed fine",
            coverage=(0.1, 0.4),
            width_um=(2.5, 9.0),
            width_spread=(0.2, 0.6),
            depth_over_width=(0.08, 0.3),
            shallow_share=(0.2, 0.6),
            hone_angle_deg=((30.0, 60.0), (135.0, 152.0)),
            balance=(0.4, 1.0),
            plateau_rms_um=(0.01, 0.06),
            bunching=(0.0, 0.6),
            torn=(0.0, 0.15),
            rim_um=(0.0, 0.08),
        ),
        Finish(
            name="coarse",
            coverage=(0.2, 0.65),
            width_um=(14.0, 45.0),
            width_spread=(0.3, 0.8),
            depth_over_width=(0.06, 0.2),
            shallow_share=(0.05, 0.4),
            hone_angle_deg=_ANY,
            balance=(0.4, 1.0),
            plateau_rms_um=(0.03, 0.16),
            bunching=(0.0, 0.6),
            torn=(0.02, 0.3),
            rim_um=(0.0, 0.4),
        ),
        Finish(
            name="helical slide",
            coverage=(0.12, 0.5),
            width_um=(4.0, 25.0),
            width_spread=(0.25, 0.7),
            depth_over_width=(0.06, 0.25),
            shallow_share=(0.1, 0.5),
            hone_angle_deg=((138.0, 152.0),),
            balance=(0.4, 1.0),
            plateau_rms_um=(0.01, 0.1),
            bunching=(0.0, 0.5),
            torn=(0.0, 0.2),
            rim_um=(0.0, 0.15),
        ),
        Finish(
            name="unequal lays",
            coverage=(0.12, 0.5),
            width_um=(5.0, 25.0),
            width_spread=(0.3, 0.8),
            depth_over_width=(0.06, 0.25),
            shallow_share=(0.1, 0.5),
            hone_angle_deg=_ANY,
            balance=(0.0, 0.4),
            plateau_rms_um=(0.02, 0.12),
            bunching=(0.2, 0.8),
            torn=(0.0, 0.25),
            rim_um=(0.0, 0.2),
            end_share=(0.1, 0.6),
        ),
        Finish(
            name="nearly smooth",
            coverage=(0.01, 0.1),
            width_um=(3.0, 15.0),
            width_spread=(0.2, 0.6),
            depth_over_width=(0.06, 0.18),
            shallow_share=(0.5, 0.95),
            hone_angle_deg=_ANY,
            balance=(0.2, 1.0),
            plateau_rms_um=(0.01, 0.08),
            bunching=(0.0, 0.6),
            torn=(0.0, 0.1),
            rim_um=(0.0, 0.05),
            end_share=(0.1, 0.7),
        ),
        Finish(
            name="unhoned",
            coverage=(0.0, 0.0),
            width_um=(5.0, 10.0),
            width_spread=(0.2, 0.5),
            depth_over_width=(0.05, 0.1),
            shallow_share=(0.0, 0.0),
            hone_angle_deg=_ANY,
            balance=(0.5, 1.0),
            plateau_rms_um=(0.01, 0.12),
            bunching=(0.0, 0.0),
            torn=(0.0, 0.0),
            rim_um=(0.0, 0.0),
            waviness_um=(0.0, 0.4),
        ),
        # Held out of every training: brushed edges, double and ribbed grooves, own angles and bunching.
        Finish(
            name="brush-finished",
            coverage=(0.15, 0.5),
            width_um=(5.0, 22.0),
            width_spread=(0.35, 0.9),
            depth_over_width=(0.08, 0.28),
            shallow_share=(0.1, 0.4),
            hone_angle_deg=((40.0, 80.0),),
            balance=(0.3, 1.0),
            plateau_rms_um=(0.02, 0.1),
            bunching=(0.3, 0.9),
            torn=(0.1, 0.35),
            rim_um=(0.0, 0.02),
            sections=("double", "ribbed", "skewed", "rounded"),
            end_share=(0.2, 0.6),
        ),
    )
}

HELD_OUT_FAMILY = "brush-finished"
"""The family that no training sees."""

FAMILIES = tuple(name for name in FINISHES if name != HELD_OUT_FAMILY)
"""The families drawn from unless one is asked for."""


@dataclass(frozen=True, kw_only=True)
class Groove:
    """One groove of a lay; lengths in µm in the lay's own along / across coordinates."""

    lay: int
    across_um: float
    start_um: float
    stop_um: float
    width_um: float
    depth_um: float
    section: str
    section_number: float  # wall share, place of the bottom or the like, by section
    bend_um: float
    sway: float  # variation of width and depth along the length, relative
    torn: float
    rim_um: float
    gaps: tuple[tuple[float, float], ...]  # natural interruptions: the tool lifted


@dataclass(frozen=True, kw_only=True)
class _Population:
    """Grooves of one kind within a field."""

    coverage: float  # share of the area inside them
    typical_um: float  # usual width
    depth_over_width: float


@dataclass(frozen=True, kw_only=True)
class _Habits:
    """What the grooves of one field have in common, drawn once a field."""

    half_size_um: float  # half the field's diagonal
    narrowest_um: float
    widest_um: float
    spread: float  # standard deviation of log width
    lay_shares: np.ndarray  # of the coverage, one a lay, sums to 1
    shallow: float  # share of grooves in the shallow tail
    bunching: float  # share of grooves that sit in bunches
    end_share: float  # share of grooves that end inside the field
    gap_share: float  # share of grooves with natural interruptions
    sections: tuple[str, ...]
    torn: float
    rim_um: float
    bend: float  # over half the field's size
    sway: float
    populations: tuple[_Population, ...]


def draw_grooves(rng, finish: Finish, *, half_size_um: float, pixel_size_um: float, field_um: float):
    """Return the grooves of one field as a list, drawn from the ranges of `finish`.

    `half_size_um` is half the field's diagonal, `field_um` its shorter side. Grooves narrower than two pixels can't
    be seen and aren't drawn; grooves wider than a third of the field aren't either.
    """
    narrowest, widest = max(2.0, 2.2 * pixel_size_um), max(min(50.0, 0.33 * field_um), 3.5 * pixel_size_um, 4.0)
    habits = _draw_habits(rng, finish, half_size_um=half_size_um, narrowest_um=narrowest, widest_um=widest)
    grooves = []
    for lay, population in ((lay, population) for lay in (0, 1) for population in habits.populations):
        wanted = habits.lay_shares[lay] * population.coverage * 2 * half_size_um
        bunches = rng.uniform(-half_size_um, half_size_um, int(rng.integers(2, 7)))
        bunch_width = rng.uniform(0.04, 0.15) * half_size_um
        drawn = 0.0
        while drawn < wanted and len(grooves) < 600:
            groove, taken = _draw_groove(rng, habits, population, lay, bunches, bunch_width)
            grooves.append(groove)
            drawn += taken * min((groove.stop_um - groove.start_um) / (2 * half_size_um), 1.0)
    return grooves


def _draw_habits(rng, finish: Finish, *, half_size_um: float, narrowest_um: float, widest_um: float) -> _Habits:
    """Return what one field's grooves have in common, inside the ranges of `finish`."""
    low, high = finish.width_um
    typical = float(np.exp(rng.uniform(np.log(low), np.log(high))))
    # a narrow field sits where there is something to see, so that narrow grooves are taken there
    typical = float(np.clip(typical, 1.3 * narrowest_um, max(0.35 * widest_um, 1.4 * narrowest_um)))
    spread = rng.uniform(*finish.width_spread)
    ratio = float(np.exp(rng.uniform(*np.log(finish.depth_over_width))))
    coverage = rng.uniform(*finish.coverage)
    if coverage > 0 and rng.random() < 0.06:
        coverage *= rng.uniform(0.05, 0.4)  # a place with hardly a groove
    main = _Population(coverage=coverage, typical_um=typical, depth_over_width=ratio)
    return _Habits(  # drawn in this order
        half_size_um=half_size_um, narrowest_um=narrowest_um, widest_um=widest_um, spread=spread,
        lay_shares=_draw_lay_shares(rng, finish),
        shallow=rng.uniform(*finish.shallow_share),
        bunching=rng.uniform(*finish.bunching),
        sections=_draw_sections(rng, finish),
        torn=rng.uniform(*finish.torn),
        rim_um=rng.uniform(*finish.rim_um),
        end_share=rng.uniform(*finish.end_share),
        gap_share=rng.uniform(0.0, 0.5) if rng.random() < 0.35 else 0.0,
        bend=rng.uniform(0.0, 0.02) if rng.random() < 0.5 else 0.0,
        sway=rng.uniform(0.03, 0.35),
        populations=(main, _draw_narrow_population(rng, main, narrowest_um)),
    )  # fmt: skip


def _draw_lay_shares(rng, finish: Finish) -> np.ndarray:
    """Return the shares of the two lays; now and then there is one lay only."""
    balance = rng.uniform(*finish.balance)
    if rng.random() < 0.03:
        balance = 0.0
    return np.array([1.0, balance]) / (1.0 + balance)


def _draw_sections(rng, finish: Finish) -> tuple[str, ...]:
    """Return the one to three cross-sections that one field's grooves have."""
    kinds = rng.permutation(len(finish.sections))[: int(rng.integers(1, 4))]
    return tuple(finish.sections[kind] for kind in kinds)


def _draw_narrow_population(rng, main: _Population, narrowest_um: float) -> _Population:
    """Return the second population of narrow grooves that most fields have beside the main one."""
    coverage = main.coverage * rng.uniform(0.0, 0.45) if main.coverage > 0 and rng.random() < 0.7 else 0.0
    typical_um = max(narrowest_um * rng.uniform(1.1, 2.5), 0.15 * main.typical_um)
    ratio = main.depth_over_width * rng.uniform(1.0, 2.0)
    return _Population(coverage=coverage, typical_um=typical_um, depth_over_width=ratio)


def _draw_groove(rng, habits: _Habits, population: _Population, lay: int, bunches, bunch_width) -> tuple[Groove, float]:
    """Return one groove and the width that it takes of what the lay is to cover."""
    half_size_um = habits.half_size_um
    width, depth, taken = _draw_size_um(rng, habits, population)
    if rng.random() < habits.bunching:
        across = float(rng.choice(bunches) + bunch_width * rng.standard_normal())
    else:
        across = float(rng.uniform(-half_size_um, half_size_um))
    start, stop = _draw_ends_um(rng, habits)
    gaps = _draw_gaps(rng, habits, width)
    groove = Groove(
        lay=lay, across_um=across, start_um=start, stop_um=stop, width_um=width, depth_um=depth,
        section=habits.sections[int(rng.choice(len(habits.sections)))], section_number=float(rng.random()),
        bend_um=float(habits.bend * half_size_um * rng.standard_normal()),
        sway=habits.sway * float(rng.uniform(0.3, 1.5)), torn=habits.torn * float(rng.uniform(0.2, 1.8)),
        rim_um=habits.rim_um * float(rng.uniform(0.2, 1.8)), gaps=gaps,
    )  # fmt: skip
    return groove, taken


def _draw_size_um(rng, habits: _Habits, population: _Population) -> tuple[float, float, float]:
    """Return width and depth of one groove, and the width it counts for; a shallow one counts for more than it has."""
    spread = np.exp(habits.spread * rng.standard_normal())
    width = float(np.clip(population.typical_um * spread, habits.narrowest_um, habits.widest_um))
    taken = width
    if rng.random() < habits.shallow:
        depth = float(np.exp(rng.uniform(np.log(0.12), np.log(0.8))))
        width = max(width * rng.uniform(0.25, 0.8), habits.narrowest_um)  # shallow cuts of a grit are narrow ones
    else:
        depth = width * population.depth_over_width * np.exp(0.35 * rng.standard_normal())
        if width < 8:  # narrow grooves are the steeper ones
            depth *= rng.uniform(1.0, 2.2)
    return width, float(np.clip(depth, 0.1, min(10.0, 0.6 * width))), taken


def _draw_ends_um(rng, habits: _Habits) -> tuple[float, float]:
    """Return where one groove starts and stops along its lay: beyond the field, or inside it."""
    half_size_um = habits.half_size_um
    if rng.random() >= habits.end_share:
        return -1.2 * half_size_um, 1.2 * half_size_um
    length = 2 * half_size_um * rng.uniform(0.15, 0.9)
    start = rng.uniform(-half_size_um, half_size_um) - length / 2
    return start, start + length


def _draw_gaps(rng, habits: _Habits, width_um: float) -> tuple[tuple[float, float], ...]:
    """Return middles and lengths of one groove's natural interruptions; most have none."""
    if rng.random() >= habits.gap_share:
        return ()
    count = int(rng.integers(1, 4))
    middles = rng.uniform(-habits.half_size_um, habits.half_size_um, count)
    lengths = width_um * rng.uniform(0.5, 6.0, count)
    return tuple((float(m), float(n)) for m, n in zip(middles, lengths, strict=True))


def draw_hone_angle_deg(rng, finish: Finish) -> float:
    """Return the included angle between the lays, bisected by the direction across the stroke, degrees."""
    ranges = finish.hone_angle_deg
    return float(rng.uniform(*ranges[int(rng.integers(len(ranges)))]))


def section_depth(section: str, number: float, across: np.ndarray) -> np.ndarray:
    """Return the depth of a groove's section over its largest depth, 0..1, at `across` = -1..1 from rim to rim.

    `number` (0..1) sets the share of the walls, the place of the bottom or the like. Outside the rims it is zero.
    """
    distance = np.abs(across)
    inside = np.clip(1 - distance, 0, 1)
    if section == "v":
        depth = inside
    elif section == "rounded":
        depth = 1 - (1 - inside) ** np.float32(1.3 + 0.9 * number)
    elif section == "u":
        depth = np.sqrt(np.clip(1 - np.minimum(distance, 1) ** 2, 0, 1))
    elif section == "trapezoid":
        depth = np.minimum(inside / np.float32(0.15 + 0.45 * number), 1)
    elif section == "skewed":
        bottom = np.float32((0.25 + 0.5 * number) * (1 if number * 7 % 1 > 0.5 else -1))
        rising, falling = (across + 1) / (bottom + 1), (1 - across) / (1 - bottom)
        depth = np.clip(np.minimum(rising, falling), 0, 1)
    elif section == "double":
        place, second = np.float32(0.35 + 0.2 * number), np.float32(0.45 + 0.5 * (number * 5 % 1))
        first_v = 1 - np.abs(across + place) / (1 - place)
        second_v = second * (1 - np.abs(across - place) / (1 - place))
        depth = np.clip(np.maximum(first_v, second_v), 0, 1)
        depth = np.maximum(depth, np.minimum(inside * 4, np.float32(0.3 + 0.35 * number)))
    elif section == "ribbed":
        ribs = int(2 + 3 * number)
        depth = np.minimum(inside * 3, 1) * (0.8 + 0.2 * np.cos(np.float32(np.pi * ribs) * across))
    else:
        raise ValueError(f"section is {section!r}; known are {', '.join(SECTIONS)}")
    return depth.astype(np.float32)
