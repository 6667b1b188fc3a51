"""Secondary-electron yield of a height map by diffuse escape.

Electrons leave over two ranges: true secondaries where the beam strikes (beam blur), and those that backscattered electrons
release on their way out, spread over about the Kanaya–Okayama range R = 0.0276·A·E^1.67/(Z^0.89·ρ) µm (1972). Yield grows as
1/cos of the slope with exponent near 1 (from memory); convex edges and thin lips give more; starved escape darkens
what lies below its surroundings; a detector on one side adds a slope term."""

from dataclasses import dataclass

import cv2
import numpy as np

from .chance import between, blurred


def electron_range_um(kilovolts: float, *, mass: float = 55.85, number: int = 26, density: float = 7.87) -> float:
    """Range in iron unless told otherwise; density in g/cm³."""
    return 0.0276 * mass * kilovolts**1.67 / (number**0.89 * density)


@dataclass(frozen=True, kw_only=True)
class Beam:
    """Settings of one sitting. side: strength of the one-sided detector; toward_deg: where it stands on the screen."""

    kilovolts: float
    blur_px: float
    spread_share: float
    edge: float
    slope: float
    starve: float
    side: float
    toward_deg: float
    floor: float
    rim: float


def draw_beam(rng: np.random.Generator, tilt_deg: float) -> Beam:
    """One setting; groove floors are dark in most, bright in some, near neutral in others."""
    look = rng.choice(["dark", "rims", "bright", "relief"], p=[0.45, 0.2, 0.15, 0.2])
    floor = {"dark": rng.uniform(-0.45, -0.12), "rims": rng.uniform(-0.2, 0.0), "bright": rng.uniform(0.1, 0.35)}
    return Beam(
        kilovolts=float(rng.choice([3, 5, 10, 15, 20])),
        blur_px=between(rng, 0.35, 1.3) * (rng.uniform(1.5, 2.4) if rng.random() < 0.1 else 1),
        spread_share=rng.uniform(0.15, 0.6),
        edge=rng.uniform(0.15, 0.9) * (1.8 if look == "rims" else 1),
        slope=rng.uniform(0.5, 2.0),
        starve=rng.uniform(0.3, 1.4) * (0.2 if look == "bright" else 1),
        side=(rng.uniform(0.35, 0.9) if look == "relief" or rng.random() < 0.45 else rng.uniform(0, 0.1))
        + 0.6 * np.sin(np.radians(tilt_deg)),
        toward_deg=rng.uniform(0, 360) if tilt_deg == 0 else rng.choice([90, 270]) + rng.normal(0, 15),
        floor=float(floor.get(look, rng.uniform(-0.12, 0.05))),
        rim=rng.uniform(0.15, 0.5) if look == "rims" else rng.uniform(0, 0.12),
    )


def emission(
    beam: Beam,
    *,
    height: np.ndarray,
    groove: np.ndarray,
    thin: np.ndarray,
    carbon: np.ndarray,
    ragged: np.ndarray,
    pixel_size_um: float,
) -> np.ndarray:
    """Signal about 1 on flat iron. groove: open depth in µm; thin: share 0–1 of unsupported sheet; carbon: share 0–1;
    ragged: how the sharpness of edges varies along them, about 1."""
    range_um = electron_range_um(beam.kilovolts)
    soft = blurred(height, 0.6)
    gradient_x = cv2.Sobel(soft, cv2.CV_32F, 1, 0, scale=1 / (8 * pixel_size_um), borderType=cv2.BORDER_REFLECT)
    gradient_y = cv2.Sobel(soft, cv2.CV_32F, 0, 1, scale=1 / (8 * pixel_size_um), borderType=cv2.BORDER_REFLECT)
    steep = np.sqrt(1 + np.minimum(gradient_x**2 + gradient_y**2, 0.8)) - 1
    near_px = float(np.clip(range_um / pixel_size_um, 1.0, 3.0))
    convex = np.clip((soft - blurred(height, near_px)) / (near_px * pixel_size_um), -0.35, 0.3)
    deep = np.maximum(groove, 0)
    band = np.exp(-(((groove - 0.3) / 0.35) ** 2)) * np.minimum(steep * 12, 1)
    rims = ragged * (beam.edge * convex + beam.rim * band)
    local = (1 - 0.45 * carbon) * (1 + beam.slope * steep + rims)
    local *= 1 + beam.floor * (1 - np.exp(-deep / 0.8))
    edges = np.abs(thin - blurred(thin, 2.0)) * min(range_um, 1.0)
    local += 0.2 * ragged * edges + 0.07 * min(range_um, 1.0) * thin
    wide = (1 - 0.75 * carbon) * (1 + 0.5 * beam.slope * steep + 0.5 * beam.edge * convex)
    signal = (1 - beam.spread_share) * blurred(local, beam.blur_px)
    signal += beam.spread_share * blurred(
        wide, float(np.hypot(beam.blur_px, np.clip(0.5 * range_um / pixel_size_um, 0, 12)))
    )
    reach_px = float(np.clip(6 / pixel_size_um, 5, 30))
    below = np.maximum(blurred(height, reach_px) - soft, 0) / (reach_px * pixel_size_um)
    signal *= np.exp(-beam.starve * np.minimum(3 * below, 1.5))
    toward = np.radians(beam.toward_deg)
    facing = np.tanh(2.5 * (gradient_x * np.cos(toward) + gradient_y * np.sin(toward)))
    return signal + beam.side * 0.45 * blurred(facing, beam.blur_px)
