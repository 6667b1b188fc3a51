"""What one specimen keeps from field to field: finish, lays, stroke, wear and the microscope's setting.

The hone angle is the included angle of the lays, bisected by the direction across the stroke. Tilted specimens are taken
with the scan compensated for the tilt, so that a pixel is equally long along rows and columns.
"""

from dataclasses import dataclass, replace

import numpy as np

from .finishes import FINISH_WEIGHTS, FINISHES, Finish
from .microscope import Setting, draw_setting
from .randomness import Rng, log_uniform

PIXEL_UM = (0.15, 1.5)
CLOSURES = ("lip", "bridge", "flap", "flush", "sunken")


@dataclass(frozen=True, kw_only=True)
class Wear:
    """What the test does to the in-track surface.

    ``truncation_um``: plateau removed; ``closed_share``: share of groove length with moved metal; ``styles``: how often each
    of ``CLOSURES`` occurs; ``trace``: how strongly closures show, 1 for the usual; ``closure_um``: mean length of a closure;
    ``scuffed_share``: scuffed share of area aimed at; ``scuff_strength``: 0 faint to 1 torn open; ``mark_um``: depth of the
    fine marks along the stroke; ``marks_per_mm2``: how many; ``film``: share of area under tribofilm, whose borders
    are as sharp as ``film_edge``.
    """

    truncation_um: float
    closed_share: float
    styles: tuple[float, ...]
    trace: float
    closure_um: float
    scuffed_share: float
    scuff_strength: float
    mark_um: float
    marks_per_mm2: float
    film: float
    film_edge: float


@dataclass(frozen=True, kw_only=True)
class Specimen:
    """One liner section under one setting of the microscope; lengths in µm, directions anticlockwise from the rows."""

    name: str
    finish: Finish
    stroke_deg: float
    hone_angle_deg: float
    lays_deg: tuple[float, ...]
    gaps_um: tuple[float, ...]
    width_um: float
    fine_width_um: float
    deep_share: float
    wall_deg: float
    length_um: float
    power: float
    floor_striae: float
    rim: float
    flakes_per_mm2: float
    flake_um: float
    pits_per_mm2: float
    mark_um: float
    roughness: float
    wear: Wear
    pixel_um: float
    shape: tuple[int, int]
    setting: Setting


def draw_specimen(rng: Rng, name: str) -> Specimen:
    """Return a specimen drawn from the populations of its finish."""
    finish: Finish = FINISHES[rng.choice(len(FINISHES), p=FINISH_WEIGHTS)]
    stroke = (
        float(rng.choice([90.0, 0.0, 45.0], p=[0.6, 0.3, 0.1]) + rng.normal(0, 5))
        if rng.random() < 0.85
        else rng.uniform(0, 180)
    )
    angle = float(rng.uniform(*finish.angle_deg))
    lays = ((stroke + 90 + angle / 2) % 180, (stroke + 90 - angle / 2) % 180)
    gap, balance = float(rng.uniform(*finish.gap_um)), float(rng.uniform(0.55, 1.0))
    gaps = (gap, gap / balance)
    if rng.random() < 0.5:
        gaps = gaps[::-1]
    if rng.random() < 0.1:
        lays, gaps = lays[:1], (gap * 0.7,)
    width = float(rng.uniform(*finish.width_um))
    columns = int(rng.choice([1000, 1024, 1152, 1280, 1400, 1536, 1600]))
    rows = int(round(columns * rng.choice([0.62, 0.667, 0.7, 0.75, 0.8])))
    smallest = max(PIXEL_UM[0], rng.choice([4, 2], p=[0.7, 0.3]) * gap / columns)
    largest = min(PIXEL_UM[1], finish.fine_width_um[0] / 4)
    pixel = float(f"{log_uniform(rng, smallest, max(largest, smallest * 1.05)):.4g}")
    graphite = rng.random()
    return Specimen(
        name=name, finish=finish, stroke_deg=stroke % 180, hone_angle_deg=angle, lays_deg=lays, gaps_um=gaps, width_um=width,
        fine_width_um=float(rng.uniform(*finish.fine_width_um)), deep_share=float(rng.uniform(*finish.deep_share)),
        wall_deg=float(rng.uniform(*finish.wall_deg)), length_um=log_uniform(rng, *finish.length_um),
        power=float(rng.uniform(*finish.powers)), floor_striae=log_uniform(rng, 0.25, 1.6), rim=float(rng.uniform(0.2, 1.3)),
        flakes_per_mm2=0.0 if graphite < 0.25 else log_uniform(rng, 20, 260), flake_um=log_uniform(rng, 15, 70),
        pits_per_mm2=log_uniform(rng, 5, 200) if rng.random() < 0.7 else 0.0, mark_um=log_uniform(rng, *finish.mark_um),
        roughness=log_uniform(rng, 0.008, 0.05), wear=_draw_wear(rng), pixel_um=pixel,
        shape=(rows, columns), setting=draw_setting(rng),
    )  # fmt: skip


def _draw_wear(rng: Rng) -> Wear:
    smear = rng.choice(["hardly", "some", "much"], p=[0.25, 0.4, 0.35])
    closed = {"hardly": (0.0, 0.06), "some": (0.1, 0.35), "much": (0.35, 0.75)}[smear]
    scuffed = rng.random() < 0.32
    return Wear(
        truncation_um=float(rng.choice([rng.uniform(0, 0.25), rng.uniform(0.2, 0.9)])),
        closed_share=float(rng.uniform(*closed)),
        styles=tuple(float(one) for one in rng.dirichlet(np.array([1.6, 1.4, 1.0, 1.6, 0.35]))),
        trace=log_uniform(rng, 0.45, 1.8), closure_um=log_uniform(rng, 12, 60),
        scuffed_share=float(rng.uniform(0.02, 0.3)) if scuffed else 0.0, scuff_strength=float(rng.uniform(0.3, 1.0)),
        mark_um=log_uniform(rng, 0.02, 0.12), marks_per_mm2=log_uniform(rng, 150, 4000),
        film=float(rng.choice([0.0, rng.uniform(0.05, 0.5)])), film_edge=log_uniform(rng, 0.4, 2.0),
    )  # fmt: skip


def field_of(specimen: Specimen, rng: Rng) -> Specimen:
    """Return the specimen as one field shows it: mounted a little askew, its medians a few per cent off."""
    turn = rng.normal(0, 0.6)
    wear = specimen.wear
    return replace(
        specimen,
        stroke_deg=(specimen.stroke_deg + turn) % 180,
        lays_deg=tuple((lay + turn) % 180 for lay in specimen.lays_deg),
        gaps_um=tuple(gap * np.exp(rng.normal(0, 0.05)) for gap in specimen.gaps_um),
        width_um=specimen.width_um * np.exp(rng.normal(0, 0.03)),
        setting=replace(
            specimen.setting,
            defocus_px=specimen.setting.defocus_px + (abs(rng.normal(0, 0.9)) if rng.random() < 0.2 else 0.0),
            dose=specimen.setting.dose * np.exp(rng.normal(0, 0.08)),
            middle_grey=float(np.clip(specimen.setting.middle_grey + rng.normal(0, 0.02), 0.2, 0.65)),
        ),
        wear=replace(
            wear,
            truncation_um=wear.truncation_um * np.exp(rng.normal(0, 0.15)),
            closed_share=min(wear.closed_share * np.exp(rng.normal(0, 0.15)), 0.85),
            scuffed_share=min(wear.scuffed_share * np.exp(rng.normal(0, 0.3)), 0.33),
        ),
    )
