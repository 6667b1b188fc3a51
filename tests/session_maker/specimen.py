"""A specimen: one section, with the finish, the iron and the manner of wear that all its fields share."""

from dataclasses import dataclass, replace

import numpy as np

from tests.session_maker.wear import Wear, draw_wear

SHAPES = ((768, 1024), (960, 1280))
"""Rows and columns of the pictures: common practice, no source."""

PIXEL_SIZES_UM = (0.15, 1.5)
"""Log-uniform: own choice."""

FINISHES = ("plateau", "plateau", "single", "helical")
HONE_ANGLES_DEG = {"plateau": (30, 60), "single": (30, 60), "helical": (120, 150)}
"""Included angles, bisected by the direction across the stroke: 30-60° are usual and 140-150° for helical slide honing
[M, tests/SOURCES.md]; from 120° is an own choice."""

VALLEY_SHARES = (0.12, 0.26)
"""From which the number of a lay's grooves follows: own choice. Both lays together then come to 15 to 40 % of the area in most
fields, where 15 to 30 % are usual [M, tests/SOURCES.md]."""

LAY_SCATTER_DEG = 0.7
"""Standard deviation of the stroke about the stated one, and of a field's about its specimen's: own choice."""


@dataclass(frozen=True, kw_only=True)
class Hone:
    """Grooves of a finish. width_um: median at the rim; grooves: of each lay across a field's width; ragged: of the rims, in half
    widths; bundled: share of grooves that lie beside another; width_spread: standard deviation of the logarithm; ending: share
    that end in the field; striated: of the floors, 0-1; rim_um: burrs; marks_um: finishing marks; rough: of the plateau, 1 is
    common; balance: of the first lay, 1 is even."""

    width_um: float
    grooves: float
    ragged: float
    bundled: float
    width_spread: float
    ending: float
    striated: float
    rim_um: float
    marks_um: float
    rough: float
    balance: float


@dataclass(frozen=True, kw_only=True)
class Iron:
    """What the section is made of and lies on it. floor_*: open grooves' floors, roughness (1 is common), depth at which carbon
    has gathered (µm) and its brightness; steadite: brightness of the network; flakes: per 10,000 µm²; pits, scratches and debris:
    mean numbers a field; *_dark and *_brightness: changes of brightness, of 1; *_um: depths."""

    floor_rough: float
    floor_depth_um: float
    floor_brightness: float
    steadite: float
    flakes: float
    flake_dark: float
    flake_um: float
    pits: float
    pit_dark: float
    pit_um: float
    scratches: float
    scratch_um: float
    stain: float
    debris: float
    debris_brightness: float


@dataclass(frozen=True, kw_only=True)
class Flow:
    """How metal moves. stroke_marks_um: running-in marks; width_px: of a tongue of metal; one_sided: reach from the second rim
    over the first's; dimple_um: how low a closure lies; cap_rough: 1 is common; lip_um: curl of a free edge; seam: how deep
    seams show, 0-1; cap_brightness, scuff_brightness: changes of brightness, of 1; scuff_um: relief for 1 µm a pixel;
    scuff_dug: how far streaks lie below the plateau, 0-1."""

    stroke_marks_um: float
    width_px: float
    one_sided: float
    dimple_um: float
    cap_rough: float
    lip_um: float
    seam: float
    cap_brightness: float
    scuff_um: float
    scuff_brightness: float
    scuff_dug: float


@dataclass(frozen=True, kw_only=True)
class Specimen:
    """shape: rows and columns of its pictures; directions in degrees anticlockwise from the rows; stated_stroke_deg: as the plan
    has it where stroke_known; hone_angle_deg: bisected by the direction across the stroke."""

    shape: tuple[int, int]
    pixel_size_um: float
    kind: str
    finish: str
    hone: Hone
    iron: Iron
    flow: Flow
    hone_angle_deg: float
    stated_stroke_deg: float
    stroke_deg: float
    stroke_known: bool
    wear: Wear

    @property
    def field_um(self) -> float:
        """The field's width, µm."""
        return self.shape[1] * self.pixel_size_um


def draw_specimen(rng: np.random.Generator, kind: str, number: int, scale: float = 1.0) -> Specimen:
    """Draw a specimen of a kind; every third one's stroke is left unstated. ``scale`` times the usual pixels each way."""
    rows, cols = SHAPES[0] if rng.random() < 0.5 else SHAPES[1]
    shape = (int(round(rows * scale)), int(round(cols * scale)))
    finish = str(rng.choice(FINISHES))
    pixel_size_um = float(np.exp(rng.uniform(np.log(PIXEL_SIZES_UM[0]), np.log(PIXEL_SIZES_UM[1]))))
    hone = _draw_hone(rng, finish, pixel_size_um, shape[1] * pixel_size_um)
    iron = _draw_iron(rng, pixel_size_um)
    flow = _draw_flow(rng)
    hone_angle_deg = rng.uniform(*HONE_ANGLES_DEG[finish])
    if finish == "single":
        marks_um, rim_um = rng.uniform(0.14, 0.26), rng.uniform(0.2, 0.5)
        hone = replace(hone, marks_um=marks_um, rim_um=rim_um, width_spread=0.65, rough=rng.uniform(0.9, 1.6))
    stated_deg = float(rng.choice([90, 90, 90, 0])) + float(np.round(rng.uniform(-4, 4)))
    stroke_deg = stated_deg + rng.normal(0, LAY_SCATTER_DEG)
    return Specimen(
        shape=shape, pixel_size_um=pixel_size_um, kind=kind, finish=finish, hone=hone, iron=iron, flow=flow,
        hone_angle_deg=hone_angle_deg, stated_stroke_deg=stated_deg % 180, stroke_deg=stroke_deg,
        stroke_known=number % 3 != 2, wear=draw_wear(rng, kind),
    )  # fmt: skip


def _draw_hone(rng: np.random.Generator, finish: str, pixel_size_um: float, field_um: float) -> Hone:
    """Draw the grooves: wide enough to show, 8 to 60 of them a lay, enough for the share drawn.

    Grooves are 5 to 50 µm wide [M, tests/SOURCES.md]; at fine pixels from 4 µm on, own choice.
    """
    share = rng.uniform(*VALLEY_SHARES)
    low = np.log(max(5 * pixel_size_um, 4))
    high = np.log(max(5.5 * pixel_size_um, min(18, 16 * pixel_size_um + 6)))
    width = float(np.exp(rng.uniform(low, high)))
    grooves = np.clip(share * field_um / (1.15 * width) * (1.35 if finish != "single" else 1.2), 8, 60)
    width = float(np.clip(width, share * field_um / grooves / 1.6, share * field_um / grooves * 1.4))
    return Hone(
        width_um=width, grooves=float(grooves), ragged=rng.uniform(0.05, 0.16), bundled=rng.uniform(0, 0.7),
        width_spread=rng.uniform(0.35, 0.6), ending=rng.uniform(0.05, 0.3), striated=rng.uniform(0.08, 0.28),
        rim_um=rng.uniform(0.05, 0.4), marks_um=rng.uniform(0.05, 0.14), rough=rng.uniform(0.5, 1.2),
        balance=rng.uniform(0.75, 1.25),
    )  # fmt: skip


def _draw_iron(rng: np.random.Generator, pixel_size_um: float) -> Iron:
    """Draw the iron and what lies on it; the ranges are common practice, no source. Graphite is dark [D, tests/SOURCES.md]."""
    return Iron(
        floor_rough=rng.uniform(0.4, 1.5), floor_depth_um=rng.uniform(0.5, 1.1),
        floor_brightness=float(rng.uniform(-0.42, -0.12) if rng.random() < 0.8 else rng.uniform(0.02, 0.15)),
        steadite=float(rng.choice([0, 0, 0.06, 0.1])), flakes=float(np.exp(rng.uniform(np.log(0.8), np.log(5)))),
        flake_dark=rng.uniform(0.3, 0.65), flake_um=rng.uniform(0.1, 0.6), pits=rng.uniform(1, 14),
        pit_dark=rng.uniform(0.25, 0.6), pit_um=rng.uniform(0.8, 2.5) * min(1, 0.5 + pixel_size_um),
        scratches=rng.uniform(2, 12), scratch_um=rng.uniform(0.15, 0.45), stain=float(rng.choice([0, 0.1, 0.2, 0.3])),
        debris=rng.uniform(0, 8), debris_brightness=rng.uniform(-0.2, 0.4),
    )  # fmt: skip


def _draw_flow(rng: np.random.Generator) -> Flow:
    """Draw how the specimen's metal moves; the ranges are an own choice."""
    return Flow(
        stroke_marks_um=rng.uniform(0.03, 0.1), width_px=rng.uniform(6, 22), one_sided=float(rng.choice([0.15, 0.5, 1.0])),
        dimple_um=rng.uniform(0.06, 0.26), cap_rough=rng.uniform(0.6, 1.6), lip_um=rng.uniform(0.1, 0.5),
        seam=rng.uniform(0.25, 0.8), cap_brightness=rng.uniform(-0.05, 0.1), scuff_um=rng.uniform(0.55, 1.1),
        scuff_brightness=rng.uniform(-0.1, 0.15), scuff_dug=rng.uniform(0, 1),
    )  # fmt: skip
