"""The microscope's setting: voltage, detector, tilt, dose, and how strongly each mechanism of contrast speaks.

Range of electrons R[µm] = 0.0276 A E^1.67 / (Z^0.89 rho) (Kanaya, Okayama 1972): iron at 5/10/15/20 kV 0.16/0.50/0.99/1.60.
It sets how far from an edge extra electrons leave, and the width of the beam's tail.
"""

from dataclasses import dataclass

from .randomness import Rng, log_uniform

IRON_A, IRON_Z, IRON_DENSITY = 55.85, 26, 7.87


@dataclass(frozen=True, kw_only=True)
class Setting:
    """One setting, the same for all fields of a specimen.

    ``side``: 0 for a detector that looks from above alike to all sides, up to 1 for one at the side in ``azimuth_deg``;
    ``starving``: power on the share of directions free to leave a groove; ``edge``: extra yield at an edge; ``floor``: yield
    of a groove's floor relative to the plateau (films below 1, torn ground above); ``dose``: electrons counted a pixel on
    the plateau; ``tail``: share of the beam's tail.
    """

    kv: float
    detector: str
    side: float
    azimuth_deg: float
    tilt_deg: float
    starving: float
    edge: float
    floor: float
    secant_power: float
    dose: float
    lines: int
    core_px: float
    defocus_px: float
    tail: float
    jitter_px: float
    channelling: float
    film_tone: float
    middle_grey: float
    gain: float
    gamma: float


def electron_range_um(kv: float) -> float:
    """Return the range of electrons in iron, µm.

    >>> [round(electron_range_um(kv), 2) for kv in (5, 10, 15, 20)]
    [0.16, 0.5, 0.99, 1.6]
    """
    return 0.0276 * IRON_A * kv**1.67 / (IRON_Z**0.89 * IRON_DENSITY)


def draw_setting(rng: Rng) -> Setting:
    """Return a setting drawn at random."""
    symmetric = rng.random() < 0.35
    bright_floor = rng.random() < 0.22
    return Setting(
        kv=float(rng.choice([3, 5, 10, 15, 20], p=[0.08, 0.24, 0.28, 0.28, 0.12])),
        detector="SE in-lens" if symmetric else "SE",
        side=float(rng.uniform(0, 0.08) if symmetric else rng.uniform(0.2, 0.75)),
        azimuth_deg=float(rng.choice([90, 45, 135, 180, 0]) + rng.normal(0, 12)),
        tilt_deg=float(round(rng.uniform(2, 30)) if rng.random() < 0.3 else 0.0),
        starving=float(rng.uniform(1.2, 4.2)), edge=log_uniform(rng, 0.1, 0.6),
        floor=float(rng.uniform(1.05, 1.3) if bright_floor else rng.uniform(0.62, 0.97)),
        secant_power=float(rng.uniform(0.9, 1.6)), dose=log_uniform(rng, 45, 900), lines=int(rng.choice([1, 2, 4, 8])),
        core_px=float(rng.uniform(0.5, 1.0)), defocus_px=float(rng.uniform(0, 0.4)), tail=float(rng.uniform(0.06, 0.3)),
        jitter_px=float(rng.uniform(0.1, 0.45) if rng.random() < 0.25 else 0.0), channelling=float(rng.uniform(0, 0.03)),
        film_tone=float(rng.uniform(0.72, 0.95)), middle_grey=float(rng.uniform(0.3, 0.55)), gain=log_uniform(rng, 0.8, 1.4),
        gamma=float(rng.uniform(0.75, 1.25)),
    )  # fmt: skip
