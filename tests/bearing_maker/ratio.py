"""Material-ratio curve of a height map and its Rk family.

ISO 13565-2 / ISO 21920-2: the core line is the secant over 40 % of material ratio with the smallest slope; Rk is its rise
from 0 to 100 %, and Rpk = 2 A1 / Mr1 and Rvk = 2 A2 / (100 - Mr2) are the heights of triangles of the peaks' and valleys'
areas. Applied to the whole map, as the areal Sk family is.
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class RatioCurve:
    """Rk, Rpk, Rvk in µm; Mr1, Mr2 in %."""

    rk: float
    rpk: float
    rvk: float
    mr1: float
    mr2: float


def ratio_curve(height_um: np.ndarray) -> RatioCurve:
    """Return the Rk family of a height map."""
    share = np.linspace(0, 100, 1001)
    curve = np.quantile(height_um, 1 - share / 100)
    drop = curve[:-400] - curve[400:]
    start = int(np.argmin(drop))
    slope = drop[start] / 40
    top = curve[start] + slope * share[start]
    bottom = top - 100 * slope
    mr1 = float(share[np.argmax(curve <= top)])
    mr2 = float(share[np.argmax(curve < bottom)]) if curve[-1] < bottom else 100.0
    area_peaks = float(np.clip(curve - top, 0, None).mean() * 100)
    area_valleys = float(np.clip(bottom - curve, 0, None).mean() * 100)
    return RatioCurve(
        rk=float(top - bottom),
        rpk=2 * area_peaks / max(mr1, 1e-6),
        rvk=2 * area_valleys / max(100 - mr2, 1e-6),
        mr1=mr1,
        mr2=mr2,
    )
