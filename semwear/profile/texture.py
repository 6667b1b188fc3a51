"""Texture parameters of a height map: areal ones of ISO 25178-2, and the Rk family of profiles across the lay.

    Sq      root mean square height, µm
    Sk, Spk, Svk, Smr1, Smr2   the core's height, reduced peaks and valleys, and its material ratios, by the construction
            of ISO 13565-2 on the areal material ratio curve (ISO 25178-2)
    Vvv     void volume of the valleys below the material ratio of 80 %, µm³/µm² = ml/m² (ISO 25178-2)
    valley share   100 - Smr2 per cent, here from 0 to 1
    below plateau  share of the area at least VALLEY_DEPTH_UM below the plateau's level: what micrographs call open valley

The plateau's level is the most frequent height. Points that weren't measured are left out of all areal figures.
"""

import math
from dataclasses import dataclass

import numpy as np

from semwear.profile.bearing_curve import RkFamily, rk_family
from semwear.profile.form import fill_missing, gaussian_mean_surface, polynomial_form
from semwear.terms import VALLEY_DEPTH_UM

VALLEY_VOID_RATIO = 80.0
"""Material ratio below which the void volume counts as that of valleys, % (default of ISO 25178-3)."""
MOST_LINES = 60
"""Profiles that are taken of one map at most, evenly spread."""
CUTOFF_UM = 800.0
"""Cut-off of profiles that are long enough for it, µm (usual for honed bores)."""


@dataclass(frozen=True, kw_only=True)
class Texture:
    """Texture of a map or a part of it: heights in µm, ratios and shares as their names say.

    ``profiles`` is the number of lines behind the medians in ``profile``, taken along ``profile_deg``; ``cutoff_um`` is
    their cut-off, nan where they are too short for it and only their form was removed.
    """

    points: int
    sq_um: float
    areal: RkFamily
    vvv_ml_per_m2: float
    below_plateau_fraction: float
    profile: RkFamily | None
    profiles: int
    profile_deg: float
    cutoff_um: float

    @property
    def valley_share(self) -> float:
        """Areal valley share, 1 - Smr2/100."""
        return self.areal.valley_share


def texture_heights(
    heights_um: np.ndarray,
    pixel_width_um: float,
    pixel_height_um: float,
    *,
    order: int = 2,
    nesting_um: float | None = None,
) -> np.ndarray:
    """Return the map without its form, (rows, cols) float64 µm, NaN where nothing was measured.

    ``order`` of the polynomial, fitted robustly; with ``nesting_um`` the two-step Gaussian mean surface is taken off too.
    """
    level = heights_um - polynomial_form(heights_um, order)
    if nesting_um is not None:
        mean = gaussian_mean_surface(fill_missing(level), nesting_um, pixel_width_um, pixel_height_um)
        level = level - mean
    return level


def measure_texture(
    texture_um: np.ndarray,
    pixel_width_um: float,
    pixel_height_um: float,
    *,
    stroke_deg: float | None = None,
    cutoff_um: float = CUTOFF_UM,
) -> Texture:
    """Return the texture of a map without form, (rows, cols) µm, NaN where nothing counts.

    Profiles run along rows or columns, whichever crosses the lay more: along the stroke where ``stroke_deg`` is known
    (the hone angle is bisected by the direction across it), else where heights change faster.
    Raises ValueError with fewer than 50 heights.
    """
    heights = texture_um[np.isfinite(texture_um)]
    areal = rk_family(heights)
    along_rows = _along_rows(texture_um, pixel_width_um, pixel_height_um, stroke_deg)
    lines = texture_um if along_rows else texture_um.T
    step = pixel_width_um if along_rows else pixel_height_um
    families, cutoff = _profiles(lines, step, cutoff_um)
    return Texture(
        points=heights.size,
        sq_um=float(np.sqrt(np.mean(np.square(heights - heights.mean())))),
        areal=areal,
        vvv_ml_per_m2=void_volume(heights, VALLEY_VOID_RATIO),
        below_plateau_fraction=float(np.mean(heights <= plateau_level_um(heights) - VALLEY_DEPTH_UM)),
        profile=_median_family(families) if families else None,
        profiles=len(families),
        profile_deg=0.0 if along_rows else 90.0,
        cutoff_um=cutoff if families else math.nan,
    )


def void_volume(heights_um: np.ndarray, ratio_percent: float) -> float:
    """Return the void volume below the height of a material ratio, ml/m² (the mean of what lies below it, in µm).

    Vv(p) = ∫ from p to 100 % of (height at p - height at q) dq / 100 %, ISO 25178-2.

    >>> round(void_volume(np.linspace(0.0, 1.0, 10001), 80.0), 4)
    0.02
    """
    level = np.quantile(heights_um, 1 - ratio_percent / 100)
    return float(np.mean(np.clip(level - heights_um, 0, None)))


def plateau_level_um(heights_um: np.ndarray) -> float:
    """Return the most frequent height, µm: the middle of the shortest interval that holds a tenth of the heights, thrice.

    >>> heights = np.concatenate([np.random.default_rng(0).normal(0, 0.05, 8000), np.linspace(-4, 0, 2000)])
    >>> abs(plateau_level_um(heights)) < 0.03
    True
    """
    ordered = np.sort(heights_um)
    middles = []
    for share in (0.1, 0.2, 0.3):
        span = max(2, int(share * ordered.size))
        widths = ordered[span:] - ordered[:-span]
        first = int(np.argmin(widths)) if widths.size else 0
        middles.append(0.5 * (ordered[first] + ordered[min(first + span, ordered.size - 1)]))
    return float(np.median(middles))


def _along_rows(texture_um, pixel_width_um, pixel_height_um, stroke_deg: float | None) -> bool:
    if stroke_deg is not None:
        return min(stroke_deg % 180, 180 - stroke_deg % 180) < 45
    along = np.nanmedian(np.abs(np.diff(texture_um, axis=1))) / pixel_width_um
    down = np.nanmedian(np.abs(np.diff(texture_um, axis=0))) / pixel_height_um
    return bool(along >= down)


def _profiles(lines_um: np.ndarray, step_um: float, cutoff_um: float) -> tuple[list[RkFamily], float]:
    """Return the Rk family of up to MOST_LINES lines, and the cut-off that was used or nan.

    Each line is the longest run without a gap of more than three points; shorter gaps are bridged straight. Lines of
    two cut-offs or more are filtered by ISO 13565-1, others are taken as they are.
    """
    chosen = np.unique(np.linspace(0, lines_um.shape[0] - 1, min(MOST_LINES, lines_um.shape[0])).round().astype(int))
    runs = [run for run in (_longest_run(lines_um[index]) for index in chosen) if run.size >= 50]
    long_enough = [run for run in runs if run.size * step_um >= 2 * cutoff_um]
    if 2 * len(long_enough) >= len(runs) and long_enough:
        return [rk_family(run, step_um, cutoff_um=cutoff_um) for run in long_enough], cutoff_um
    return [rk_family(run) for run in runs], math.nan


def _longest_run(line_um: np.ndarray) -> np.ndarray:
    known = np.flatnonzero(np.isfinite(line_um))
    if known.size < 2:
        return np.empty(0)
    breaks = np.flatnonzero(np.diff(known) > 4)
    starts, ends = np.r_[0, breaks + 1], np.r_[breaks, known.size - 1]
    longest = int(np.argmax(known[ends] - known[starts]))
    first, last = known[starts[longest]], known[ends[longest]]
    places = np.arange(first, last + 1)
    return np.interp(places, known, line_um[known])


def _median_family(families: list[RkFamily]) -> RkFamily:
    names = ("rk_um", "rpk_um", "rvk_um", "mr1_percent", "mr2_percent")
    return RkFamily(**{name: float(np.median([getattr(family, name) for family in families])) for name in names})
