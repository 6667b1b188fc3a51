"""Bearing curve of a profile and its Rk family, by the construction of ISO 13565-2 (kept in ISO 21920-2).

The straight line is fitted by least squares to the 40 % of the bearing curve where its secant is flattest; where it
meets 0 and 100 % lie the core's upper and lower limits, Rk apart. The peaks above and the valleys below are replaced
by right triangles of the same area over Mr1 and 100 - Mr2: Rpk = 2 A1 / Mr1 and Rvk = 2 A2 / (100 - Mr2).

Profiles with deep valleys are filtered first as ISO 13565-1 says: Gaussian mean line, valleys cut off at that line,
a second mean line of what is left, subtracted from the profile as measured.
"""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

CENTRAL_SHARE = 0.4
"""Share of the bearing curve that the secant spans (ISO 13565-2)."""

GAUSS_ALPHA = float(np.sqrt(np.log(2) / np.pi))
"""Constant of the Gaussian profile filter, 0.4697: half transmission at the cut-off (ISO 16610-21)."""


@dataclass(frozen=True, kw_only=True)
class RkFamily:
    """The Rk family of one profile or map: heights in µm, material ratios in %."""

    rk_um: float
    rpk_um: float
    rvk_um: float
    mr1_percent: float
    mr2_percent: float

    @property
    def valley_share(self) -> float:
        """Share of valleys, 1 - Mr2/100."""
        return 1 - self.mr2_percent / 100


def filter_profile(profile_um, pixel_size_um: float, *, cutoff_um: float = 800.0) -> np.ndarray:
    """Return the roughness profile of ISO 13565-1 in µm, float64, half a cut-off shorter at each end.

    `profile_um` is (points,) in µm with one point each `pixel_size_um`.
    Raises ValueError when the profile isn't longer than one cut-off.
    """
    profile = np.asarray(profile_um, float)
    end = int(round(0.5 * cutoff_um / pixel_size_um))
    if profile.ndim != 1 or profile.size <= 2 * end:
        raise ValueError(
            f"profile of {profile.size * pixel_size_um:.0f} µm: give a line longer than the cut-off of {cutoff_um:g} µm"
        )
    sigma = GAUSS_ALPHA * cutoff_um / np.sqrt(2 * np.pi) / pixel_size_um
    first = gaussian_filter1d(profile, sigma, mode="reflect", truncate=6)
    second = gaussian_filter1d(np.maximum(profile, first), sigma, mode="reflect", truncate=6)
    return (profile - second)[end : profile.size - end]


def rk_family(profile_um, pixel_size_um: float = 1.0, *, cutoff_um: float | None = None) -> RkFamily:
    """Return the Rk family of a profile (points,) or, unfiltered, of a height map (rows, cols), in µm.

    With `cutoff_um` the profile is filtered by ISO 13565-1 first; without it, the heights are taken as they are.
    `pixel_size_um` matters to the filter only. Heights that aren't finite are left out.
    Raises ValueError when fewer than 50 heights remain, too few for a bearing curve.

    >>> ramp = np.linspace(1.0, -1.0, 4001)
    >>> family = rk_family(ramp)
    >>> round(family.rk_um, 3), family.rpk_um, family.rvk_um
    (2.0, 0.0, 0.0)
    """
    heights = np.asarray(profile_um, float)
    if cutoff_um is not None:
        heights = filter_profile(heights, pixel_size_um, cutoff_um=cutoff_um)
    heights = np.sort(heights[np.isfinite(heights)])[::-1]
    if heights.size < 50:
        raise ValueError(f"{heights.size} heights: a bearing curve needs 50 at least")
    ratio = 100 * np.arange(heights.size) / (heights.size - 1)
    span = int(round(CENTRAL_SHARE * (heights.size - 1)))
    first = int(np.argmin(heights[:-span] - heights[span:]))
    centre = slice(first, first + span + 1)
    slope, upper = np.polyfit(ratio[centre], heights[centre], 1)
    lower = upper + 100 * slope
    tiny = 1e-9 * max(heights[0] - heights[-1], 1e-30)
    mr1 = float(np.interp(-(upper + tiny), -heights, ratio)) if heights[0] > upper + tiny else 0.0
    mr2 = float(np.interp(-(lower - tiny), -heights, ratio)) if heights[-1] < lower - tiny else 100.0
    peaks = float(np.trapezoid(np.maximum(heights - upper, 0), ratio))
    valleys = float(np.trapezoid(np.maximum(lower - heights, 0), ratio))
    return RkFamily(
        rk_um=float(upper - lower),
        rpk_um=2 * peaks / mr1 if mr1 > 0 else 0.0,
        rvk_um=2 * valleys / (100 - mr2) if mr2 < 100 else 0.0,
        mr1_percent=mr1,
        mr2_percent=mr2,
    )
