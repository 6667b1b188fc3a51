"""Electrons from a surface of heights: yield, the detector's side and its shadows, starved grooves, glowing edges."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.microscope_maker.blur import blur, shifted, wide_blur
from tests.microscope_maker.figures import Figures
from tests.microscope_maker.frame import Frame


@dataclass(frozen=True, kw_only=True)
class Beam:
    """kv: accelerating voltage; range_um: of the electrons in grey iron; back: a picture of mostly backscattered electrons."""

    kv: float
    range_um: float
    back: bool


def range_um(kv: float) -> float:
    """Return the electrons' range in grey iron of 7.2 g/cm³, µm: 0.0276 A E^1.67 / (Z^0.89 rho).

    [P: Kanaya and Okayama 1972, tests/SOURCES.md].
    """
    return 0.0276 * 55.85 * kv**1.67 / (26**0.89 * 7.2)


def draw_beam(own: Figures) -> Beam:
    """Draw the microscope's beam and detector; 3 to 20 kV are common practice, no source."""
    kv = float(own["kv"].choice([3, 5, 10, 15, 20], p=[0.1, 0.25, 0.25, 0.25, 0.15]))
    return Beam(kv=kv, range_um=range_um(kv), back=own["back"].random() < 0.18)


def emitted(f: Frame, beam: Beam, z: np.ndarray) -> np.ndarray:
    """Return the electrons that reach the detector from heights ``z`` µm, (rows, cols), about 1 on the level.

    The yield grows as sec^n of the slope, n about 1 [M, tests/SOURCES.md]; the other factors are common practice, no source.
    """
    own, px, back = f.own, f.px, beam.back
    zs = blur(z, 0.6)
    gx = cv2.Sobel(zs, cv2.CV_32F, 1, 0, ksize=3) / (8 * px)
    gy = cv2.Sobel(zs, cv2.CV_32F, 0, 1, ksize=3) / (8 * px)
    sec = np.sqrt(1 + gx * gx + gy * gy)
    y = np.minimum(sec, 4.0) ** own["secant's exponent"].uniform(0.9, 1.4)

    azimuth = own["azimuth"].uniform(0, 2 * np.pi)
    ex, ey = float(np.cos(azimuth)), float(np.sin(azimuth))
    facing = -(gx * ex + gy * ey) / sec
    off = own["detector's side"].uniform(0.6, 1.8) if back else own["detector's side"].uniform(0.25, 1.1)
    y = y * np.clip(1 + off * facing, 0.15, 3)
    y = y * blur(_shade(f, z, ex, ey, back), 0.6 / px)

    near = wide_blur(z, 3.5 / px)
    far = wide_blur(z, 14 / px)
    sunk = np.clip(far - z, 0, 6)
    y = y * np.exp(-own["starved"].uniform(0.06, 0.22) * sunk)
    crest = np.clip(z - near, -0.3, 1.2)
    y = y * (1 + own["crests"].uniform(0.08, 0.45) * np.clip(crest, -0.3, 0.9))
    fill = np.clip(beam.range_um, 0.15, 1.8)
    rim = np.clip(z - blur(z, max(fill / px, 0.6)), 0, 0.5)
    return y + (0.0 if back else own["rims' glow"].uniform(0.2, 0.9)) * rim


def _shade(f: Frame, z: np.ndarray, ex: float, ey: float, back: bool) -> np.ndarray:
    """Return what the detector sees of each pixel, 0-1: less where the horizon towards it stands high."""
    px = f.px
    low = np.tan(np.radians(f.own["detector's rise"].uniform(8, 25) if back else f.own["detector's rise"].uniform(12, 40)))
    horizon = np.zeros_like(z)
    for dist in (0.8, 1.6, 3.0, 5.5, 9.0, 14.0):
        if dist < px * 0.9:
            continue
        rise = (shifted(z, -ex * dist / px, -ey * dist / px) - z) / dist
        np.maximum(horizon, rise, out=horizon)
    return 1 - f.own["shadows"].uniform(0.1, 0.55) * np.clip((horizon - low) / 0.25 + 0.5, 0, 1)
