"""The wear track in a height map: where it lies, how deep it is, and the volume that was worn off.

The track is a band along the stroke. It is stated, or located: of the plateau's level across the stroke, the band whose
offset from a smooth line through the rest explains the most is taken, if shuffled maps don't show the like. Honing isn't
quite even either: of 320 simulated maps of 1 by 2 mm without a track, 36 seemed to hold one, so that it is looked for only
where the user says that there is one.

The unworn sides carry the reference: a polynomial of second order (first with one side only) through them by plain least
squares, so that its mean is that of the unworn surface with its valleys, carried over the track. Worn volume is the
volume between reference and track:

    V = Σ (reference - height) · area of a point        depth = V / area of the track

Its uncertainty is that of the mean over strips along the stroke, each measured by itself with a reference of its own: a
groove that crosses sides and track alike does no harm, one that lies in the track alone does.
"""

import math
from dataclasses import dataclass

import numpy as np

from semwear.profile.form import fill_missing, grid_um, polynomial_form, polynomial_terms

BINS = 64
"""Steps across the stroke in which a track is looked for."""
LEAST_SIDE = 0.06
"""Least share of the map's width that each unworn side needs beside a located track."""
CLEAR_DEPTH = 3.0
"""Least depth of a located track in its standard uncertainties."""
LEAST_STEP = 0.4
"""Least mean depth of a located track's plateau, in standard deviations of the heights: honing itself isn't quite even."""
CLEAR_STEP = 2.5
"""Least mean depth of a located track's plateau, in standard deviations of the sides' level: waviness is no track."""
LEVEL_SHARE = 0.7
"""Share of the heights below the level by which a track is looked for: the plateau's, which grooves leave alone."""
LEAST_BINS = 5
"""Least width of a located track in steps."""
LEAST_SIDE = 0.05
"""Share of the unworn surface on one side of the track below which that side says nothing."""
SEGMENTS, SHUFFLES, LARGEST_P = 8, 499, 0.004
"""Pieces along the stroke, random maps to compare with, and their share that may look as clear as the track."""


@dataclass(frozen=True, kw_only=True)
class Track:
    """Where the track lies and how much was worn off.

    ``inside``, ``core`` and ``sides`` are bool (rows, cols): the track, the track without its edges, whose texture is
    measured, and the unworn surface that carried the reference.
    ``reference_um`` (rows, cols) is the unworn surface carried over the map. Lengths in µm, section in µm², volume in mm³;
    ``_u`` are standard uncertainties. ``cross_um``, ``cross_at_um``: mean height against the reference, and place, across
    the stroke. ``one_side``: the reference has one side only.
    """

    inside: np.ndarray
    core: np.ndarray
    sides: np.ndarray
    reference_um: np.ndarray
    width_um: float
    length_um: float
    depth_um: float
    depth_u_um: float
    deepest_um: float
    section_um2: float
    section_u_um2: float
    volume_mm3: float
    volume_u_mm3: float
    cross_at_um: np.ndarray
    cross_um: np.ndarray
    one_side: bool


def stated_band(shape: tuple[int, int], *, rows: tuple[int, int] | None = None, cols: tuple[int, int] | None = None):
    """Return the bool mask, (rows, cols), of a band of whole rows or columns, first and last included, counted from 0.

    Raises ValueError, with what to do, for a band that leaves nothing or no unworn side.
    """
    first, last = rows if rows is not None else cols
    name, count = ("rows", shape[0]) if rows is not None else ("columns", shape[1])
    if not 0 <= first < last < count:
        raise ValueError(f"track {name} {first}:{last} don't lie in the map, whose {name} run from 0 to {count - 1}")
    if (first + count - 1 - last) < 0.1 * count:
        raise ValueError(f"track {name} {first}:{last} leave less than a tenth of the map unworn; measure a wider map")
    inside = np.zeros(shape, bool)
    if rows is not None:
        inside[first : last + 1] = True
    else:
        inside[:, first : last + 1] = True
    return inside


def locate_band(
    heights_um: np.ndarray, pixel_width_um: float, pixel_height_um: float, stroke_deg: float
) -> np.ndarray | None:
    """Return the bool mask, (rows, cols), of the track along a stroke direction, or None where no track is clear.

    A track lies at the same place all along the stroke, grooves don't: the band must explain more of the mean across the
    stroke than in all but LARGEST_P of SHUFFLES maps whose SEGMENTS pieces along the stroke were shifted across it at random.
    """
    shape = heights_um.shape
    across = across_um(shape, pixel_width_um, pixel_height_um, stroke_deg)
    along = across_um(shape, pixel_width_um, pixel_height_um, stroke_deg - 90)
    piece = np.floor((along - along.min()) / (np.ptp(along) * (1 + 1e-9)) * SEGMENTS)
    places = np.linspace(across.min(), across.max(), BINS + 1)
    places = 0.5 * (places[1:] + places[:-1])
    levels = _plateau_levels(heights_um, piece.astype(int), across)
    known = np.isfinite(levels)
    profiles = [np.interp(places, places[has], line[has]) for line, has in zip(levels, known, strict=True) if has.mean() >= 0.8]
    if len(profiles) < SEGMENTS // 2:
        return None
    scaled = places / np.abs(places).max()
    basis, _ = np.linalg.qr(np.stack([np.ones(BINS), scaled, scaled**2], axis=1))
    bands, steps = _bands(basis)
    flat = np.array(profiles) - (np.array(profiles) @ basis) @ basis.T
    gains = steps @ flat.mean(axis=0)
    best = int(np.argmin(gains))
    rng = np.random.default_rng(0)
    shuffled = np.zeros((SHUFFLES, BINS))
    for profile in flat:
        shuffled += profile[(np.arange(BINS) + rng.integers(0, BINS, (SHUFFLES, 1))) % BINS]
    shuffled /= len(flat)
    shuffled -= (shuffled @ basis) @ basis.T
    chance = (1 + np.sum((shuffled @ steps.T).min(axis=1) <= gains[best])) / (1 + SHUFFLES)
    if gains[best] >= 0 or chance > LARGEST_P:
        return None
    first, last = _widened(scaled, np.mean(profiles, axis=0), *bands[best], _least_side())
    gap, outside = _gap(scaled, np.mean(profiles, axis=0), first, last)
    rough = np.sort((heights_um - polynomial_form(heights_um, 2))[np.isfinite(heights_um)])
    least_step = max(CLEAR_STEP * gap[outside].std(), LEAST_STEP * rough[rough.size // 50 : -(rough.size // 50) or None].std())
    if -gap[~outside].mean() < least_step:
        return None
    half_bin = 0.5 * (places[1] - places[0])
    inside = (across >= places[first] - half_bin) & (across <= places[last - 1] + half_bin)
    found = measure_track(heights_um, inside, pixel_width_um, pixel_height_um, stroke_deg)
    return inside if found.depth_um >= CLEAR_DEPTH * found.depth_u_um else None


def _plateau_levels(heights_um: np.ndarray, piece: np.ndarray, across: np.ndarray) -> np.ndarray:
    """Return the height that LEVEL_SHARE of the points lie below, for every piece and step across, (SEGMENTS, BINS) µm.

    NaN where a piece has fewer than five heights in a step.
    """
    known = np.isfinite(heights_um)
    edges = np.linspace(across.min(), across.max(), BINS + 1)
    step = np.clip(np.digitize(across[known], edges) - 1, 0, BINS - 1)
    cell = piece[known] * BINS + step
    heights = heights_um[known][np.lexsort((heights_um[known], cell))]
    counts = np.bincount(cell, minlength=SEGMENTS * BINS)
    firsts = np.cumsum(counts) - counts
    chosen = np.minimum(firsts + (LEVEL_SHARE * (counts - 1)).clip(0).round().astype(int), heights.size - 1)
    return np.where(counts >= 5, heights[chosen], np.nan).reshape(SEGMENTS, BINS)


def _least_side() -> int:
    return max(2, int(LEAST_SIDE * BINS))


def _bands(basis: np.ndarray) -> tuple[list[tuple[int, int]], np.ndarray]:
    """Return all bands as (first, last + 1), and their steps freed of ``basis`` and of length one, (bands, BINS)."""
    least = _least_side()
    bands = [
        (first, last)
        for first in range(least, BINS - least - LEAST_BINS)
        for last in range(first + LEAST_BINS, BINS - least + 1)
    ]
    places = np.arange(BINS)
    steps = np.array([(places >= first) & (places < last) for first, last in bands], float)
    steps -= (steps @ basis) @ basis.T
    return bands, steps / np.linalg.norm(steps, axis=1, keepdims=True)


def _widened(scaled, means, first: int, last: int, least: int) -> tuple[int, int]:
    """Return the band with its shoulders: outwards until the mean height is back within the scatter of the sides."""
    for _ in range(4):
        gap, outside = _gap(scaled, means, first, last)
        scatter = 1.4826 * np.median(np.abs(gap[outside] - np.median(gap[outside])))
        before = (first, last)
        while first > least and gap[first - 1] < -2 * scatter:
            first -= 1
        while last < means.size - least and gap[last] < -2 * scatter:
            last += 1
        if before == (first, last):
            break
    return first, last


def _gap(scaled, means, first: int, last: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the levels against a parabola through those outside a band, and which these are."""
    outside = np.ones(means.size, bool)
    outside[first:last] = False
    return means - np.polyval(np.polyfit(scaled[outside], means[outside], 2), scaled), outside


def across_um(
    shape: tuple[int, int], pixel_width_um: float, pixel_height_um: float, stroke_deg: float
) -> np.ndarray:
    """Return the place of every point across the stroke, µm from the middle, (rows, cols)."""
    along, down = grid_um(shape, pixel_width_um, pixel_height_um)
    turn = math.radians(stroke_deg)
    # The stroke runs along (cos, -sin) in (along, down), since directions grow anticlockwise and rows run downwards.
    return along * math.sin(turn) + down * math.cos(turn)


def _cross_profile(heights_um, across, bins: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the middles of bins across the stroke, the mean height in each, and the number of known points."""
    edges = np.linspace(across.min(), across.max(), bins + 1)
    known = np.isfinite(heights_um)
    place = np.clip(np.digitize(across[known], edges) - 1, 0, bins - 1)
    counts = np.bincount(place, minlength=bins)
    sums = np.bincount(place, weights=heights_um[known], minlength=bins)
    return 0.5 * (edges[1:] + edges[:-1]), sums / np.maximum(counts, 1), counts


def measure_track(
    heights_um: np.ndarray, inside: np.ndarray, pixel_width_um: float, pixel_height_um: float, stroke_deg: float
) -> Track:
    """Return depth and volume of the track ``inside``, bool (rows, cols), of a map (rows, cols) µm with NaN for gaps.

    Missing heights are filled for the volume. A rim as wide as a twentieth of the track
    stays out of reference and core on either side of each edge.
    Raises ValueError when less than a twentieth of the map is left for the reference.
    """
    shape = heights_um.shape
    across = across_um(shape, pixel_width_um, pixel_height_um, stroke_deg)
    low, high = float(across[inside].min()), float(across[inside].max())
    rim = 0.05 * (high - low)
    sides = ~inside & ((across < low - rim) | (across > high + rim))
    if sides.mean() < 0.05:
        raise ValueError("less than a twentieth of the map is unworn; measure a map that reaches beyond the track")
    one_side = min((across[sides] < low).mean(), (across[sides] > high).mean()) < LEAST_SIDE
    order = 1 if one_side else 2
    rows, cols = shape
    along, down = np.meshgrid(np.linspace(-1, 1, cols), np.linspace(-1, 1, rows))
    known = sides & np.isfinite(heights_um)
    terms = polynomial_terms(along[known], down[known], order)
    if terms.shape[0] < 10 * terms.shape[1]:
        raise ValueError("too few heights were measured on the unworn sides; measure again with more light")
    solution = np.linalg.solve(terms.T @ terms, terms.T @ heights_um[known])
    reference = (polynomial_terms(along.ravel(), down.ravel(), order) @ solution).reshape(shape)
    below = reference - fill_missing(heights_um)
    point_um2 = pixel_width_um * pixel_height_um
    area_um2 = float(inside.sum()) * point_um2
    volume_um3 = float(below[inside].sum()) * point_um2
    turned = math.radians(stroke_deg)
    width = high - low + pixel_width_um * abs(math.sin(turned)) + pixel_height_um * abs(math.cos(turned))
    length = area_um2 / width
    depth = volume_um3 / area_um2
    along_um = across_um(shape, pixel_width_um, pixel_height_um, stroke_deg - 90)
    strips = depth_of_strips(heights_um, inside, sides, across, along_um, order)
    depth_u = float(strips.std(ddof=1) / math.sqrt(strips.size)) if strips.size >= 4 else math.nan
    places, means, counts = _cross_profile(-below, across, BINS * 2)
    smooth = np.convolve(means, np.ones(5) / 5, mode="same")
    within = (places >= low) & (places <= high) & (counts > 0)
    return Track(
        inside=inside, core=inside & (across > low + rim) & (across < high - rim), sides=sides, reference_um=reference, width_um=width, length_um=length, depth_um=depth,
        depth_u_um=depth_u, deepest_um=float(-smooth[within].min()) if within.any() else math.nan,
        section_um2=volume_um3 / length, section_u_um2=depth_u * width, volume_mm3=volume_um3 * 1e-9,
        volume_u_mm3=depth_u * area_um2 * 1e-9, cross_at_um=places[counts > 0], cross_um=means[counts > 0],
        one_side=one_side,
    )  # fmt: skip


def depth_of_strips(
    heights_um: np.ndarray, inside: np.ndarray, sides: np.ndarray, across: np.ndarray, along: np.ndarray, order: int
) -> np.ndarray:
    """Return the mean depth, µm, that each of SEGMENTS strips along the stroke shows by itself, with a reference of its own.

    Strips with too little of track or sides are left out.
    """
    strip = np.floor((along - along.min()) / (np.ptp(along) * (1 + 1e-9)) * SEGMENTS).astype(int)
    middle, fair = across[inside].mean(), sides.sum() / SEGMENTS
    depths = []
    for number in range(SEGMENTS):
        here = strip == number
        places, side, side_count = _cross_profile(np.where(here & sides, heights_um, np.nan), across, BINS)
        _, track, track_count = _cross_profile(np.where(here & inside, heights_um, np.nan), across, BINS)
        left, right = (side_count[part].sum() for part in (places < middle, places > middle))
        enough = min(left, right) if order == 2 else max(left, right)
        if enough < 0.05 * fair or track_count.sum() < 0.5 * inside.sum() / SEGMENTS or np.sum(side_count > 0) < order + 3:
            continue
        scaled = places / np.abs(places).max()
        fitted = np.polyfit(scaled, side, order, w=np.sqrt(side_count))
        depths.append(np.average(np.polyval(fitted, scaled) - track, weights=track_count))
    return np.array(depths)
