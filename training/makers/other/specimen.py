"""What a specimen is: its finish, its wear and the microscope's setting for the session; the same for all its fields.

Everything is drawn in µm. Ranges are common practice and memory, no source: groove width 4–40 µm, depth 1–7 µm,
included hone angle 25–65° or, for helical slide honing, 110–150°.
"""

from dataclasses import dataclass

import numpy as np

SHAPES = ((960, 1280), (768, 1024), (1536, 2048), (480, 640), (1024, 1280), (884, 1024), (960, 1280), (712, 1024))
"""(rows, cols) of the whole micrograph file, data strip included where it takes the picture's place."""

FINISHES = ("plateau", "coarse", "helical", "fine")
WEARS = ("mild", "closed", "shallow", "scuffed", "even")


@dataclass(frozen=True, kw_only=True)
class Specimen:
    """One liner section and the session in which its fields were taken.

    Directions in degrees in [0, 180), 0 along a row, anticlockwise on the screen. ``closing`` holds the relative
    frequency of the five kinds of smear: cap, bridge, lip, fold, burnished strip.
    """

    name: str
    finish: str
    wear: str
    metal: str
    shape: tuple[int, int]
    pixel_size_um: float
    stroke_deg: float
    hone_angle_deg: float
    lays_deg: tuple[float, float]
    valley_shares: tuple[float, float]
    width_um: float
    width_spread: float
    depth_um: float
    bowl: float
    burr_um: float
    marks_um: float
    floor_rough_um: float
    land_rough_um: float
    shallow_um: float
    closed_share: float
    scuff_share: float
    closing: tuple[float, float, float, float, float]
    closing_bands: float
    wrong_way_scratches_per_mm: float
    kv: float
    detector: str
    tilt_deg: float
    hard: bool


def draw_specimen(name: str, rng: np.random.Generator) -> Specimen:
    """Draw one specimen."""
    finish = str(rng.choice(FINISHES, p=(0.42, 0.2, 0.18, 0.2)))
    shape = SHAPES[int(rng.choice(len(SHAPES), p=(0.3, 0.16, 0.05, 0.09, 0.1, 0.1, 0.1, 0.1)))]
    width_um = {
        "plateau": rng.uniform(8, 26),
        "coarse": rng.uniform(12, 38),
        "helical": rng.uniform(6, 20),
        "fine": rng.uniform(4, 10),
    }[finish]
    depth_um = float(np.clip(width_um * rng.uniform(0.1, 0.24), 1.3, 7.0))
    width_px = np.exp(rng.uniform(np.log(7), np.log(28))) * min(shape[1] / 1100, 1.15)
    pixel_size_um = float(np.clip(width_um / max(width_px, 5.0), 0.1, 2.0))
    angle = rng.uniform(110, 150) if finish == "helical" else rng.uniform(25, 65)
    stroke = rng.choice([90.0, 0.0]) + rng.normal(0, 3) if rng.random() < 0.75 else rng.uniform(0, 180)
    share = {"plateau": (0.1, 0.26), "coarse": (0.24, 0.36), "helical": (0.1, 0.24), "fine": (0.12, 0.3)}[finish]
    valley, balance = rng.uniform(*share), rng.uniform(0.35, 0.5)
    shares = (valley * balance, valley * (1 - balance))
    wear = str(rng.choice(WEARS, p=(0.16, 0.44, 0.1, 0.2, 0.1)))
    closed = {
        "mild": (0.03, 0.15),
        "closed": (0.25, 0.75),
        "shallow": (0.0, 0.15),
        "scuffed": (0.15, 0.5),
        "even": (0.0, 0.02),
    }
    loss = {
        "mild": (0.0, 0.2),
        "closed": (0.0, 0.35),
        "shallow": (0.3, 0.65),
        "scuffed": (0.05, 0.4),
        "even": (0.1, 0.3),
    }
    kinds = rng.dirichlet([0.9] * 5)
    return Specimen(
        name=name,
        finish=finish,
        wear=wear,
        metal=str(rng.choice(["flake iron", "steel", "porous coat"], p=(0.55, 0.25, 0.2))),
        shape=shape,
        pixel_size_um=round(pixel_size_um, 4),
        stroke_deg=float(stroke % 180),
        hone_angle_deg=float(angle),
        lays_deg=tuple(float((stroke + 90 + side * angle / 2) % 180) for side in (-1, 1)),
        valley_shares=shares if rng.random() < 0.5 else shares[::-1],
        width_um=float(width_um),
        width_spread=float(rng.uniform(0.15, 0.45)),
        depth_um=depth_um,
        bowl=float(rng.uniform(1.8, 4.0)),
        burr_um=float(rng.uniform(0.0, 0.35)),
        marks_um=float(rng.uniform(0.02, 0.13)),
        floor_rough_um=float(rng.uniform(0.12, 0.4)),
        land_rough_um=float(rng.uniform(0.01, 0.06)),
        shallow_um=float(depth_um * rng.uniform(*loss[wear])),
        closed_share=float(rng.uniform(*closed[wear])),
        scuff_share=float(rng.uniform(0.06, 0.35)) if wear == "scuffed" else 0.0,
        closing=tuple(float(kind) for kind in kinds),
        closing_bands=float(rng.uniform(0, 1)),
        wrong_way_scratches_per_mm=float(rng.uniform(0, 6)),
        kv=float(rng.choice([5, 10, 15, 20, 25])),
        detector=str(rng.choice(["SE", "BSE"], p=(0.85, 0.15))),
        tilt_deg=float(rng.choice([0, 0, 0, 0, 5, 10])),
        hard=bool(rng.random() < 0.11),
    )
