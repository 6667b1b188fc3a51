"""Which grooves the stones cut: two lays about the stroke, their balance, spacing, groups, waves and ends."""

from dataclasses import dataclass

import numpy as np

from .profile import Section, drawn_section


@dataclass(frozen=True)
class Groove:
    """One groove: its section, direction in degrees (from +column towards +row), offset of its middle line from the field's
    middle in µm, waves as (amplitude µm, length µm, phase), first and last position along it in µm, length of fading in µm,
    and how torn its rims are (0 to 1)."""

    section: Section
    along_deg: float
    offset_um: float
    waves: tuple[tuple[float, float, float], ...]
    first_um: float
    last_um: float
    fade_um: float
    torn: float


def lays(across_deg: float, included_deg: float) -> tuple[float, float]:
    """Directions in degrees of the two lays, bisected by the direction across the stroke."""
    return across_deg - included_deg / 2, across_deg + included_deg / 2


def _offsets(rng: np.random.Generator, count: int, reach_um: float, width_um: float) -> np.ndarray:
    """Offsets in µm: scattered, or in groups as a coarse grain with neighbours leaves them."""
    if rng.random() < 0.55:
        return rng.uniform(-reach_um, reach_um, count)
    homes = rng.uniform(-reach_um, reach_um, max(1, count // int(rng.integers(2, 6))))
    return rng.choice(homes, count) + rng.normal(0, width_um * rng.uniform(1, 4), count)


def cut(
    rng: np.random.Generator,
    *,
    lay_deg: tuple[float, float],
    covers: tuple[float, float],
    widths_um: tuple[float, float],
    reach_um: float,
    pixel_size_um: float,
) -> list[Groove]:
    """The grooves of both lays: covers the share of the ground that each lay takes, widths_um the narrowest and widest groove,
    reach_um half the field's diagonal."""
    grooves = []
    torn, bold, wavy = rng.random() ** 2, rng.uniform(0.2, 1.0), np.exp(rng.uniform(-6, -2.5))
    short = rng.choice([0.05, 0.3, 0.7])
    for along, cover in zip(lay_deg, covers, strict=True):
        middle = np.exp(rng.uniform(*np.log(widths_um)))
        count = int(min(90, max(rng.random() < 0.7, cover * 2 * reach_um / middle)))
        turn = rng.uniform(0.1, 2.0)
        for offset in _offsets(rng, count, reach_um, middle):
            width = float(np.clip(middle * np.exp(rng.normal(0, 0.35)), *widths_um))
            ends = [-9 * reach_um, 9 * reach_um]
            if rng.random() < short:
                ends[int(rng.integers(2))] = rng.uniform(-0.9, 0.9) * reach_um
            waves = tuple(
                (wavy * length / 6 * rng.uniform(0.2, 1), length, rng.uniform(0, 2 * np.pi))
                for length in np.exp(rng.uniform(np.log(40 * pixel_size_um), np.log(4 * reach_um), 2))
            )
            grooves.append(
                Groove(
                    drawn_section(rng, width, bold),
                    float(along + rng.normal(0, turn)),
                    float(offset),
                    waves,
                    *sorted(ends),
                    float(width * np.exp(rng.uniform(0, 2.5))),
                    torn,
                )
            )
    return grooves
