"""What differs from one liner section and its test to the next.

Groove depth 1–10 µm, width 5–50 µm, included hone angle 30–60° or 140–150° (helical slide honing), valley share 15–30 %:
from memory, common ranges. Fields at high magnification show the narrow end, since grooves there must fit the field."""

from dataclasses import dataclass

import numpy as np

from .chance import between


@dataclass(frozen=True, kw_only=True)
class Hone:
    """The honed ground before the test; widths in px, heights in µm."""

    angle_deg: float
    lays: int
    width_px: float
    depth_um: float
    share: float
    spread: float
    power: float
    rim: float
    ragged: float
    striae: float
    finish_um: float
    finish_width_px: float
    rough_um: float
    floor_rough: float
    graphite: float
    pull_outs: float


@dataclass(frozen=True, kw_only=True)
class Run:
    """What the ring did: load and passes of the slider, how the metal takes it, scuffing."""

    truncation_um: float
    marks_um: float
    marks_width_px: float
    bite_um: float
    passes: int
    reciprocating: bool
    loss: float
    sheet_um: float
    reach_px: float
    fill_rate: float
    bridging: float
    contact_width_px: float
    sag: float
    skin: float
    lap_um: float
    skin_grey: float
    scuff: float
    scuff_strength: float


def draw_hone(rng: np.random.Generator, *, pixel_size_um: float, shape: tuple[int, int]) -> Hone:
    """One honing: rough and single-stage, plateau-honed, or very fine."""
    stage = rng.choice(["rough", "plateau", "fine"], p=[0.3, 0.5, 0.2])
    helical = rng.random() < 0.2
    depth_um = {"rough": between(rng, 1.0, 4.0), "plateau": between(rng, 1.2, 5.0), "fine": between(rng, 0.6, 1.4)}[
        stage
    ]
    width_px = depth_um / between(rng, 0.10, 0.30) / pixel_size_um
    width_px = float(np.clip(width_px, between(rng, 5.0, 9.0), between(rng, 0.03, 0.075) * min(shape)))
    depth_um = float(min(depth_um, between(rng, 0.28, 0.42) * width_px * pixel_size_um))
    texture = np.clip(pixel_size_um, 0.12, 2.2) ** 0.5
    dense = rng.random() < 0.3
    return Hone(
        angle_deg=rng.uniform(140, 150) if helical else rng.uniform(30, 60),
        lays=1 if rng.random() < 0.1 else 2,
        width_px=width_px,
        depth_um=depth_um,
        share={"rough": rng.uniform(0.25, 0.5), "plateau": rng.uniform(0.12, 0.32), "fine": rng.uniform(0.08, 0.25)}[
            stage
        ],
        spread=rng.uniform(0.3, 0.75),
        power=between(rng, 1.0, 4.0),
        rim=rng.uniform(0, 0.14),
        ragged=between(rng, 0.02, 0.1),
        striae=between(rng, 0.05, 0.3),
        finish_um=texture * (between(rng, 0.10, 0.25) if dense else between(rng, 0.02, 0.12)),
        finish_width_px=between(rng, 0.8, 2.5),
        rough_um=texture * between(rng, 0.012, 0.06),
        floor_rough=between(rng, 0.1, 1.2),
        graphite=rng.choice([0, rng.uniform(0.2, 1.0)]),
        pull_outs=rng.choice([0, rng.uniform(0.2, 1.0)], p=[0.4, 0.6]),
    )


def draw_run(rng: np.random.Generator, hone: Hone, *, pixel_size_um: float) -> Run:
    """One test: mild, heavy, or scuffing; loads and ductility are of the specimen."""
    texture = np.clip(pixel_size_um, 0.12, 2.2) ** 0.5
    mild, heavy = rng.random() < 0.3, rng.random() < 0.25
    return Run(
        truncation_um=float(min(between(rng, 0.04, 0.8), rng.uniform(0.1, 0.7) * hone.depth_um)),
        marks_um=texture * between(rng, 0.035, 0.2),
        marks_width_px=between(rng, 0.7, 3.0),
        bite_um=between(rng, 0.002, 0.012)
        if mild
        else min(between(rng, 0.06, 0.5), (0.35 if heavy else 0.25) * hone.depth_um),
        passes=int(rng.integers(5, 8) if heavy else rng.integers(2, 6)),
        reciprocating=bool(rng.random() < 0.7),
        loss=rng.uniform(0.02, 0.15) if heavy else rng.uniform(0.05, 0.4),
        sheet_um=between(rng, 0.07, 0.30),
        reach_px=hone.width_px * between(rng, 0.8, 6.0) * (2 if heavy else 1),
        fill_rate=between(rng, 0.12, 0.6),
        bridging=rng.uniform(0, 1),
        contact_width_px=max(between(rng, 0.3, 3.0) * hone.width_px, 4.0),
        skin=between(rng, 1.6, 6.0),
        sag=between(rng, 0.02, 0.3),
        lap_um=texture * between(rng, 0.12, 0.6),
        skin_grey=rng.choice([-1, 1]) * between(rng, 0.03, 0.16),
        scuff=float(rng.choice([0, rng.uniform(0.3, 1.0)], p=[0.6, 0.4])),
        scuff_strength=between(rng, 0.9, 3.0),
    )
