"""One specimen's recipe: how it was honed, how it ran, and how the microscope was set.

The hone angle follows from the machine: tan(angle / 2) = axial speed / peripheral speed. Included angles of 30 to 60
degrees are usual, 140 to 150 for helical slide honing; grooves 1 to 10 um deep and 5 to 50 um wide with walls of 6 to 27
degrees; valley share 15 to 30 % (trade figures, marked there as from memory).
"""

import math
from dataclasses import dataclass

import numpy as np

KINDS = ("rough single-stage", "plateau", "fine plateau", "helical slide")


@dataclass(frozen=True, kw_only=True)
class Finish:
    """The honed surface: spindle_m_s and stroke_m_s are the peripheral and the axial speed of the stones."""

    kind: str
    spindle_m_s: float
    stroke_m_s: float
    single_lay: bool
    balance: float
    width_um: float
    slope_deg: tuple[float, float]
    valley_share: float
    nose: float
    rim_um: float
    marks_um: float
    fine_gap_um: float
    fine_depth_um: float
    floor_roughness: float
    micro_um: float
    grits: tuple[tuple[float, float, float], ...]
    graphite_share: float
    rosettes: bool
    pullouts_per_mm2: float
    steadite_share: float

    @property
    def hone_angle_deg(self) -> float:
        return 2 * math.degrees(math.atan2(self.stroke_m_s, self.spindle_m_s))


@dataclass(frozen=True, kw_only=True)
class Wear:
    """The run: truncation_um taken off the plateau, closed share of the groove area, scuffed share of the field."""

    truncation_um: float
    closed: float
    two_way: bool
    tongue_um: float
    unevenness: float
    flush: float
    cracks: float
    cover_tone: float
    scuffed: float
    scuff_strength: float
    scuff_tone: float
    lap_um: float
    stroke_marks_um: float
    scores_per_mm2: float
    film: float


@dataclass(frozen=True, kw_only=True)
class Setting:
    """The microscope: one per specimen."""

    kv: float
    detector: str
    azimuth_deg: float
    symmetric: float
    exponent: float
    edge: float
    hole: float
    floor: float
    dose: float
    line_noise: float
    beam_px: float
    black: float
    white: float
    gamma: float


@dataclass(frozen=True, kw_only=True)
class Specimen:
    name: str
    finish: Finish
    wear: Wear
    setting: Setting
    stroke_deg: float
    tilt_deg: float
    pixel_size_um: float
    shape: tuple[int, int]
    scale_from: str
    label_um: float
    bar_px: int
    style: int


def draw_finish(rng: np.random.Generator, pixel_um: float) -> Finish:
    kind = str(rng.choice(KINDS, p=[0.34, 0.36, 0.17, 0.13]))
    low, high = {"fine plateau": (5.0, 11.0), "rough single-stage": (9.0, 30.0)}.get(kind, (7.0, 26.0))
    low, high = max(low, 5.0 * pixel_um), max(min(high, 42 * pixel_um), 6.5 * pixel_um)
    width = float(np.exp(rng.uniform(math.log(min(low, high)), math.log(high))))
    angle = rng.uniform(140, 150) if kind == "helical slide" else rng.uniform(30, 60)
    spindle = math.pi * rng.uniform(0.075, 0.13) * rng.uniform(80, 260) / 60
    grits = tuple(
        (float(rng.uniform(0, 1)), float(np.exp(rng.normal(0, 0.42))), float(rng.uniform(0, 1)))
        for _ in range(rng.integers(3, 8))
    )
    rough = kind == "rough single-stage"
    share = {"rough single-stage": (0.2, 0.34), "fine plateau": (0.1, 0.2)}.get(kind, (0.14, 0.28))
    return Finish(
        kind=kind, spindle_m_s=spindle, stroke_m_s=spindle * math.tan(math.radians(angle / 2)),
        single_lay=bool(rng.random() < 0.09), balance=rng.uniform(0.5, 0.95), width_um=width,
        slope_deg=(9.0, 27.0) if rough else (11.0, 25.0), valley_share=rng.uniform(*share),
        nose=float(np.exp(rng.uniform(math.log(0.15), math.log(1.5)))),
        rim_um=rng.uniform(0.25, 0.7) if rough else rng.uniform(0.0, 0.15),
        marks_um=rng.uniform(0.08, 0.2) if rough else rng.uniform(0.02, 0.08), grits=grits,
        fine_gap_um=rng.uniform(6, 16) if rough else rng.uniform(10, 45),
        fine_depth_um=0.42 if rough else rng.uniform(0.15, 0.4),
        micro_um=rng.uniform(0.01, 0.04) * (1 + 0.8 * pixel_um),
        floor_roughness=rng.uniform(0.05, 0.12) if rough else rng.uniform(0.015, 0.07),
        graphite_share=float(rng.choice([0.0, rng.uniform(0.01, 0.05)], p=[0.25, 0.75])),
        rosettes=bool(rng.random() < 0.3),
        pullouts_per_mm2=float(rng.choice([0.0, rng.uniform(20, 140)])),
        steadite_share=float(rng.choice([0.0, rng.uniform(0.01, 0.05)], p=[0.6, 0.4])),
    )  # fmt: skip


def draw_wear(rng: np.random.Generator) -> Wear:
    closed = [rng.uniform(0, 0.04), rng.uniform(0.08, 0.35), rng.uniform(0.35, 0.85)][
        rng.choice(3, p=[0.23, 0.37, 0.4])
    ]
    scuffed = [0.0, rng.uniform(0.015, 0.1), rng.uniform(0.1, 0.3)][rng.choice(3, p=[0.55, 0.22, 0.23])]
    return Wear(
        truncation_um=rng.uniform(0.06, 0.7), closed=closed, two_way=bool(rng.random() < 0.4),
        tongue_um=float(np.exp(rng.uniform(math.log(5), math.log(30)))), unevenness=rng.uniform(0.7, 1.5),
        flush=rng.uniform(0.0, 0.45), cracks=rng.uniform(0.2, 0.8),
        cover_tone=rng.uniform(0.05, 0.18) * rng.choice([-1.0, 1.0]), scuffed=scuffed,
        scuff_strength=float(rng.choice([rng.uniform(0.5, 0.7), rng.uniform(0.8, 1.3)], p=[0.35, 0.65])),
        lap_um=rng.uniform(5, 16), scuff_tone=rng.uniform(-0.14, 0.12),
        stroke_marks_um=rng.uniform(0.03, 0.11),
        scores_per_mm2=float(np.exp(rng.uniform(math.log(150), math.log(1800)))),
        film=float(rng.choice([0.0, rng.uniform(0.06, 0.25)])),
    )  # fmt: skip


def draw_setting(rng: np.random.Generator) -> Setting:
    look = rng.choice(["dark", "rims", "bright floors", "shaded"], p=[0.36, 0.27, 0.15, 0.22])
    symmetric = {"shaded": rng.uniform(0.3, 0.55), "dark": rng.uniform(0.5, 1.0)}.get(look, rng.uniform(0.55, 1.0))
    edge, hole, floor = {
        "dark": (rng.uniform(0.2, 0.5), rng.uniform(0.5, 1.0), rng.uniform(-0.32, -0.12)),
        "rims": (rng.uniform(0.7, 1.3), rng.uniform(0.4, 0.8), rng.uniform(-0.16, 0.0)),
        "bright floors": (rng.uniform(0.3, 0.7), rng.uniform(0.05, 0.2), rng.uniform(0.15, 0.35)),
        "shaded": (rng.uniform(0.2, 0.6), rng.uniform(0.2, 0.5), rng.uniform(-0.1, 0.04)),
    }[str(look)]
    return Setting(
        kv=float(rng.choice([5, 10, 15, 20])), detector="in-lens SE" if symmetric > 0.9 else "chamber SE",
        azimuth_deg=rng.uniform(0, 360), symmetric=symmetric, exponent=rng.uniform(1.1, 1.3), edge=edge, hole=hole,
        floor=floor,
        dose=float(np.exp(rng.uniform(math.log(180), math.log(3500)))),
        line_noise=float(rng.choice([0, rng.uniform(0.003, 0.012)])),
        beam_px=rng.uniform(0.45, 1.0), black=rng.uniform(5, 40), white=rng.uniform(190, 248),
        gamma=rng.uniform(0.8, 1.25),
    )  # fmt: skip


def round_label(length_um: float) -> float:
    """Return the largest 1-2-5 figure up to this length."""
    decade = 10.0 ** math.floor(math.log10(length_um))
    return max(step * decade for step in (1, 2, 5) if step * decade <= length_um * 1.0001)


def draw_specimen(seed: int, number: int) -> Specimen:
    """Return specimen number's recipe; the pixel size is set so that the bar is a whole number of pixels."""
    rng = np.random.default_rng([seed, 7, number])
    wanted = float(np.exp(rng.uniform(math.log(0.155), math.log(1.45))))
    cols = int(rng.integers(1000, 1601))
    label = round_label(rng.uniform(0.1, 0.36) * cols * wanted)
    bar_px = round(label / wanted)
    pixel = label / bar_px
    near = rng.choice([90.0, 0.0, rng.uniform(0, 180)], p=[0.45, 0.3, 0.25])
    return Specimen(
        name=f"W{number + 1:03d}", finish=draw_finish(rng, pixel), wear=draw_wear(rng), setting=draw_setting(rng),
        stroke_deg=float((near + rng.uniform(-5, 5)) % 180),
        tilt_deg=float(rng.choice([0.0, rng.uniform(2, 10), rng.uniform(10, 30)], p=[0.66, 0.2, 0.14])),
        pixel_size_um=pixel,
        shape=(int(cols * rng.uniform(0.62, 0.82)), cols), label_um=label, bar_px=bar_px,
        style=int(rng.integers(0, 10_000)),
        scale_from=str(rng.choice(["bar", "description", "ome"], p=[0.84, 0.08, 0.08])),
    )  # fmt: skip
