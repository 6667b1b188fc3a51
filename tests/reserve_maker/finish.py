"""What one specimen is: its hone finish, its wear, and the pixel size that shows its grooves.

Ranges: hone angle 30 to 60°, or 140 to 150° for helical slide honing; groove depth 1 to 10 µm, width 5 to 50 µm, valley
share 15 to 30 % (trade figures from memory); wall slopes 6 to 27° follow from such widths and depths.
"""

from dataclasses import dataclass

import numpy as np

from tests.reserve_maker.random_fields import log_uniform


@dataclass(frozen=True, kw_only=True)
class Finish:
    """A hone finish. Lengths in µm; spacing_um: mean distance of cutting grains across the lay in one stroke of the head.

    depth_um: mean protrusion of grains; wall_deg: slope of groove walls; points: extra cutting points a grain; ride: how
    much a grain's depth changes along its path; pile_up: ridge height over depth; balance: grains of the weaker lay over
    those of the stronger; striae_um: roughness of groove grounds along the lay; marks_um: depth of finishing marks.
    """

    name: str
    plateaued: bool
    hone_angle_deg: float | None
    spacing_um: float
    depth_um: float
    wall_deg: float
    points: float
    ride: float
    pile_up: float
    broken_share: float
    flat_share: float
    balance: float
    valley_share: float
    striae_um: float
    marks_um: float


@dataclass(frozen=True, kw_only=True)
class Wear:
    """What the counterface does in the track. depth_um: how far it sinks below the plateau; moved: share of the displaced
    metal that is carried on instead of lost; sheet_um: thickness of what it forms; flush, fold: how level sheets lie and
    how often they end in a crack, 0 to 1; marks_um: depth of stroke marks; scuffed_share: area of seized streaks;
    scuff_strength: 0 (traces) to 1 (torn deep); film: darkening by tribofilm patches; fresh: grey step of moved metal.
    """

    depth_um: float
    moved: float
    sheet_um: float
    carry_um: float
    flush: float
    fold: float
    marks_um: float
    scuffed_share: float
    scuff_strength: float
    scuff_width_um: float
    film: float
    fresh: float


@dataclass(frozen=True, kw_only=True)
class Matrix:
    """The iron: share of graphite and pull-outs in the area, flake length in µm, how much darker a flake is than
    iron, and how much of the flakes the stone left bare, 0 to 1.
    """

    graphite_share: float
    flake_um: float
    flake_grey: float
    pull_out_share: float
    bare: float


@dataclass(frozen=True, kw_only=True)
class Specimen:
    """One liner section with its finish, wear, iron, orientation on the stage and pixel size."""

    name: str
    finish: Finish
    wear: Wear
    matrix: Matrix
    pixel_size_um: float
    picture: tuple[int, int]
    stroke_deg: float

    @property
    def lays_deg(self) -> tuple[float, ...]:
        """Directions of the lays in the picture, the stronger first; bisected by the direction across the stroke."""
        across = self.stroke_deg + 90
        if self.finish.hone_angle_deg is None:
            return ((across + 25) % 180,)
        half = self.finish.hone_angle_deg / 2
        return (across + half) % 180, (across - half) % 180


def draw_finish(pixel: float, field_um: float, rng: np.random.Generator) -> Finish:
    """Return a finish whose grooves are several pixels wide and many in a field of field_um."""
    name = str(rng.choice(["rough", "plateau", "slide", "fine"], p=[0.25, 0.42, 0.15, 0.18]))
    narrowest = max(6.0, 8.0 * pixel)
    widest = float(np.clip(field_um / 28, narrowest * 1.3, 45.0))
    width = log_uniform(narrowest, widest, rng)
    if name == "fine":
        width = log_uniform(narrowest, max(narrowest * 1.15, min(widest, 14.0)), rng)
    wall = rng.uniform(15, 25) if name in ("rough", "fine") else rng.uniform(11, 22)
    depth = float(np.clip(0.5 * width * np.tan(np.deg2rad(wall)), 1.2, 6.0)) * {"rough": 0.6, "fine": 1.7}.get(
        name, 1.4
    )
    share = {"rough": (0.22, 0.36), "plateau": (0.15, 0.30), "slide": (0.12, 0.28), "fine": (0.06, 0.16)}[name]
    angle = rng.uniform(140, 150) if name == "slide" else rng.uniform(30, 60)
    lays = 1 if rng.random() < 0.07 else 2
    crowd = {"rough": (1.3, 2.6), "plateau": (1.9, 3.6), "slide": (2.0, 3.8), "fine": (2.4, 4.2)}[name]
    return Finish(
        name=name,
        plateaued=name != "rough",
        hone_angle_deg=float(angle) if lays == 2 else None,
        spacing_um=float(
            width * rng.uniform(*crowd) * lays / 2 * (np.clip(depth / 0.8, 1, 2.5) if name == "rough" else 1)
        ),
        depth_um=depth,
        wall_deg=float(wall),
        points=float(rng.uniform(0.8, 3.5)),
        ride=float(rng.uniform(0.04, 0.18)),
        pile_up=float(rng.uniform(0.08, 0.35)),
        broken_share=float(rng.uniform(0.1, 0.5)),
        flat_share=float(rng.uniform(0, 0.5)),
        balance=float(rng.uniform(0.6, 1.0)),
        valley_share=float(rng.uniform(*share)),
        striae_um=float(np.clip(rng.uniform(0.01, 0.06) * depth, 0.02, 0.15)),
        marks_um=log_uniform(0.015, 0.10, rng) * (1.5 if name == "rough" else 1.0),
    )


def draw_wear(pixel: float, field_um: float, rng: np.random.Generator) -> Wear:
    """Return the wear of one specimen: some with hardly any smear, some with much; scuffing in some only."""
    moved = float(rng.choice([0.0, 0.25, 0.6, 1.0], p=[0.15, 0.25, 0.3, 0.3])) * rng.uniform(0.7, 1.3)
    scuffs = rng.random() < 0.35
    return Wear(
        depth_um=log_uniform(0.08, 0.6, rng),
        moved=float(moved),
        sheet_um=log_uniform(0.25, 0.8, rng),
        carry_um=log_uniform(30, 150, rng),
        flush=float(rng.uniform(0, 1)),
        fold=float(rng.uniform(0.2, 1)),
        marks_um=log_uniform(0.02, 0.11, rng),
        scuffed_share=float(rng.uniform(0.02, 0.20)) if scuffs else 0.0,
        scuff_strength=float(rng.uniform(0.22, 1.0)),
        scuff_width_um=float(np.clip(log_uniform(6, 40, rng), 9 * pixel, 0.14 * field_um)),
        film=float(rng.uniform(0, 0.13)),
        fresh=float(rng.uniform(-0.05, 0.08)),
    )


def draw_specimen(name: str, rng: np.random.Generator) -> Specimen:
    """Return one specimen; its pixel size is log-uniform from 0.15 to 1.5 µm."""
    pixel = log_uniform(0.15, 1.5, rng)
    width = int(rng.integers(500, 801)) * 2
    height = int(width * rng.choice([0.62, 0.667, 0.75, 0.8]))
    side = rng.random()
    stroke = rng.normal(90, 3) if side < 0.45 else rng.normal(0, 3) if side < 0.8 else rng.uniform(0, 180)
    matrix = Matrix(
        graphite_share=float(rng.choice([0.0, rng.uniform(0.002, 0.03)], p=[0.2, 0.8])),
        flake_um=log_uniform(12, 70, rng),
        flake_grey=float(rng.uniform(0.10, 0.42)),
        pull_out_share=float(rng.choice([0.0, 0.003, 0.012])),
        bare=float(rng.uniform(0.0, 0.7)),
    )
    return Specimen(
        name=name,
        finish=draw_finish(pixel, width * pixel, rng),
        wear=draw_wear(pixel, height * pixel, rng),
        matrix=matrix,
        pixel_size_um=pixel,
        picture=(height, width),
        stroke_deg=float(np.round(stroke % 180, 1)) % 180,
    )
