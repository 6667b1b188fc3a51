"""Lay directions of a field, the hone angle between them and the stroke they imply.

Straight parallel grooves put their power into a narrow ridge of the spectrum, at right angles to the grooves. The rose
(share of power by direction, every spatial frequency counted alike) therefore shows a lay as a narrow peak over a
level that non-directional texture, graphite and noise share. A direction is a lay only if its peak is high, narrow and
seen in several parts of the field; two lays are taken, and with no stroke stated both are needed.

Marks along the stroke are as straight, and stains and flakes hide lays in the spectrum. Where a network has found the grooves,
their own directions (semwear.groove_directions) come first; the spectrum then adds a second lay that only few grooves back.

The hone angle is the included angle between the lays that is bisected by the direction ACROSS the stroke (on a liner
the circumference). Two lays have two bisectors, and which of them is the stroke can't be read off two directions alone.
With no stroke stated it is decided in this order, and flagged ``stroke from lays`` in every case:
1. marks along one of the bisectors (running-in and finishing scratches follow the stroke) decide, unless they run along
   the picture's rows, where line noise of the scan looks the same;
2. else the stroke is taken as the bisector of the obtuse angle, so that the hone angle is at most 90°: usual hone angles
   are 30–60° (shared trade knowledge, from memory). For helical slide honing (140–150°) state the stroke.
A stated stroke that bisects no lays may itself be wrong. Two lays that are clear enough without any stroke are then kept,
without a hone angle.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING

import cv2
import numpy as np

from semwear.rose import BINS_PER_DEGREE, beside, entries_near, quarters, smoothed, tops

if TYPE_CHECKING:
    from semwear.groove_directions import GrooveDirections
    from semwear.prepare import PreparedField

WORKING_SIDE_PX = 640
"""Longest side of the reduced picture whose spectrum is taken, px."""
FINEST_WORKING_PIXEL_UM = 0.4
"""Hone grooves are several µm wide: finer pixels add noise only, µm."""
WAVELENGTHS_PX = (4.0, 80.0)
"""Band of spatial wavelengths that the rose counts, working px."""
BESIDE_DEG = 6.0
"""Distance on both sides of a peak at which its foot is taken, and within which a peak is the highest."""
HEIGHT_MIN = 2.4
"""Least height of a lay's peak, in multiples of the rose's median (noise and textures stay below 1.7)."""
NARROWNESS_MIN = 2.4
"""Least height of a lay's peak over the rose 6° beside it."""
PART_HEIGHT_MIN, PART_NARROWNESS_MIN = 1.8, 1.6
"""The same for a quarter of the field."""
PARTS_MIN = 2
"""Quarters of the field, of four, in which a lay has to be seen."""
STROKE_CLEARANCE_DEG = 6.0
"""A direction nearer than this to the stroke is a stroke mark, not a lay."""
ROW_CLEARANCE_DEG = 2.0
"""Marks nearer than this to the picture's rows may be line noise of the scan."""
CLEAR_NARROWNESS_MIN = 4.5
"""Least narrowness of the narrower lay of a pair, or of a lay that stands alone (rows of text stay below 4.2)."""
MIRROR_HEIGHT_MIN, MIRROR_NARROWNESS_MIN = 1.7, 1.5
"""Least height and narrowness of a second lay at the mirror image of the first about a stated stroke."""
MIRROR_TOLERANCE_DEG = 5.0
"""Largest distance of the second lay from that mirror image."""
ACROSS_CLEARANCE_DEG = 8.0
"""A lay that stands alone and runs this nearly across the stroke is not a hone lay."""
ASYMMETRY_MAX_DEG = 10.0
"""Largest angle between the stated stroke and the bisector of a pair of lays that make a hone angle."""
SHARPER_WITHIN_DEG = 2.0
"""A peak of the picture nearer than this to a lay of the grooves is that lay."""
SAME_LAY_DEG = 5.0
"""Directions nearer to each other than this are the same lay, seen in the picture and by its grooves."""
STROKE_MARK_NARROWNESS = 1.5
"""Narrowness of the rose at a bisector from which marks along it count as evidence of the stroke."""


@dataclass(frozen=True, kw_only=True)
class Lays:
    """Directions of the hone lays of one field.

    directions_deg: none, one or two directions in [0, 180), strongest first; hone_angle_deg: included angle between the two
    lays, bisected by the direction across the stroke, or nan; stroke_deg: stroke used, or nan; stroke_source: ``given``,
    ``bisector of the lays`` or empty; flags.
    """

    directions_deg: tuple[float, ...]
    hone_angle_deg: float
    stroke_deg: float
    stroke_source: str
    flags: tuple[str, ...]


def direction_difference(first_deg, second_deg):
    """Return first minus second as undirected lines, in (-90, 90] degrees.

    >>> direction_difference(5.0, 175.0)
    10.0
    """
    difference = 90.0 - (90.0 - (np.asarray(first_deg, dtype=float) - second_deg)) % 180.0
    return float(difference) if np.ndim(difference) == 0 else difference


def hone_angle(first_deg: float, second_deg: float, stroke_deg: float) -> float:
    """Return the included angle between two lays that the direction across the stroke bisects, degrees.

    Both lays are measured from the direction across the stroke; the hone angle is the difference of the two.

    >>> hone_angle(20.0, 160.0, 90.0)
    40.0
    >>> hone_angle(20.0, 160.0, 0.0)
    140.0
    """
    across = stroke_deg + 90.0
    return float(abs(direction_difference(first_deg, across) - direction_difference(second_deg, across)))


def angular_rose(image: np.ndarray, assessed: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Return the power of a picture by direction of the lines in it, in multiples of the median over all directions.

    image: (rows, cols) float32, zero mean over the assessed pixels; assessed: (rows, cols) bool. Result: float64 array
    of 180 × BINS_PER_DEGREE values; entry i stands for lines along i / BINS_PER_DEGREE degrees. Power is divided by its
    median over direction at every spatial frequency and clipped, so that no single frequency decides.
    A picture without contrast gives ones.
    """
    return _rose(*_reduced(image, assessed, pixel_size_um))


def _reduced(image: np.ndarray, assessed: np.ndarray, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Return a picture and its assessed share at the working size, both (rows, cols) float32."""
    reduction = max(max(image.shape) / WORKING_SIDE_PX, FINEST_WORKING_PIXEL_UM / pixel_size_um)
    reduction = max(1.0, min(reduction, min(image.shape) / 128))
    size = (max(1, round(image.shape[1] / reduction)), max(1, round(image.shape[0] / reduction)))
    clipped = np.where(assessed, np.clip(image, -3.0, 3.0), 0.0).astype(np.float32)
    share = assessed.astype(np.float32)
    if reduction > 1.0:
        clipped = cv2.resize(clipped, size, interpolation=cv2.INTER_AREA)
        share = cv2.resize(share, size, interpolation=cv2.INTER_AREA)
    return clipped, share


def _rose(reduced: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Return the rose of a reduced picture, tapered to 0 towards its edges and what is not assessed."""
    rows, cols = reduced.shape
    weight = np.clip(2.0 * cv2.blur(share, (9, 9), borderType=cv2.BORDER_REPLICATE) - 1.0, 0.0, 1.0)
    weight *= np.sqrt(np.outer(np.hanning(rows + 2)[1:-1], np.hanning(cols + 2)[1:-1])).astype(np.float32)
    bins = 180 * BINS_PER_DEGREE
    if weight.sum() < 1.0:
        return np.ones(bins)
    # Each row against its own mean: line noise of the scan is no lay along the rows.
    level = (reduced * weight).sum(axis=1, keepdims=True) / np.maximum(weight.sum(axis=1, keepdims=True), 1e-6)
    reduced = (reduced - level) * weight
    side = cv2.getOptimalDFTSize(max(rows, cols))
    padded = np.zeros((side, side), np.float32)
    padded[:rows, :cols] = reduced
    # The transform of a real picture is symmetric about 0, so half of the plane (columns >= 0) holds every direction.
    transform = np.fft.rfft2(padded)
    power = np.fft.fftshift(transform.real**2 + transform.imag**2, axes=0).astype(np.float32)
    radius = np.arange(side / WAVELENGTHS_PX[1], side / WAVELENGTHS_PX[0], dtype=np.float32)
    # Lines along a direction vary across it: their power lies 90° further on. Rows grow downwards on the screen.
    across = np.deg2rad(np.arange(bins) / BINS_PER_DEGREE - 90.0)
    columns = np.outer(np.cos(across), radius).astype(np.float32)
    lines = (side // 2 - np.outer(np.sin(across), radius)).astype(np.float32)
    polar = cv2.remap(power, columns, lines, cv2.INTER_LINEAR)
    level = np.median(polar, axis=0)
    if not np.all(level > 0.0):
        return np.ones(bins)
    rose = np.minimum(polar / level, 60.0).mean(axis=1, dtype=np.float64)
    rose = smoothed(rose, 0.75)
    return rose / np.median(rose)


def _seen_near(rose: np.ndarray, direction_deg: float, tolerance_deg: float = 2.0) -> tuple[float, float]:
    """Return height and narrowness of the rose's highest point near a direction."""
    best = max(entries_near(rose, direction_deg, tolerance_deg), key=lambda index: rose[index])
    return float(rose[best]), float(rose[best]) / beside(rose, best, BESIDE_DEG)


def _top_near(
    rose: np.ndarray, direction_deg: float, tolerance_deg: float, height_min: float, narrowness_min: float
) -> int | None:
    """Return the entry of the rose's highest point near a direction, or None where that is low, broad or another peak's flank."""
    near = entries_near(rose, direction_deg, tolerance_deg)
    index = int(near[np.argmax(rose[near])])
    if rose[index] < height_min or rose[index] < narrowness_min * beside(rose, index, BESIDE_DEG):
        return None
    return None if rose[index] < max(rose[index - 1], rose[(index + 1) % rose.size]) else index


def _peak_direction(rose: np.ndarray, index: int) -> float:
    """Return the direction of a peak as the centroid of its upper half within 2.5°, degrees in [0, 180)."""
    reach = round(2.5 * BINS_PER_DEGREE)
    offsets = np.arange(-reach, reach + 1)
    heights = rose[(index + offsets) % rose.size]
    weights = np.clip(heights - (rose[index] + beside(rose, index, BESIDE_DEG)) / 2.0, 0.0, None)
    return float((index + (weights * offsets).sum() / weights.sum()) / BINS_PER_DEGREE % 180.0)


def _peaks(rose: np.ndarray) -> list[tuple[float, float]]:
    """Return (direction, height) of every narrow high peak of a rose, highest first."""
    narrow = tops(rose, reach_deg=BESIDE_DEG, height_min=HEIGHT_MIN, beside_deg=BESIDE_DEG, narrowness_min=NARROWNESS_MIN)
    return sorted(((_peak_direction(rose, index), float(rose[index])) for index in narrow), key=lambda peak: -peak[1])


def _quarter_roses(reduced: np.ndarray, share: np.ndarray) -> list[np.ndarray]:
    """Return the roses of the four quarters of a reduced picture."""
    return [_rose(reduced[part], share[part]) for part in quarters(reduced.shape)]


def _widespread(peaks: list[tuple[float, float]], quarters: list[np.ndarray]) -> list[tuple[float, float]]:
    """Return the peaks that are seen in enough quarters of the field."""
    kept = []
    for direction, height in peaks:
        seen = [_seen_near(rose, direction) for rose in quarters]
        parts = sum(high >= PART_HEIGHT_MIN and narrow >= PART_NARROWNESS_MIN for high, narrow in seen)
        if parts >= PARTS_MIN:
            kept.append((direction, height))
    return kept


def _bisectors(first_deg: float, second_deg: float) -> tuple[float, float]:
    """Return the bisector of the acute angle between two directions and that of the obtuse one, degrees."""
    acute = (second_deg + direction_difference(first_deg, second_deg) / 2.0) % 180.0
    return acute, (acute + 90.0) % 180.0


def _off_nearest(direction_deg: float, others_deg: tuple[float, float]) -> float:
    """Return the angle between a direction and the nearer of two others, degrees."""
    return min(abs(direction_difference(direction_deg, other)) for other in others_deg)


def _stroke_from_lays(first_deg: float, second_deg: float, rose: np.ndarray) -> float:
    """Return the bisector of two lays that is taken as the stroke: see the order in the module's docstring."""
    acute, obtuse = _bisectors(first_deg, second_deg)
    narrowness = []
    for bisector in (acute, obtuse):
        clear = (
            abs(direction_difference(bisector, 0.0)) > ROW_CLEARANCE_DEG
            and abs(direction_difference(bisector, first_deg)) > 2 * STROKE_CLEARANCE_DEG
        )
        narrowness.append(_seen_near(rose, bisector)[1] if clear else 1.0)
    return acute if narrowness[0] >= max(STROKE_MARK_NARROWNESS, narrowness[1]) else obtuse


def find_lays(
    prepared: PreparedField, *, stroke_deg: float | None = None, grooves: GrooveDirections | None = None, run: bool = True
) -> Lays:
    """Return the lay directions of a field, its hone angle and its stroke.

    stroke_deg: direction of the stroke, degrees in [0, 180) anticlockwise from the picture's rows, or None to take it
    from the lays. With a stroke stated one lay suffices (flag ``one lay only``); without one, a single direction can't
    be told from scratches along the stroke and counts as none. Two clear lays that a stated stroke doesn't bisect give no
    hone angle (flag ``stroke off bisector``). No lay gives empty tuples and ``no lay found``.
    grooves: directions of the grooves where a network has found them; they come before what the picture shows. run: whether
    the ring may have run there and left marks that the picture shows like a lay.
    Raises ValueError for a stroke that isn't a finite number.
    """
    if stroke_deg is not None:
        if not np.isfinite(stroke_deg):
            raise ValueError(f"stroke_deg is {stroke_deg}; state a direction in degrees or leave it out")
        stroke_deg = float(stroke_deg) % 180.0
    if min(prepared.image.shape) < 32 or not prepared.assessed.any():
        return _no_lays(stroke_deg)
    reduced, share = _reduced(prepared.image, prepared.assessed, prepared.pixel_size_um)
    rose = _rose(reduced, share)
    lays = [] if grooves is None else _off_stroke([(_sharpened(lay, rose), share) for lay, share in grooves.lays], stroke_deg)
    if (pair := _pair_of_grooves(lays, stroke_deg, rose)) is not None:
        return pair
    peaks = _peaks(rose)
    if peaks:
        peaks = _widespread(peaks, _quarter_roses(reduced, share))
    seen = _lays_without_stroke(peaks, rose) if stroke_deg is None else _lays_about_stroke(peaks, stroke_deg, rose)
    if grooves is None or not grooves.lays:
        return seen
    # Of the pair seen in the picture one lay must be the grooves' strongest, and the other no mark of the ring.
    others = [lay for lay in seen.directions_deg if lays and abs(direction_difference(lay, lays[0][0])) > SAME_LAY_DEG]
    backed = len(seen.directions_deg) == 2 and len(others) == 1 and (not run or grooves.backs(others[0]))
    if backed and np.isfinite(seen.hone_angle_deg):
        return seen
    if stroke_deg is None:
        return _no_lays(None)
    return _off_bisector(_strongest_pair(lays), stroke_deg) or (seen if backed else _lone(lays, stroke_deg))


def _off_stroke(peaks, stroke_deg: float | None):
    """Return the peaks that aren't marks along a stated stroke."""
    if stroke_deg is None:
        return peaks
    return [peak for peak in peaks if abs(direction_difference(peak[0], stroke_deg)) > STROKE_CLEARANCE_DEG]


def _pair_of_grooves(lays, stroke_deg: float | None, rose: np.ndarray) -> Lays | None:
    """Return the pair of lays that the grooves show, or None."""
    if stroke_deg is not None:
        pair = max(_pairs_about(lays, stroke_deg), key=_weaker_first, default=None)
        return pair and _pair(*pair, stroke_deg, "given", ())
    if (pair := _strongest_pair(lays)) is None:
        return None
    return _pair(*pair, _stroke_from_lays(pair[0][0], pair[1][0], rose), "bisector of the lays", ("stroke from lays",))


def _sharpened(direction_deg: float, rose: np.ndarray) -> float:
    """Return the peak that the picture has near a lay of the grooves, which many fine marks make the sharper, or the lay itself."""
    index = _top_near(rose, direction_deg, SHARPER_WITHIN_DEG, PART_HEIGHT_MIN, PART_NARROWNESS_MIN)
    return direction_deg if index is None else _peak_direction(rose, index)


def _no_lays(stroke_deg: float | None) -> Lays:
    """Return the empty result."""
    return Lays(
        directions_deg=(),
        hone_angle_deg=float("nan"),
        stroke_deg=float("nan") if stroke_deg is None else stroke_deg,
        stroke_source="" if stroke_deg is None else "given",
        flags=("no lay found",),
    )


def _pair(first, second, stroke_deg: float, source: str, flags: tuple[str, ...]) -> Lays:
    """Return the result for two lays."""
    return Lays(
        directions_deg=(first[0], second[0]),
        hone_angle_deg=hone_angle(first[0], second[0], stroke_deg),
        stroke_deg=stroke_deg,
        stroke_source=source,
        flags=flags,
    )


def _off_bisector(pair, stroke_deg: float) -> Lays | None:
    """Return the result for two lays that the stated stroke doesn't bisect, or None."""
    if pair is None:
        return None
    directions = (pair[0][0], pair[1][0])
    # The stroke is stated wrongly in any case: a direction that is nearer to it than a bisector may be marks along the true one.
    if _off_nearest(stroke_deg, directions) <= _off_nearest(stroke_deg, _bisectors(*directions)):
        return None
    return replace(_pair(*pair, stroke_deg, "given", ("stroke off bisector",)), hone_angle_deg=float("nan"))


def _strongest_pair(peaks):
    """Return the two strongest of the peaks, strongest first, without one that bisects two others; None for no honed surface."""
    # Two lays and marks along the stroke make three narrow directions; more of like height is not a honed surface.
    if len(peaks) < 2 or (len(peaks) > 3 and peaks[3][1] > 0.5 * peaks[1][1]):
        return None
    for first, second in combinations(peaks[:3], 2):
        third = [peak for peak in peaks[:3] if peak not in (first, second)]
        if third and _off_nearest(third[0][0], _bisectors(first[0], second[0])) <= 3.0:
            return first, second
    return tuple(peaks[:2])


def _pairs_about(peaks, stroke_deg: float):
    """Return the pairs of peaks that a stroke bisects."""
    return [
        pair
        for pair in combinations(peaks, 2)
        if _off_nearest(stroke_deg, _bisectors(pair[0][0], pair[1][0])) <= ASYMMETRY_MAX_DEG
    ]


def _weaker_first(pair) -> float:
    """Order pairs by their weaker peak, then by the other."""
    return pair[1][1] + 0.1 * pair[0][1]


def _clear_pair(peaks, rose: np.ndarray):
    """Return the strongest pair of peaks where it needs no stroke to be lays, or None."""
    pair = _strongest_pair(peaks)
    return pair if pair and max(_seen_near(rose, direction)[1] for direction, _ in pair) >= CLEAR_NARROWNESS_MIN else None


def _lays_without_stroke(peaks, rose: np.ndarray) -> Lays:
    """Take the strongest pair of peaks, leaving out a peak that bisects the others (marks along the stroke)."""
    if (chosen := _clear_pair(peaks, rose)) is None:
        return _no_lays(None)
    stroke = _stroke_from_lays(chosen[0][0], chosen[1][0], rose)
    return _pair(*chosen, stroke, "bisector of the lays", ("stroke from lays",))


def _mirrored(first_deg: float, stroke_deg: float, rose: np.ndarray) -> tuple[float, float] | None:
    """Return (direction, height) of a weaker lay at the mirror image of a lay about the stroke, or None."""
    mirror = (2.0 * stroke_deg - first_deg) % 180.0
    if abs(direction_difference(mirror, first_deg)) < 2 * STROKE_CLEARANCE_DEG:
        return None
    index = _top_near(rose, mirror, MIRROR_TOLERANCE_DEG, MIRROR_HEIGHT_MIN, MIRROR_NARROWNESS_MIN)
    return None if index is None else (_peak_direction(rose, index), float(rose[index]))


def _lays_about_stroke(peaks, stroke_deg: float, rose: np.ndarray) -> Lays:
    """Take the strongest pair of peaks that the stroke bisects, else one that needs no stroke, else the strongest peak off it."""
    peaks = _off_stroke(peaks, stroke_deg)
    pairs = [
        pair
        for pair in _pairs_about(peaks, stroke_deg)
        if max(_seen_near(rose, direction)[1] for direction, _ in pair) >= CLEAR_NARROWNESS_MIN
    ]
    if pairs:
        return _pair(*max(pairs, key=_weaker_first), stroke_deg, "given", ())
    for first in peaks:
        second = _mirrored(first[0], stroke_deg, rose)
        if second and _seen_near(rose, first[0])[1] >= CLEAR_NARROWNESS_MIN:
            return _pair(first, second, stroke_deg, "given", ())
    clear = [peak for peak in peaks if _seen_near(rose, peak[0])[1] >= CLEAR_NARROWNESS_MIN]
    return _off_bisector(_clear_pair(peaks, rose), stroke_deg) or _lone(clear, stroke_deg)


def _lone(peaks, stroke_deg: float) -> Lays:
    """Return the strongest of the peaks that doesn't run across the stroke as the only lay."""
    lone = [peak for peak in peaks if abs(direction_difference(peak[0], stroke_deg + 90.0)) > ACROSS_CLEARANCE_DEG]
    if not lone:
        return _no_lays(stroke_deg)
    return Lays(
        directions_deg=(lone[0][0],),
        hone_angle_deg=float("nan"),
        stroke_deg=stroke_deg,
        stroke_source="given",
        flags=("one lay only",),
    )
