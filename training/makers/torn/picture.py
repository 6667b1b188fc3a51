"""From the surface to the signal of a detector, before any noise: tilt, side, edges, escape from depth, matter."""

from dataclasses import dataclass

import cv2
import numpy as np

from .frame import spread

IRON_BSE, CARBON_BSE = 0.28, 0.06
"""Backscatter coefficients (tests/SOURCES.md, Reuter)."""


@dataclass(frozen=True)
class Detector:
    """How the signal answers: backscattered or secondary; side (radians) and its weight; share of edge brightening; share
    of the signal kept from the bottom of deep ground."""

    backscattered: bool
    side: float
    sided: float
    edges: float
    escape: float


def detector(rng: np.random.Generator) -> Detector:
    back = bool(rng.random() < 0.25)
    sided = spread(rng, 0.15, 1.2) * (1.3 if back else 1.0)
    return Detector(
        back, rng.uniform(0, 2 * np.pi), sided, spread(rng, 0.03, 0.5) * (0.3 if back else 1), rng.uniform(0.35, 0.95)
    )


def signal(height_um: np.ndarray, carbon: np.ndarray, film: np.ndarray, pixel_um: float, d: Detector) -> np.ndarray:
    """Signal over that of clean level iron. `carbon` and `film` are shares (0-1) of cover."""
    h = cv2.GaussianBlur(height_um.astype(np.float32), (0, 0), 0.6)
    # Sobel sums 8 weights over one pixel each way.
    gx, gy = (cv2.Sobel(h, cv2.CV_32F, *axis) / (8 * pixel_um) for axis in ((1, 0), (0, 1)))
    secant = np.sqrt(1 + (gx * gx + gy * gy))
    rise = -(gx * np.cos(d.side) + gy * np.sin(d.side)) / secant
    out = 1 + d.sided * rise
    if not d.backscattered:
        out *= np.minimum(secant, 3)
    # Electrons also leave through the sides of ridges: convex ground within their range shines.
    reach = float(np.clip(0.8 / pixel_um, 1.0, 4.0))
    convex = (h - cv2.GaussianBlur(h, (0, 0), reach)) / (0.25 * reach * pixel_um)
    out += d.edges * np.clip(convex, -0.5, 1.6)
    # From below its neighbourhood less escapes: the wider the sky, the more.
    sky = float(np.clip(6 / pixel_um, 3.0, 14.0))
    sunk = np.clip(cv2.GaussianBlur(h, (0, 0), sky) - h, 0, None)
    out *= d.escape + (1 - d.escape) * np.exp(-1.5 * sunk / min(sky * pixel_um / 6, 3.0))
    dark = CARBON_BSE / IRON_BSE if d.backscattered else 0.45
    out *= 1 - (1 - dark) * np.clip(carbon, 0, 1)
    return np.maximum(out * (1 - np.clip(film, -0.6, 0.6)), 0.02)
