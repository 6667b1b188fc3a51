"""The draw of one field: what it is of, how it is worn, and the settings of the picture."""

from dataclasses import dataclass

import numpy as np

from .beam import View
from .camera import Settings

FAINT = ("low", "noisy", "soft", "uneven", "rims", "mirror", "onelay", "narrow")


@dataclass(frozen=True)
class Scene:
    """theme: crisp or one of FAINT; across_deg: direction across the stroke; included_deg: hone angle; covers: share of ground
    of each lay; widths_um: of grooves; wear: none, border or all; smear, scuff: 0, 1, or 2 (scuff only) for heavily."""

    theme: str
    across_deg: float
    included_deg: float
    covers: tuple[float, float]
    widths_um: tuple[float, float]
    wear: str
    smear: bool
    scuff: int


def _log(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def draw_scene(rng: np.random.Generator, pixel_size_um: float, side_um: float) -> Scene:
    """What a field whose shorter side is side_um shows."""
    theme = "crisp" if rng.random() < 0.35 else str(rng.choice(FAINT))
    across = rng.uniform(0, 180) if rng.random() < 0.25 else rng.choice([0.0, 90.0]) + rng.normal(0, 5)
    narrowest = max(4.0, 3.0 * pixel_size_um)
    widest = min(60.0, max(1.5 * narrowest, 0.09 * side_um))
    middle = _log(rng, narrowest, widest)
    if theme == "narrow":
        middle, widest = narrowest, max(5 * pixel_size_um, 1.2 * narrowest)
    cover = _log(rng, 0.12, 0.6)
    weak = _log(rng, 0.02, 0.2) if theme == "onelay" else _log(rng, 0.2, 1.0)
    if theme == "mirror":
        cover = _log(rng, 0.01, 0.08)
    covers = (cover, cover * weak) if rng.random() < 0.5 else (cover * weak, cover)
    wear = str(rng.choice(["none", "border", "all"], p=[0.4, 0.12, 0.48]))
    worn = wear != "none"
    scuff = int(worn and rng.random() < 0.25) * int(rng.integers(1, 3))
    return Scene(
        theme, float(across), float(rng.uniform(20, 150)), covers,
        (max(narrowest, middle / 2), min(60.0, max(middle * 2, 1.3 * narrowest)) if theme != "narrow" else widest),
        wear, bool(worn and rng.random() < 0.6), scuff,
    )  # fmt: skip


def draw_view(rng: np.random.Generator, theme: str) -> View:
    """Which electrons are collected, and from where."""
    return View(
        backscattered=bool(rng.random() < 0.3),
        side_deg=float(rng.uniform(0, 360)),
        one_sided=_log(rng, 0.1, 0.9),
        edge=_log(rng, 0.1, 0.5) if theme == "rims" else _log(rng, 0.03, 0.35),
        starving=0.05 if theme == "rims" else _log(rng, 0.2, 4.0),
        carbon=0.0 if theme == "rims" or rng.random() < 0.3 else float(rng.uniform(0.1, 0.9)),
    )


def draw_settings(rng: np.random.Generator, theme: str, groove_px: float) -> Settings:
    """The instrument's settings over grooves groove_px wide; faint states stay within what averaging along a groove shows."""
    crisp = theme == "crisp"
    levels = _log(rng, 25, 75) if crisp else _log(rng, 6, 25) if theme in ("low", "rims") else _log(rng, 9, 25)
    ratio = _log(rng, 3, 12) if crisp else _log(rng, 0.6, 1.5) if theme == "noisy" else _log(rng, 1.0, 4.0)
    ratio = max(ratio, 2.5 / np.sqrt(groove_px))
    blur = _log(rng, 1.1, 2.4) if theme == "soft" else _log(rng, 0.4, 0.9) if crisp else _log(rng, 0.5, 1.4)
    uneven = _log(rng, 15, 60) if theme == "uneven" else _log(rng, 0.5, 10) if crisp else _log(rng, 2, 20)
    stripes = (0.25 * levels * rng.random()) if rng.random() < (0.15 if crisp else 0.4) else 0.0
    return Settings(
        levels=levels,
        blur_px=min(blur, max(0.45, groove_px / 3)),
        noise=max(0.6, levels / ratio),
        uneven=uneven,
        stripes=stripes,
        jitter_px=_log(rng, 0.05, 0.5) if rng.random() < 0.3 else 0.0,
        quality=int(rng.integers(55, 93)) if rng.random() < 0.25 else 0,
        gamma=_log(rng, 0.8, 1.25),
        middle=float(rng.uniform(75, 175)),
    )
