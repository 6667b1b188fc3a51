"""What one specimen is: its finish, lays, stroke, wear and microscope setting.

Ranges from the figures of the trade: included hone angle 30-60°, helical slide honing 140-150°; groove width 5-50 µm,
depth 1-10 µm, wall slope 6-27°; share of valleys 15-30 % (all from memory). Here the width is also at least 5 px.
"""

from dataclasses import dataclass

import numpy as np

from tests.sheet_maker.noise import Rng

WIDTH_UM = (5.0, 50.0)
SLOPE_DEG = (6.0, 27.0)
DEPTH_UM = (0.3, 10.0)


@dataclass(frozen=True, kw_only=True)
class Finish:
    """Population of hone grooves: lognormal width, slope of walls, covered share, and the second, finer tool."""

    name: str
    width_um: tuple[float, float]
    spread: float
    slope_deg: tuple[float, float]
    covered: tuple[float, float]
    ridges: float
    fine_depth_um: float
    fine_covered: float


FINISHES = (
    Finish(name="rough single-stage", width_um=(9, 22), spread=0.55, slope_deg=(8, 16), covered=(0.3, 0.46),
           ridges=0.8, fine_depth_um=0.30, fine_covered=0.9),
    Finish(name="plateau", width_um=(11, 26), spread=0.45, slope_deg=(9, 20), covered=(0.2, 0.37),
           ridges=0.12, fine_depth_um=0.16, fine_covered=0.8),
    Finish(name="fine plateau", width_um=(7, 13), spread=0.35, slope_deg=(12, 23), covered=(0.2, 0.36),
           ridges=0.1, fine_depth_um=0.12, fine_covered=1.0),
    Finish(name="very fine", width_um=(5.5, 8), spread=0.25, slope_deg=(14, 25), covered=(0.14, 0.3),
           ridges=0.15, fine_depth_um=0.10, fine_covered=1.3),
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Specimen:
    """One liner section and the way it is looked at; all that its fields share."""

    name: str
    finish: Finish
    pixel_size_um: float
    shape: tuple[int, int]
    stroke_deg: float
    hone_angle_deg: float
    lays_deg: tuple[float, ...]
    lay_shares: tuple[float, ...]
    width_um: float
    slope_deg: float
    covered: float
    graphite: float
    pull_outs: float
    lined: float
    torn: float
    cut_um: float
    stroke_marks: float
    closed: float
    kinds: tuple[float, ...]
    trace: float
    scuffed: float
    scuff_strength: float
    kv: float
    detector: str
    tilt_deg: float
    detector_deg: float
    one_sided: float
    floor_tone: float
    floor_uneven: float
    glow: float
    relief: float
    gain: float
    gamma: float
    level: float
    electrons: float
    electronic_noise: float
    blur_px: float


def draw_specimen(rng: Rng, name: str, scale: float = 1.0) -> Specimen:
    """Draw a specimen; ``scale`` makes its pictures smaller (for quick checks)."""
    finish = FINISHES[rng.choice(4, p=(0.22, 0.36, 0.26, 0.16))]
    pixel_um = float(np.exp(rng.uniform(np.log(0.15), np.log(1.5))))
    if finish.width_um[1] < 6 * pixel_um:
        finish = FINISHES[rng.integers(0, 2)]
    width_um = float(np.clip(max(rng.uniform(*finish.width_um), rng.uniform(6, 9) * pixel_um), *WIDTH_UM))
    width_um = min(width_um, max(rng.uniform(25, 55) * pixel_um, 5.5))
    stroke = float(rng.choice((90, 0, rng.uniform(0, 180)), p=(0.55, 0.2, 0.25)) + rng.normal(0, 2)) % 180
    helical = rng.random() < 0.14
    hone = float(rng.uniform(140, 150) if helical else rng.uniform(30, 60))
    lays = tuple((stroke + 90 + side * hone / 2) % 180 for side in (1, -1))
    single = rng.random() < 0.1
    share = float(rng.uniform(0.35, 0.65))
    kinds = rng.dirichlet((1.2, 1.0, 1.0, 0.8, 0.9, 0.6))
    level = rng.choice(3, p=(0.22, 0.38, 0.4))
    closed = (rng.uniform(0, 0.06), rng.uniform(0.1, 0.42), rng.uniform(0.5, 0.97))[level]
    scuffs = rng.random() < 0.4
    one_sided = float(rng.choice((rng.uniform(0.0, 0.12), rng.uniform(0.3, 0.9)), p=(0.35, 0.65)))
    cols = int(rng.integers(1000, 1601) * scale)
    floor = rng.choice(3, p=(0.5, 0.32, 0.18) if one_sided > 0.2 else (0.75, 0.0, 0.25))
    return Specimen(
        name=name, finish=finish, pixel_size_um=pixel_um, shape=(int(cols * rng.uniform(0.66, 0.8)), cols),
        stroke_deg=stroke, hone_angle_deg=hone, lays_deg=lays[:1] if single else lays,
        lay_shares=(1.0,) if single else (share, 1 - share),
        width_um=width_um, slope_deg=float(rng.uniform(*finish.slope_deg)), covered=float(rng.uniform(*finish.covered)),
        graphite=float(rng.choice((0, rng.uniform(0.3, 1.5)), p=(0.3, 0.7))), pull_outs=float(rng.uniform(0, 1)),
        lined=float(rng.uniform(0.08, 0.3)), torn=float(rng.uniform(0.1, 0.65)),
        cut_um=float(rng.uniform(0.05, 0.6) * (0.4 if finish.name == "very fine" else 1)),
        stroke_marks=float(rng.uniform(0.15, 1.0)), closed=float(closed), kinds=tuple(float(k) for k in kinds),
        trace=float(rng.uniform(0.5, 1.3)),
        scuffed=float(rng.uniform(0.02, 0.3)) if scuffs else 0.0, scuff_strength=float(rng.uniform(0.5, 1.15)),
        kv=float(rng.choice((5, 10, 15, 20))), detector="symmetric" if one_sided < 0.2 else "side",
        tilt_deg=float(rng.choice((0, rng.integers(5, 31)), p=(0.65, 0.35))), detector_deg=float(rng.uniform(0, 360)),
        one_sided=one_sided, floor_tone=float((rng.uniform(0.58, 0.88), rng.uniform(0.9, 0.98), rng.uniform(1.14, 1.4))[floor]),
        floor_uneven=float(rng.uniform(0.15, 0.7)),
        glow=float(rng.uniform(0.2, 0.8)), relief=float(rng.uniform(0.9, 1.6)), gain=float(rng.uniform(0.9, 1.9)),
        gamma=float(rng.uniform(0.8, 1.25)), level=float(rng.uniform(0.36, 0.55)),
        electrons=float(np.exp(rng.uniform(np.log(60), np.log(1200)))), electronic_noise=float(rng.uniform(0.005, 0.02)),
        blur_px=float(rng.uniform(0.45, 0.95)),
    )  # fmt: skip
