"""What one liner section is and how it is photographed, drawn at random within the trade's figures.

Ranges: included hone angle 30-60° or 140-150° (helical slide), groove width 5-50 µm, depth 1-10 µm, valley share 15-30 %
(from memory, common figures); plateau-honed liner Rk 0.05-1.8, Rvk 0.15-3.3, Rpk up to 0.64 µm (US patent 7,059,290).
"""

from dataclasses import dataclass

import numpy as np

FINISHES = ("rough", "plateau", "fine")


@dataclass(frozen=True)
class Finish:
    """The honed ground asked for; lays are degrees anticlockwise from the circumference."""

    kind: str
    lays_deg: tuple[float, ...]
    rk_um: float
    rvk_um: float
    valley_share: float
    width_um: float
    wall: float
    balance: float
    burr_um: float
    graphite_per_mm2: float
    pullouts_per_mm2: float


@dataclass(frozen=True)
class Wear:
    """What the test did: cut in µm, shares of grooves closed and of area scuffed, and the mix of closures."""

    cut_um: float
    smear: float
    kinds: tuple[float, float, float, float]
    scuff: float
    scuff_strength: float
    stroke_marks_um: float
    tongue_um: float


@dataclass(frozen=True)
class Setting:
    """Microscope and picture, one a specimen."""

    kv: float
    detector: str
    tilt_deg: float
    stroke_deg: float
    width_px: int
    height_px: int
    pixel_um: float
    bar_um: float
    bar_px: int
    electrons: float
    blur_px: float


@dataclass(frozen=True)
class Specimen:
    """One section: finish, wear and setting, and the seed of its signal tables and its data bar."""

    name: str
    finish: Finish
    wear: Wear
    setting: Setting
    table_seed: int


def draw_specimen(name: str, rng: np.random.Generator) -> Specimen:
    """Draw one specimen."""
    pixel_um = float(np.exp(rng.uniform(np.log(0.15), np.log(1.5))))
    finish = _finish(pixel_um, rng)
    return Specimen(name, finish, _wear(finish, rng), _setting(pixel_um, rng), int(rng.integers(2**31)))


def _finish(pixel_um: float, rng: np.random.Generator) -> Finish:
    """Draw a finish whose grooves are at least seven pixels and at most an eighth of the field wide."""
    kind = str(rng.choice(FINISHES, p=[0.3, 0.45, 0.25]))
    included = rng.uniform(140, 150) if rng.random() < 0.15 else rng.uniform(30, 60)
    lays = (included / 2, -included / 2)
    if rng.random() < 0.12:
        lays = lays[:1]
    rk, rvk, share, width = {
        "rough": ((0.6, 1.15), (1.8, 3.2), (0.16, 0.28), (9, 36)),
        "plateau": ((0.2, 0.7), (1.3, 3.2), (0.15, 0.28), (7, 36)),
        "fine": ((0.08, 0.3), (0.7, 1.8), (0.15, 0.22), (5, 12)),
    }[kind]
    low, high = max(width[0], 7 * pixel_um), max(width[1], 9 * pixel_um)
    width = (low, max(min(high, 130 * pixel_um), 1.2 * low))
    return Finish(
        kind=kind,
        lays_deg=lays,
        rk_um=float(rng.uniform(*rk)),
        rvk_um=float(rng.uniform(*rvk)),
        valley_share=float(rng.uniform(*share)),
        width_um=float(np.exp(rng.uniform(*np.log(width)))),
        wall=float(rng.uniform(0.55, 1.1)),
        balance=float(rng.uniform(0.6, 1.0)),
        burr_um=float(rng.choice([0.0, 1.0]) * rng.uniform(0.1, 0.35)),
        graphite_per_mm2=float(rng.choice([0.0, rng.uniform(20, 250)], p=[0.3, 0.7])),
        pullouts_per_mm2=float(rng.choice([0.0, rng.uniform(5, 60)], p=[0.3, 0.7])),
    )


def _wear(finish: Finish, rng: np.random.Generator) -> Wear:
    grade = str(rng.choice(["hardly", "some", "much", "most"], p=[0.28, 0.32, 0.25, 0.15]))
    smear = float(rng.uniform(*{"hardly": (0, 0.06), "some": (0.1, 0.5), "much": (0.5, 0.9), "most": (0.9, 1)}[grade]))
    mix = (3.0, 0.4, 1.0, 3.0) if grade == "most" else (1.3, 0.9, 0.9, 0.9)
    scuff = float(rng.choice([0.0, rng.uniform(0.01, 0.1), rng.uniform(0.1, 0.28)], p=[0.5, 0.25, 0.25]))
    return Wear(
        cut_um=float(rng.uniform(0.02, 0.25) + 0.15 * finish.rk_um),
        smear=smear,
        kinds=tuple(float(part) for part in rng.dirichlet(mix)),
        scuff=scuff,
        scuff_strength=float(rng.uniform(0.35, 1.3)),
        stroke_marks_um=float(rng.uniform(0.03, 0.12)),
        tongue_um=float(rng.uniform(4, 14)),
    )


def _setting(pixel_um: float, rng: np.random.Generator) -> Setting:
    width = int(rng.choice([1000, 1024, 1200, 1280, 1280, 1600]))
    bar_um = _round_below(width * pixel_um * rng.uniform(0.1, 0.32))
    bar_px = max(24, round(bar_um / pixel_um))
    upright = rng.random()
    stroke = 90.0 if upright < 0.55 else 0.0 if upright < 0.8 else rng.uniform(0, 180)
    return Setting(
        kv=float(rng.choice([3, 5, 10, 15, 20])),
        detector=str(rng.choice(["side", "in-lens"], p=[0.65, 0.35])),
        tilt_deg=float(rng.choice([0.0, round(rng.uniform(3, 30))], p=[0.75, 0.25])),
        stroke_deg=round(float(stroke + rng.normal(0, 2)), 1) % 180,
        width_px=width,
        height_px=round(width * float(rng.choice([0.64, 0.7, 0.75]))),
        pixel_um=bar_um / bar_px,
        bar_um=bar_um,
        bar_px=bar_px,
        electrons=float(np.exp(rng.uniform(np.log(80), np.log(2000)))),
        blur_px=float(rng.uniform(0.45, 1.1)),
    )


def _round_below(length_um: float) -> float:
    """Return the greatest of 1, 2, 5 × 10^n that is not above a length."""
    decade = 10.0 ** np.floor(np.log10(length_um))
    return float(decade * max(digit for digit in (1, 2, 5) if digit * decade <= length_um))
