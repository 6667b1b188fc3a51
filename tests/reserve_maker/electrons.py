"""Secondary-electron signal of a height map: yield by tilt, open sky towards the detector, escape at edges, material.

Yield grows as the inverse cosine of the angle of incidence to a power near 1 (Seiler, J. Appl. Phys. 54 (1983) R1, from
memory), bounded since a rough surface is never met at grazing incidence. Electrons leave towards the part of the sky that
the surroundings don't hide: horizons are scanned in several azimuths, as for sky-view factors in terrain models (Dozier and
Frew 1990, from memory), and azimuths are weighted by where the detector stands. At edges the beam's range carries electrons
to a second surface: what rises above its surroundings within that range emits more. Range of electrons in iron: Kanaya and
Okayama 1972, R[µm] = 0.0276·A·E^1.67/(Z^0.89·ρ).
"""

from dataclasses import dataclass

import cv2
import numpy as np

REACH_PX = (1, 2, 3, 5, 8, 13, 22, 36)
AZIMUTHS = 10


@dataclass(frozen=True, kw_only=True)
class Column:
    """One setting of a microscope, kept for all fields of a specimen.

    detector_deg: where the detector stands, anticlockwise from the picture's rows; sidedness: 0 symmetric to 1 one-sided;
    sky, edge, incline: weight of open sky, edge escape and tilt yield; deposit: see make_surface.
    """

    kv: float
    tilt_deg: float
    detector: str
    detector_deg: float
    sidedness: float
    sky: float
    edge: float
    incline: float
    deposit: float


def iron_range_um(kv: float) -> float:
    """Return the range of electrons in iron, µm.

    >>> round(iron_range_um(10), 2), round(iron_range_um(20), 2)
    (0.5, 1.6)
    """
    return 0.0276 * 55.85 * kv**1.67 / (26**0.89 * 7.87)


def open_sky(height_um: np.ndarray, pixel_size_um: float, detector_deg: float, sidedness: float) -> np.ndarray:
    """Return the weighted share of the sky that a point sees, 1 on a free plane, (rows, cols) float32."""
    rows, cols = height_um.shape
    margin = REACH_PX[-1]
    near = cv2.copyMakeBorder(height_um, margin, margin, margin, margin, cv2.BORDER_REFLECT)
    far = cv2.GaussianBlur(near, (0, 0), 2.0)
    total = np.zeros_like(height_um)
    weights = 0.0
    for number in range(AZIMUTHS):
        azimuth = 2 * np.pi * number / AZIMUTHS
        weight = 1 + sidedness * np.cos(azimuth - np.deg2rad(detector_deg))
        steepest = np.full_like(height_um, -1.0)
        for reach in REACH_PX:
            down, right = round(-reach * np.sin(azimuth)), round(reach * np.cos(azimuth))
            distance = float(np.hypot(down, right)) * pixel_size_um
            source = near if reach < 6 else far
            seen = source[margin + down : margin + down + rows, margin + right : margin + right + cols]
            np.maximum(steepest, (seen - height_um) * np.float32(1 / distance), out=steepest)
        total += np.float32(weight) * (1 - steepest / np.sqrt(1 + steepest * steepest))
        weights += weight
    return total / np.float32(weights)


def edge_escape(height_um: np.ndarray, pixel_size_um: float, kv: float) -> np.ndarray:
    """Return how far a point stands out of what lies within the beam's range, 0 on a plane, saturating at 1."""
    range_px = max(0.8, 0.6 * iron_range_um(kv) / pixel_size_um)
    around = sum(
        share * cv2.GaussianBlur(height_um, (0, 0), range_px * scale)
        for share, scale in ((0.5, 0.6), (0.35, 1.3), (0.15, 3.0))
    )
    out = np.maximum(height_um - around, 0) / np.float32(0.35 * range_px * pixel_size_um + 0.05)
    return out / (1 + out)


def signal(height_um: np.ndarray, material: np.ndarray, pixel_size_um: float, column: Column) -> np.ndarray:
    """Return the signal over that of a clean free plane, (rows, cols) float32."""
    slope_row = cv2.Sobel(height_um, cv2.CV_32F, 0, 1, ksize=3, scale=1 / 8 / pixel_size_um)
    slope_col = cv2.Sobel(height_um, cv2.CV_32F, 1, 0, ksize=3, scale=1 / 8 / pixel_size_um)
    tilt = np.deg2rad(column.tilt_deg)
    norm = np.sqrt(1 + slope_row**2 + slope_col**2)
    cosine = np.clip((np.float32(np.cos(tilt)) - np.float32(np.sin(tilt)) * slope_row) / norm, 0.02, 1)
    limit = 0.25
    inclined = (np.cos(tilt) ** 1.1 + limit) / (cosine**1.1 + limit)
    sky = np.maximum(open_sky(height_um, pixel_size_um, column.detector_deg, column.sidedness), 0.02)
    escape = edge_escape(height_um, pixel_size_um, column.kv)
    body = (1 + column.incline * (inclined - 1)) * sky**column.sky
    return (material * body + np.float32(column.edge) * escape * np.minimum(1, sky + 0.3)).astype(np.float32)
