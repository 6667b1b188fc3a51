"""What tones follow from physics, and the drawn look of a field: depth enters a picture as contrast alone."""

from dataclasses import dataclass

import numpy as np

from .texture import loguniform

IRON, CARBON = (26, 55.85, 7.87), (6, 12.01, 2.26)
"""Atomic number, atomic weight, density in g/cm³ (handbook values, from memory)."""


def electron_range_um(voltage_kv: float, element: tuple[int, float, float] = IRON) -> float:
    """Range of beam electrons (Kanaya, Okayama 1972)."""
    number, weight, density = element
    return 0.0276 * weight * voltage_kv**1.67 / (number**0.89 * density)


def backscatter(number: float) -> float:
    """Backscatter coefficient of an element at normal incidence (Reuter's fit)."""
    return -0.0254 + 0.016 * number - 1.86e-4 * number**2 + 8.3e-7 * number**3


def tilt_gain(slope_deg: float | np.ndarray) -> float | np.ndarray:
    """Secondaries of a sloping wall over those of flat ground, less one."""
    return 1 / np.cos(np.deg2rad(slope_deg)) - 1


@dataclass(frozen=True)
class Look:
    """Tones are in units of the plateau's grey; lengths in µm unless named px. detector: unit (x, y) towards it."""

    mode: str
    backscattered: bool
    plateau: float
    detector: tuple[float, float]
    floor: float
    depth_scale_um: float
    wall: float
    tilt: float
    rim: float
    rim_um: float
    torn_rim: float
    rough: float
    lines: float
    filled: float
    film: float
    sunk: float
    striae: float
    seam: float
    lip: float
    graphite: float


def drawn_look(rng: np.random.Generator, pixel_size_um: float) -> Look:
    """One of five ways in which valleys stand out, and every tone of it."""
    mode = str(rng.choice(["dark", "bright", "walls", "rims", "mixed"], p=[0.42, 0.14, 0.16, 0.12, 0.16]))
    backscattered = rng.uniform() < 0.25
    turn = rng.uniform(0, 2 * np.pi)
    voltage_kv = loguniform(rng, 3, 25)
    floor = {"dark": -1, "bright": 1, "walls": 0, "rims": 0, "mixed": rng.choice([-1, 1])}[mode] * loguniform(rng, 0.1, 0.6)
    wall = loguniform(rng, 0.8, 2.5) if mode == "walls" else loguniform(rng, 0.1, 0.9)
    rim = loguniform(rng, 0.15, 0.5) if mode in ("rims", "mixed") else rng.uniform(0, 0.3)
    dark_of_carbon = 1 - backscatter(CARBON[0]) / backscatter(IRON[0])
    return Look(
        mode=mode,
        backscattered=backscattered,
        plateau=rng.uniform(0.8, 1.2),
        detector=(float(np.cos(turn)), float(np.sin(turn))),
        floor=float(floor + rng.uniform(-0.04, 0.04)),
        depth_scale_um=loguniform(rng, 0.3, 1.2),
        wall=wall,
        tilt=0.0 if backscattered else rng.uniform(0.7, 2.0),
        rim=rim * (0.4 if backscattered else 1.0),
        # an edge glows over the depth from which electrons still come out; one pixel at the least is drawn
        rim_um=max(rng.uniform(0.4, 1.2) * electron_range_um(voltage_kv), 0.6 * pixel_size_um),
        torn_rim=rng.uniform(0, 1.2),
        rough=(loguniform(rng, 0.08, 0.25) if mode == "rims" else loguniform(rng, 0.015, 0.18)),
        lines=loguniform(rng, 0.01, 0.15),
        filled=rng.choice([0.0, rng.uniform(0.1, 0.5)]),
        film=float(rng.normal(0, 0.06)),
        sunk=rng.uniform(0, 0.25),
        striae=loguniform(rng, 0.015, 0.12),
        seam=rng.choice([-1, -1, 1]) * loguniform(rng, 0.06, 0.4),
        lip=rng.choice([-1, 1, 1]) * loguniform(rng, 0.06, 0.4),
        graphite=-dark_of_carbon * (rng.uniform(0.6, 1) if backscattered else rng.uniform(0.25, 0.9)),
    )
