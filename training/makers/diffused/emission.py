"""From ground and matter to a signal: sharp secondaries, broad ones made by electrons on their way out, and backscatter."""

from dataclasses import dataclass

import numpy as np

from .frame import log_uniform
from .transport import (
    CARBON_NUMBER,
    IRON,
    OXIDE_NUMBER,
    backscattered,
    diffuse,
    escape,
    horizon,
    range_um,
    secant,
    slopes,
)

IN_LENS, SIDE, BACKSCATTER, MIXED = "in-lens", "side", "backscatter", "mixed"


@dataclass(frozen=True, kw_only=True)
class Detector:
    """azimuth_deg clockwise from the rows' direction; lift is the tangent of its height above the ground; pull 0–1 of slow
    electrons drawn around corners; weights of the signals: sharp (SE1), broad (SE2) and backscatter."""

    kind: str
    energy_kv: float
    azimuth_deg: float
    lift: float
    pull: float
    sharp: float
    broad: float
    back: float


def draw_detector(rng: np.random.Generator) -> Detector:
    """Which detector, at which side and energy (common practice, no source)."""
    kind = str(rng.choice([IN_LENS, SIDE, BACKSCATTER, MIXED], p=[0.2, 0.4, 0.15, 0.25]))
    sharp, broad, back = {
        IN_LENS: (1.0, rng.uniform(0.1, 0.6), 0.0),
        SIDE: (rng.uniform(0.3, 0.8), rng.uniform(0.4, 1), rng.uniform(0, 0.3)),
        BACKSCATTER: (0.0, rng.uniform(0, 0.15), 1.0),
        MIXED: (rng.uniform(0.1, 0.8), rng.uniform(0.2, 1), rng.uniform(0.2, 1)),
    }[kind]
    return Detector(
        kind=kind,
        energy_kv=log_uniform(rng, 4, 28),
        azimuth_deg=rng.uniform(0, 360),
        lift=0.0 if kind == IN_LENS else log_uniform(rng, 0.08, 0.8),
        pull=1.0 if kind == IN_LENS else rng.uniform(0.1, 0.9),
        sharp=sharp,
        broad=broad,
        back=back,
    )


def towards(gradient: tuple[np.ndarray, np.ndarray], azimuth_deg: float) -> np.ndarray:
    """How far the ground faces azimuth_deg: minus the rise that way, as a sine-like number in -1…1."""
    cos, sin = np.cos(np.radians(azimuth_deg)), np.sin(np.radians(azimuth_deg))
    rise = gradient[0] * np.float32(cos) + gradient[1] * np.float32(sin)
    return -rise / np.sqrt(1 + rise * rise)


def emit(
    rng: np.random.Generator,
    height_um: np.ndarray,
    carbon: np.ndarray,
    oxide: np.ndarray,
    detector: Detector,
    pixel_um: float,
) -> np.ndarray:
    """Signal, about 1 on flat clean iron. The secondaries' own escape depth of nanometres is far below a pixel, so SE1 is not diffused."""
    reach = range_um(detector.energy_kv, **IRON)
    gradient = slopes(height_um, pixel_um)
    lean = towards(gradient, detector.azimuth_deg)
    free = escape(height_um, pixel_um, log_uniform(rng, 8, 60))
    # Slow electrons starve in deep grooves: each hit of a wall takes some, hence a power of the open sky.
    free = free ** np.float32(rng.uniform(1.0, 5.0))
    steps = sorted({max(int(round(far / pixel_um)), 1) for far in (0.5, 1.5, 4, 10, 25)})
    rise = horizon(height_um, pixel_um, detector.azimuth_deg, steps)
    lit = 1 / (1 + np.exp(np.clip((rise - max(detector.lift, 0.05)) / (0.25 * detector.lift + 0.02), -12, 12)))
    seen = detector.pull + (1 - detector.pull) * lit

    yield_of = 1 - rng.uniform(0.2, 0.65) * carbon + rng.uniform(-0.2, 0.45) * oxide
    eta_iron = backscattered(IRON["number"])
    eta = 1 + (backscattered(CARBON_NUMBER) / eta_iron - 1) * carbon
    eta += (backscattered(OXIDE_NUMBER) / eta_iron - 1) * oxide * (1 - carbon)

    power = rng.uniform(0.8, 1.4)
    # Near an edge electrons also leave through the wall: what stands above its neighbourhood within the range shines.
    edge = np.clip(
        (height_um - diffuse(height_um, max(0.5 * reach, 0.7 * pixel_um), pixel_um)) / max(reach, 0.3 * pixel_um),
        -0.6,
        1.2,
    )
    sharp = secant(gradient, power) * yield_of * free * (1 + rng.uniform(0.3, 1.5) * edge) * seen
    broad = (
        diffuse(eta * secant(gradient, 1.0) * (1 + rng.uniform(0.2, 1) * edge), 0.35 * reach, pixel_um)
        * free
        * yield_of
        * seen
    )
    # Walls catch fast electrons too, those that leave at a low angle.
    back = diffuse(eta * (0.4 + 0.6 * lit) * np.sqrt(free), 0.25 * reach, pixel_um)
    strength = 0.1 if detector.kind == IN_LENS else rng.uniform(0.3, 1.8)
    sharp *= np.clip(1 + 0.5 * strength * lean, 0.1, None)
    broad *= np.clip(1 + strength * lean, 0.1, None)
    # Fast electrons fly straight: a one-sided backscatter detector shades slopes, a ring of them does not.
    back *= np.clip(1 + rng.choice([0.35, 0.9]) * strength * lean, 0.1, None)
    total = detector.sharp + detector.broad + detector.back
    return ((detector.sharp * sharp + detector.broad * broad + detector.back * back) / total).astype(np.float32)
