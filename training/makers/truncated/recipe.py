"""What one specimen's hone, wear and field are: every figure of a field that isn't drawn groove by groove.

Hone angles: included 30–60° usual, 140–150° for helical slide honing (facts of the trade, from
memory). Depths straddle the 0.5 µm that parts valley from plateau: most 0.3–1.0 µm, some 1–6 µm."""

from dataclasses import dataclass

import numpy as np

FINISHES = {"rough": (1.6, 0.45), "plateau": (1.1, 0.28), "fine": (0.8, 0.2)}
"""Finish: factor on depth, share of the ground that one lay's grooves take (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Recipe:
    pixel_size_um: float
    shape: tuple[int, int]
    stroke_deg: float
    hone_angle_deg: float
    lays: int
    finish: str
    section: str
    wall: float
    depth_um: float
    depth_spread: float
    deep_share: float
    cover: float
    burr_um: float
    dense: bool
    roughness: float
    worn: bool
    border: bool
    cut_um: float
    load_waviness: float
    smear: float
    scuff: float
    graphite: float

    @property
    def lay_angles_deg(self) -> list[float]:
        """Symmetric about the direction across the stroke."""
        half = self.hone_angle_deg / 2
        return [self.stroke_deg + 90 + half, self.stroke_deg + 90 - half][: self.lays]


def _hone_angle_deg(rng: np.random.Generator) -> float:
    low, high = ((30, 60), (140, 150), (22, 30), (60, 90))[rng.choice(4, p=[0.68, 0.14, 0.04, 0.14])]
    return float(rng.uniform(low, high))


def _smear_amount(rng: np.random.Generator) -> float:
    """Share of groove length that moved metal has reached: hardly any on a third of specimens, most of it on some."""
    return float(rng.uniform(0, 0.06) if rng.random() < 0.3 else rng.beta(1.3, 1.6))


def draw_recipe(rng: np.random.Generator, pixel_size_um: float, shape: tuple[int, int]) -> Recipe:
    coarse = float(np.clip(np.log(pixel_size_um / 0.12) / np.log(2.2 / 0.12), 0, 1))
    finish = str(rng.choice(list(FINISHES), p=[0.3, 0.45, 0.25]))
    factor, cover = FINISHES[finish]
    slope_deg = np.exp(rng.uniform(np.log(16 - 10 * coarse), np.log(27 - 12 * coarse)))
    depth_um = 0.52 * factor * (pixel_size_um / 0.4) ** 0.33 * np.exp(0.22 * rng.standard_normal())
    border = bool(rng.random() < 0.05)
    worn = bool(border or rng.random() < 0.6)
    dense = bool(rng.random() < 0.25)
    cut_um = float(min(rng.uniform(0.05, 0.9) * depth_um * (1.4 if finish == "rough" else 1.0), 2.5)) if worn else 0.0
    return Recipe(
        pixel_size_um=pixel_size_um,
        shape=shape,
        stroke_deg=float(rng.uniform(0, 180)),
        hone_angle_deg=_hone_angle_deg(rng),
        lays=1 if rng.random() < 0.08 else 2,
        finish=finish,
        section=str(rng.choice(["vee", "arc", "floor"], p=[0.35, 0.4, 0.25])),
        wall=float(np.tan(np.radians(slope_deg))),
        depth_um=float(np.clip(depth_um, 0.35, 2.4)),
        depth_spread=float(rng.uniform(0.35, 0.65)),
        deep_share=float(rng.choice([0.0, rng.uniform(0.05, 0.25)], p=[0.35, 0.65])),
        cover=float(cover * rng.uniform(0.6, 1.4)),
        burr_um=float(rng.uniform(0.05, 0.3)) if finish == "rough" and rng.random() < 0.7 else 0.0,
        dense=dense,
        roughness=float(np.exp(rng.uniform(np.log(0.06), np.log(0.4)))),
        worn=worn,
        border=border,
        cut_um=cut_um,
        load_waviness=float(rng.uniform(0.05, 0.35)),
        smear=_smear_amount(rng) if worn else 0.0,
        scuff=float(rng.beta(1.2, 2.5) * 0.29 + 0.02) if worn and rng.random() < 0.32 else 0.0,
        graphite=float(rng.choice([0.0, rng.uniform(0.2, 1.0)], p=[0.4, 0.6])),
    )
