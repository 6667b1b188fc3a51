"""The section of a field: its finish, how it lies under the microscope, and where the ring ran."""

from dataclasses import dataclass

import numpy as np

from tests.leading_maker.kept import Kept
from tests.leading_maker.noise import F, blur, noise

STAGES = ("unworn", "worn", "worn smeared", "worn smeared scuffed", "worn scuffed")
SHARES = (0.40, 0.13, 0.25, 0.16, 0.06)


@dataclass(frozen=True, kw_only=True)
class Section:
    """One field's section.

    px: µm a pixel; phi: turn of the section on the stub and half: half the hone angle, radians; stroke: direction of the
    stroke, radians; u, v: (rows, cols) µm across and along the stroke; xx, yy: (rows, cols) px; ext: µm of the shorter side.
    """

    px: float
    shape: tuple[int, int]
    stage: str
    smears: bool
    family: str
    phi: float
    half: float
    u: np.ndarray
    v: np.ndarray
    xx: np.ndarray
    yy: np.ndarray

    @property
    def is_worn(self) -> bool:
        return self.stage != "unworn"

    @property
    def scuffs(self) -> bool:
        return "scuffed" in self.stage

    @property
    def stroke(self) -> float:
        return np.pi / 2 + self.phi

    @property
    def ext(self) -> float:
        return min(self.shape) * self.px


@dataclass(frozen=True, kw_only=True)
class Track:
    """Where the ring ran, (rows, cols): worn bool; soft: 0-1 float; bands: unit noise of the contact's bands along the
    stroke; wear: µm worn off; wear_um: its level."""

    worn: np.ndarray
    soft: np.ndarray
    bands: np.ndarray
    wear: np.ndarray
    wear_um: float


def cut_section(kept: Kept, stage: str, px: float, shape: tuple[int, int]) -> Section:
    """Lay a section of the specimen under the microscope; a few unworn ones have metal folded over by the honing itself.

    Included hone angles 30-60° are usual, 140-150° for helical slide honing [M, tests/SOURCES.md]; 28-64° and 136-152° here.
    """
    rows, cols = shape
    yy, xx = np.mgrid[0:rows, 0:cols].astype(F)
    smears = "smeared" in stage or (stage == "unworn" and kept("folded by honing").random() < 0.2)
    family = draw_family(kept)
    phi, half = turn(kept), half_angle(kept, family)
    u = ((xx - cols / 2) * np.cos(phi) + (yy - rows / 2) * np.sin(phi)) * px
    v = (-(xx - cols / 2) * np.sin(phi) + (yy - rows / 2) * np.cos(phi)) * px
    return Section(
        px=px, shape=shape, stage=stage, smears=smears, family=family, phi=phi, half=half, u=u, v=v, xx=xx, yy=yy
    )


def draw_family(kept: Kept) -> str:
    """Return the finish: plateau-honed, of a single stage, or honed by helical slide."""
    return str(kept("family").choice(["plateau-honed", "single-stage", "helical-slide"], p=[0.5, 0.28, 0.22]))


def turn(kept: Kept) -> float:
    """Return the turn of the section on the stub, radians."""
    return np.deg2rad(kept("turn").normal(0, 3.5))


def half_angle(kept: Kept, family: str) -> float:
    """Return half the included hone angle, bisected by the direction across the stroke, radians."""
    return np.deg2rad(kept("angle").uniform(68, 76) if family == "helical-slide" else kept("angle").uniform(14, 32))


def run_track(rng: np.random.Generator, kept: Kept, s: Section, may_end: bool) -> Track:
    """Return where the ring ran; where ``may_end``, the track's side or its turning point may cross the field."""
    (rows, cols), px = s.shape, s.px
    worn = np.full(s.shape, bool(s.is_worn))
    if may_end and s.is_worn and rng.random() < 0.16:
        n = noise(rng, s.shape, s.stroke, 120 / px, 25 / px)
        if rng.random() < 0.7:
            edge = rng.uniform(-0.3, 0.3) * cols * px
            worn = (s.u - edge + 2.0 * n) * rng.choice([-1, 1]) > 0
        else:
            edge = rng.uniform(-0.3, 0.3) * rows * px
            fray = 6.0 * noise(rng, s.shape, s.stroke, 12 / px, 4 / px)
            worn = (s.v - edge + fray + 4 * n) * rng.choice([-1, 1]) > 0
    soft = blur(worn.astype(F), max(2.0 / px, 1))
    wear_um = kept("wear").gamma(2.0, 0.3) if s.is_worn else 0.0
    wear_um = min(wear_um, 1.6)
    bands = noise(rng, s.shape, s.stroke, 2.5 * s.ext / px, kept("bands").uniform(0.06, 0.25) * s.ext / px)
    wear = soft * F(wear_um) * np.clip(1 + 0.3 * bands, 0.2, 2)
    return Track(worn=worn, soft=soft, bands=bands, wear=wear, wear_um=wear_um)
