"""Invented specimens of a simulated session: fields of one specimen share its finish, its wear and its beam settings.

A finish is a range of grooves; one specimen sits at one place inside that range. The values of a specimen are drawn
once and its fields vary around them by a few per cent, as fields of one liner section do (this project's own choice).
"""

import contextlib
import math
from dataclasses import dataclass, replace

import numpy as np

from semwear.simulate.data_bars import LAYOUTS
from semwear.simulate.finishes import FINISHES, Finish, draw_hone_angle_deg
from semwear.simulate.scene import FAMILIES, TRAINING_RENDERERS

FIELDS_A_SPECIMEN = 6
FIELD_TO_FIELD = 0.07
"""Half the range of a field's value around its specimen's, relative."""

WITHOUT_SCALE_SHARE, OUT_OF_FOCUS_SHARE = 0.03, 0.04
PIXEL_SIZES_UM = (0.12, 1.6)

_RANGES = ("coverage", "width_um", "width_spread", "depth_over_width", "shallow_share", "balance", "plateau_rms_um",
           "bunching", "torn", "rim_um", "end_share", "waviness_um")
_GEOMETRIC = ("width_um", "depth_over_width")
_FILES = ((".tif", 8, "ini"), (".tif", 16, "ome"), (".tif", 8, "resolution"), (".tif", 16, "xml"), (".tif", 8, "none"),
          (".png", 8, "none"), (".png", 16, "json"), (".jpg", 8, "none"), (".jpg", 8, "sidecar"), (".tif", 16, "none"))


@dataclass(frozen=True, kw_only=True)
class Specimen:
    """What the fields of one specimen share. Directions in degrees as everywhere; severity of wear 0..1."""

    name: str
    finish: Finish
    family: str
    renderer: str
    pixel_size_um: float
    severity: float
    stroke_deg: float
    hone_angle_deg: float
    kv: float
    tilt_deg: float
    layout: str
    suffix: str
    bits: int
    metadata: str


@dataclass(frozen=True, kw_only=True)
class Kept:
    """Which fields an operator keeps for showing: (lowest, highest) of each figure of the simulated field."""

    valley_fraction: tuple[float, float]
    smeared_fraction: tuple[float, float] = (0.0, 0.01)
    scuffed_fraction: tuple[float, float] = (0.0, 0.0)
    focus_sigma_px: tuple[float, float] = (0.0, 1.1)
    noise: tuple[float, float] = (0.0, 0.03)
    charging: tuple[float, float] = (0.0, 0.0)
    contrast: tuple[float, float] = (0.3, 0.9)

    def keeps(self, facts: dict) -> bool:
        """Say whether every figure of ``facts`` lies within its limits."""
        return all(low <= facts[name] <= high for name, (low, high) in vars(self).items())


@dataclass(frozen=True, kw_only=True)
class PlannedField:
    """One field to be simulated: its specimen, zone, number, seed, and what is wrong with it on purpose.

    With ``kept`` the field is taken again (the next seed) until it is one that an operator keeps, and its data bar is
    printed with digits of at least ``smallest_digit_px``.
    """

    specimen: Specimen
    zone: str
    number: int
    seed: tuple[int, ...]
    with_scale: bool = True
    out_of_focus_px: float = 0.0
    kept: Kept | None = None
    smallest_digit_px: int = 0

    @property
    def file(self) -> str:
        """Name of the picture."""
        return f"{self.specimen.name}_{self.zone}_{self.number}{self.specimen.suffix}"


def narrowed_finish(family: str, name: str, rng: np.random.Generator, at: float | None = None) -> Finish:
    """Return the finish of one specimen: every range of ``family`` shrunk to a value drawn inside it.

    ``at`` (0..1) fixes the place inside the ranges instead of drawing it. The value is uniform in the range, or in its
    logarithm for widths and slopes; fields then vary by FIELD_TO_FIELD around it, never beyond the family's range.

    >>> finish = narrowed_finish("plateaued", "LS-01", np.random.default_rng(0))
    >>> low, high = finish.coverage
    >>> bool(0.15 <= low < high <= 0.5 and high / low < 1.2)
    True
    """
    whole = FINISHES[family]
    ranges = {}
    for title in _RANGES:
        low, high = getattr(whole, title)
        place = rng.random() if at is None else at
        value = low * (high / low) ** place if title in _GEOMETRIC else low + (high - low) * place
        ranges[title] = (max(low, value * (1 - FIELD_TO_FIELD)), min(high, value * (1 + FIELD_TO_FIELD)))
    kinds = rng.permutation(len(whole.sections))[:2]
    return replace(whole, name=name, sections=tuple(whole.sections[kind] for kind in kinds), **ranges)


@contextlib.contextmanager
def known_finish(finish: Finish):
    """Make ``finish`` known to :func:`semwear.simulate.scene.simulate_field` by its name, for the time of the block.

    Raises ValueError when a family of that name exists.
    """
    if finish.name in FINISHES:
        raise ValueError(f"a finish named {finish.name!r} exists already")
    FINISHES[finish.name] = finish
    try:
        yield finish.name
    finally:
        del FINISHES[finish.name]


def draw_specimen(rng: np.random.Generator, number: int, *, families: tuple[str, ...] = FAMILIES,
                  renderers: tuple[str, ...] = TRAINING_RENDERERS) -> Specimen:
    """Return an invented specimen with everything that its fields share."""
    family = str(rng.choice(families))
    name = f"AV-{number:02d}"
    suffix, bits, metadata = _FILES[rng.integers(len(_FILES))]
    low, high = PIXEL_SIZES_UM
    return Specimen(
        name=name, finish=narrowed_finish(family, f"{family}, {name}", rng), family=family,
        renderer=str(rng.choice(renderers)),
        pixel_size_um=round(math.exp(rng.uniform(math.log(low), math.log(high))), 4),
        severity=float(rng.uniform(0.1, 1.0)), stroke_deg=float((90 + rng.normal(0, 6)) % 180),
        hone_angle_deg=float(draw_hone_angle_deg(rng, FINISHES[family])), kv=float(rng.choice([5, 10, 15, 20])),
        tilt_deg=float(rng.choice([0.0, 0.0, round(rng.uniform(0, 6), 1)])), layout=str(rng.choice(list(LAYOUTS))),
        suffix=suffix, bits=bits, metadata=metadata)


def plan_session(fields: int, seed: int, *, families: tuple[str, ...] = FAMILIES,
                 renderers: tuple[str, ...] = TRAINING_RENDERERS) -> list[PlannedField]:
    """Return the ``fields`` fields of a session, FIELDS_A_SPECIMEN to a specimen, zones in turn.

    A few fields carry no scale at all or are out of focus. Every field has a seed of its own, so that the session is the
    same however it is shared out among processes, and a longer one begins with the shorter.
    """
    planned = []
    for index in range(fields):
        number, place = divmod(index, FIELDS_A_SPECIMEN)
        specimen = draw_specimen(np.random.default_rng((seed, number)), number + 1, families=families, renderers=renderers)
        rng = np.random.default_rng((seed, number, place, 1))
        planned.append(PlannedField(
            specimen=specimen, zone=("in-track", "out-of-track")[place % 2], number=place // 2 + 1,
            seed=(seed, number, place), with_scale=bool(rng.random() >= WITHOUT_SCALE_SHARE),
            out_of_focus_px=float(rng.uniform(5, 9)) if rng.random() < OUT_OF_FOCUS_SHARE else 0.0))
    return planned


def plan_sample_session(seed: int) -> list[PlannedField]:
    """Return the twelve fields of the sample session: two finishes, in- and out-of-track, several layouts of data bars.

    One field has no scale at all and one is out of focus: semwear has to refuse the one and to flag the other. All are
    fields that an operator would keep: sharp (but for that one), not charged, of usual contrast.
    """
    shared = {"kv": 10.0, "tilt_deg": 0.0, "suffix": ".png", "bits": 8, "metadata": "none", "layout": ""}
    rng = np.random.default_rng((seed, 0))
    specimens = (
        Specimen(name="AV-01", finish=narrowed_finish("plateaued", "plateaued, AV-01", rng, 0.45), family="plateaued",
                 renderer="transport", pixel_size_um=0.42, severity=0.55, stroke_deg=90.0, hone_angle_deg=46.0, **shared),
        Specimen(name="AV-02", finish=narrowed_finish("single-stage", "single-stage, AV-02", rng, 0.4),
                 family="single-stage", renderer="slope", pixel_size_um=0.5, severity=0.9, stroke_deg=90.0,
                 hone_angle_deg=52.0, **shared),
    )
    layouts = (
        (("dark strip, facts then bar", ".png", "none"), ("dark strip, facts then bar", ".tif", "ini"),
         ("light strip, ticks alone", ".png", "none"), ("burnt bracket", ".png", "none"),
         ("tall dark strip", ".jpg", "none"), ("box with facts", ".png", "none")),
        (("light strip, boxed cells", ".png", "none"), ("light strip, boxed cells", ".tif", "ome"),
         ("dark strip, bar in the centre", ".jpg", "none"), ("burnt ticks alone", ".png", "none"),
         ("coloured ink on a dark strip", ".jpg", "none"), ("dark strip across the picture", ".png", "none")),
    )
    outside = (Kept(valley_fraction=(0.16, 0.24)), Kept(valley_fraction=(0.20, 0.30)))
    inside = (Kept(valley_fraction=(0.04, 0.16), smeared_fraction=(0.03, 0.25)),
              Kept(valley_fraction=(0.02, 0.14), smeared_fraction=(0.04, 0.3), scuffed_fraction=(0.0, 0.35)))
    planned = []
    for index, specimen in enumerate(specimens):
        for place, (layout, suffix, metadata) in enumerate(layouts[index]):
            planned.append(PlannedField(
                specimen=replace(specimen, layout=layout, suffix=suffix, metadata=metadata),
                zone=("in-track", "out-of-track")[place % 2], number=place // 2 + 1, seed=(seed, index, place),
                with_scale=(index, place) != (0, 4), out_of_focus_px=7.0 if (index, place) == (1, 5) else 0.0,
                kept=(inside, outside)[place % 2][index], smallest_digit_px=12))
    return planned
