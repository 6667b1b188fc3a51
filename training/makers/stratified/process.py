"""What kind of honing made the field: the numbers of the plateau process and of the valley process."""

from dataclasses import dataclass

import numpy as np

from .chance import log_uniform

KINDS = ("plateau", "single_stage", "slide_fine", "helical_slide")


@dataclass(frozen=True, kw_only=True)
class Process:
    """Angles in radians from the picture's row towards its column; lengths in um; cover is the share that both bands aim at."""

    name: str
    stroke_rad: float
    included_rad: float
    lays_rad: tuple[float, float]
    weaker: float
    plateau_um: float
    depth_um: float
    depth_spread: float
    width_um: float
    width_spread: float
    wall_rad: float
    cover: float
    grouped: bool
    bent: float
    ragged: float
    rim_um: float


def lays(stroke_rad: float, included_rad: float) -> tuple[float, float]:
    """The hone angle is bisected by the circumference, which lies across the stroke."""
    return stroke_rad + np.pi / 2 - included_rad / 2, stroke_rad + np.pi / 2 + included_rad / 2


def draw(rng: np.random.Generator, pixel_size_um: float, shape: tuple[int, int]) -> Process:
    name = str(rng.choice(KINDS, p=[0.5, 0.18, 0.14, 0.18]))
    stroke = (
        rng.choice([np.pi / 2, 0.0]) + np.radians(rng.normal(0, 6)) if rng.random() < 0.7 else rng.uniform(0, np.pi)
    )
    included = np.radians(rng.uniform(100, 150) if name == "helical_slide" else log_uniform(rng, 20, 110))
    field_um = min(shape) * pixel_size_um
    widest = min(45.0, 0.22 * field_um)
    narrowest = min(max(1.8, 4.0 * pixel_size_um), widest * 0.8)
    width = log_uniform(rng, narrowest, widest)
    wall = np.radians(log_uniform(rng, 8, 65))
    if rng.random() < 0.85:
        # most fields hold grooves that oil can lie in; a narrow cut reaches that depth only with steep walls
        wall = np.clip(wall, min(np.arctan(3.2 / width), np.radians(68)), np.radians(75))
    # a cut of given width and wall can be no deeper than its walls meet; deeper draws would be narrower cuts, not these
    depth = min(log_uniform(rng, 1.0, 8.0), 0.45 * width * np.tan(wall) + 0.5)
    cover = {
        "plateau": (0.15, 0.65),
        "single_stage": (0.4, 0.85),
        "slide_fine": (0.04, 0.2),
        "helical_slide": (0.15, 0.6),
    }[name]
    return Process(
        name=name,
        stroke_rad=float(stroke),
        included_rad=float(included),
        lays_rad=lays(float(stroke), float(included)),
        weaker=log_uniform(rng, 0.08, 1.0),
        plateau_um=log_uniform(rng, 0.02, 0.16) * (0.5 if name == "slide_fine" else 1.0),
        depth_um=max(depth, 0.7),
        depth_spread=rng.uniform(0.15, 0.7),
        width_um=width,
        width_spread=rng.uniform(0.1, 0.6),
        wall_rad=float(wall),
        cover=log_uniform(rng, *cover),
        grouped=bool(rng.random() < 0.35),
        bent=log_uniform(rng, 0.001, 0.05),
        ragged=log_uniform(rng, 0.01, 0.2),
        rim_um=log_uniform(rng, 0.02, 0.5),
    )
