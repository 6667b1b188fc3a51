"""The finish of a section: one or two processes or helical slide honing, its angle and its grooves' figures."""

from dataclasses import dataclass

import numpy as np

from tests.microscope_maker.figures import Figures

FINISHES = ("plateau", "single", "slide")
WIDTHS_UM = {"plateau": (9, 18), "single": (6, 13), "slide": (6, 12)}
MARKS_UM = {"plateau": (0.05, 0.17), "single": (0.10, 0.24), "slide": (0.04, 0.14)}


@dataclass(frozen=True, kw_only=True)
class Hone:
    """alpha_deg: hone angle; share: of area; width_um: median; slope: depth over width; form: exponent of the section;
    rimmed: height of burrs, µm; ragged: of the rims, in half widths; balance: share of the first lay."""

    alpha_deg: float
    share: float
    width_um: float
    slope: float
    form: float
    rimmed: float
    ragged: float
    balance: float


def draw_finish(own: Figures) -> str:
    """Return the finish's name."""
    return str(own["finish"].choice(FINISHES, p=[0.55, 0.22, 0.23]))


def draw_angle_deg(own: Figures, finish: str) -> float:
    """Return the included hone angle, bisected by the direction across the stroke, degrees.

    30-60° are usual, 140-150° for helical slide honing [M, tests/SOURCES.md].
    """
    return own["angle"].uniform(140, 150) if finish == "slide" else own["angle"].uniform(30, 62)


def draw_lay_deg(own: Figures, alpha_deg: float, side: int, tilt_deg: float) -> float:
    """Return one lay's direction, degrees from the rows towards the lower edge; side: 1 or -1."""
    return side * (alpha_deg / 2 + own[f"lay {side}"].normal(0, 1.5)) - tilt_deg


def draw_hone(own: Figures, finish: str, field_um: float) -> Hone:
    """Draw the grooves' figures for fields ``field_um`` wide."""
    alpha = draw_angle_deg(own, finish)
    share = own["share"].uniform(0.09, 0.32) * (1.15 if finish == "single" else 1.0)
    width = {name: own[f"width {name}"].uniform(*limits) for name, limits in WIDTHS_UM.items()}[finish]
    width *= np.clip((field_um / 260) ** 0.25, 0.75, 1.25)
    slope, form = own["slope"].uniform(0.16, 0.34), own["form"].uniform(1.3, 4.0)
    rimmed = own["rims"].uniform(0.0, 0.16) * (2.0 if finish == "single" else 1.0)
    return Hone(
        alpha_deg=alpha, share=share, width_um=width, slope=slope, form=form, rimmed=rimmed,
        ragged=own["ragged"].uniform(0.03, 0.16), balance=np.clip(own["balance"].normal(0.5, 0.12), 0.2, 0.8),
    )  # fmt: skip
