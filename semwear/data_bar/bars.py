"""Scale bars as shapes: filled bars and lines, lines with end ticks, brackets, and rows of ticks without a line.

Convention for the ends, in pixel coordinates where pixel i covers [i − 0.5, i + 0.5]:

- A filled bar or plain line is drawn from its first to its last pixel, so that its length is that between its outer
  edges, found where the ink falls to half between bar and ground.
- With end ticks, or ticks alone, each tick marks a position by its middle, so that the length runs from the centre of
  the first tick to the centre of the last, found as the centroid of ink across the tick.

Both agree with the pixel sizes that micrographs carry in their metadata to within a pixel (common practice, no source).
An instrument draws the ends on whole pixels, so each end has a standard uncertainty of 1/√12 px (a rectangular
distribution, JCGM 100:2008, 4.3.7), besides the uncertainty of finding it.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np

ROUNDING_U_PX = 1 / math.sqrt(12)
"""Standard uncertainty of an end that was rounded to a whole pixel."""
SHORTEST_BAR_PX = 14
"""Shorter bars are not looked for: one pixel would be 7 % of scale."""
THICKEST_SHARE = 0.5
"""Thickest filled bar, as a share of its length."""
TICK_INTERVALS = (2, 4, 5, 10, 20)
"""Numbers of intervals in a row of ticks that instruments print (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Bar:
    """A shape that may be a scale bar, in the coordinates of its layer.

    kind: "filled", "line", "ticked", "split" (a line broken by its label) or "ticks". start_px, stop_px: column of
    either end by the convention above; row_px: row of the bar. u_px: standard uncertainty of the length. Box: rows
    [row_0, row_1), columns [col_0, col_1), ticks included; parts: the boxes that are inked, in the same order. gap:
    columns left free inside a split bar. intervals: for a row of ticks. doubt: why the shape isn't sure, "" if it is.
    """

    kind: str
    start_px: float
    stop_px: float
    row_px: float
    u_px: float
    row_0: int
    row_1: int
    col_0: int
    col_1: int
    thickness_px: int
    parts: tuple[tuple[int, int, int, int], ...]
    gap: tuple[int, int] | None = None
    intervals: int = 0
    doubt: str = ""

    @property
    def length_px(self) -> float:
        return self.stop_px - self.start_px


@dataclass(frozen=True, kw_only=True)
class _Run:
    row_0: int
    row_1: int
    col_0: int
    col_1: int


def find_bars(plane: np.ndarray, mask: np.ndarray, *, shortest_px: float = SHORTEST_BAR_PX) -> list[Bar]:
    """Find the shapes that may be scale bars in a layer: plane (rows, cols) uint8 with bright ink, mask its ink."""
    runs = _runs(mask, max(SHORTEST_BAR_PX, int(shortest_px)))
    bars = [bar for run in runs if (bar := _line_bar(plane, mask, run)) is not None]
    bars += _split_bars(bars, max(shortest_px, 1.0))
    bars += _tick_rows(plane, mask, max(SHORTEST_BAR_PX, int(shortest_px)))
    return bars


def _runs(mask: np.ndarray, shortest: int) -> list[_Run]:
    """Upright rectangles of ink at least `shortest` columns long (in each half of a split bar too)."""
    ink = mask.astype(np.uint8)
    opened = cv2.morphologyEx(ink, cv2.MORPH_OPEN, np.ones((1, shortest), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(opened, connectivity=4)
    runs = []
    for index in range(1, count):
        left, top, width, height, area = (int(value) for value in stats[index])
        if height > THICKEST_SHARE * width:
            continue
        part = labels[top : top + height, left : left + width] == index
        full = part.mean(axis=1) > 0.9
        if not full.any():
            continue
        first, last = int(np.argmax(full)), height - int(np.argmax(full[::-1]))
        if area < 0.55 * width * height or not full[first] or not full[last - 1]:
            continue
        ends = [np.flatnonzero(row)[[0, -1]] for row in part[first:last]]
        if np.ptp(np.array(ends), axis=0).max() > max(2, 0.35 * height):
            continue
        runs.append(_Run(row_0=top + first, row_1=top + last, col_0=left, col_1=left + width))
    return runs


def _line_bar(plane: np.ndarray, mask: np.ndarray, run: _Run) -> Bar | None:
    """Measure one rectangle of ink: as a line with end ticks if both ends have ticks, else between its outer edges."""
    thickness = run.row_1 - run.row_0
    left = _end_tick(mask, run, at_left=True)
    right = _end_tick(mask, run, at_left=False)
    row = (run.row_0 + run.row_1 - 1) / 2
    line = (run.row_0, run.row_1, run.col_0, run.col_1)
    common = dict(thickness_px=thickness, row_px=row)
    if left is not None and right is not None:
        tall = [tick[1] - tick[0] for tick in (left, right)]
        rows = (min(left[0], right[0]), max(left[1], right[1]))
        wide = [tick[3] - tick[2] for tick in (left, right)]
        start, start_u = _tick_centre(plane, left, run)
        stop, stop_u = _tick_centre(plane, right, run)
        uneven = abs(tall[0] - tall[1]) > max(2, 0.25 * max(tall)) or abs(wide[0] - wide[1]) > max(1, 0.3 * max(wide))
        return Bar(
            kind="ticked",
            start_px=start,
            stop_px=stop,
            u_px=_length_u(start_u, stop_u),
            row_0=rows[0],
            row_1=rows[1],
            col_0=min(run.col_0, left[2]),
            col_1=max(run.col_1, right[3]),
            parts=(line, left, right),
            doubt="its end ticks differ" if uneven else "",
            **common,
        )
    start, start_u, start_sharp = _edge(plane, run, at_left=True)
    stop, stop_u, stop_sharp = _edge(plane, run, at_left=False)
    doubt = ""
    if (left is None) != (right is None):
        doubt = "it has a tick at one end only"
    elif not (start_sharp and stop_sharp):
        doubt = "an end of it melts into the picture"
    return Bar(
        kind="filled" if thickness >= 4 else "line",
        start_px=start,
        stop_px=stop,
        u_px=_length_u(start_u, stop_u),
        row_0=run.row_0,
        row_1=run.row_1,
        col_0=run.col_0,
        col_1=run.col_1,
        parts=(line,),
        doubt=doubt,
        **common,
    )


def _length_u(start_u: float, stop_u: float) -> float:
    return math.sqrt(start_u**2 + stop_u**2 + 2 * ROUNDING_U_PX**2)


def _end_tick(mask: np.ndarray, run: _Run, *, at_left: bool) -> tuple[int, int, int, int] | None:
    """Return the box (row_0, row_1, col_0, col_1) of a tick that stands on the outermost columns, or None."""
    rows, cols = mask.shape
    end = run.col_0 if at_left else run.col_1 - 1
    inward = 1 if at_left else -1
    thickness = run.row_1 - run.row_0

    def extent(col: int) -> tuple[int, int]:
        up, down = run.row_0, run.row_1
        while up > 0 and mask[up - 1, col]:
            up -= 1
        while down < rows and mask[down, col]:
            down += 1
        return up, down

    best = extent(end)
    if (best[1] - best[0]) - thickness < 2 and 0 <= end + inward < cols:
        best = extent(end + inward)
    rise = (best[1] - best[0]) - thickness
    if rise < max(2, 0.6 * thickness) or (best[1] - best[0]) > 3 * (run.col_1 - run.col_0):
        return None
    columns = []
    for step in range(-2, max(3, (run.col_1 - run.col_0) // 4)):
        col = end + inward * step
        if not 0 <= col < cols:
            continue
        up, down = extent(col) if mask[run.row_0 : run.row_1, col].any() else (run.row_0, run.row_0)
        tall = (down - up) - thickness >= 0.7 * rise
        if tall:
            columns.append(col)
        elif columns:
            break
    if not columns or len(columns) > max(6, 0.6 * (best[1] - best[0])):
        return None
    return best[0], best[1], min(columns), max(columns) + 1


def _tick_centre(plane: np.ndarray, tick: tuple[int, int, int, int], run: _Run) -> tuple[float, float]:
    """Centroid of ink across a tick, from its rows beyond the line; (column, standard uncertainty)."""
    row_0, row_1, col_0, col_1 = tick
    beyond = [row for row in range(row_0, row_1) if not run.row_0 - 1 <= row <= run.row_1]
    trimmed = beyond[1:-1] if len(beyond) > 4 else beyond or list(range(row_0, row_1))
    low, high = max(col_0 - 2, 0), min(col_1 + 2, plane.shape[1])
    profile = plane[trimmed, low:high].astype(np.float64)
    return _centroid(np.median(profile, axis=0), low, col_0, col_1)


def _centroid(profile: np.ndarray, low: int, col_0: int, col_1: int) -> tuple[float, float]:
    ground = max(profile[0], profile[-1])
    weight = np.clip(profile - ground, 0, None)
    if weight.sum() <= 0:
        return (col_0 + col_1 - 1) / 2, 0.5
    at = float((weight * np.arange(low, low + len(profile))).sum() / weight.sum())
    middle = (col_0 + col_1 - 1) / 2
    return (at, 0.15) if abs(at - middle) <= 0.75 else (middle, 0.4)


def _edge(plane: np.ndarray, run: _Run, *, at_left: bool) -> tuple[float, float, bool]:
    """Half-height position of a bar's outer edge by linear interpolation: (column, standard uncertainty, sharp)."""
    thickness = run.row_1 - run.row_0
    rows = slice(run.row_0 + 1, run.row_1 - 1) if thickness >= 4 else slice(run.row_0, run.row_1)
    profile = np.median(plane[rows].astype(np.float64), axis=0)
    if not at_left:
        profile = profile[::-1]
    end = run.col_0 if at_left else plane.shape[1] - run.col_1
    depth = min(8, (run.col_1 - run.col_0) // 3)
    inside = float(np.median(profile[end + 1 : end + 1 + depth]))
    outside_part = profile[max(end - 5, 0) : max(end - 1, 0)]
    if not len(outside_part):
        return (float(run.col_0) - 0.5 if at_left else float(run.col_1) - 0.5), 0.5, False
    outside = float(np.median(outside_part))
    half = (inside + outside) / 2
    col = end + 2
    while col > max(end - 4, 0) and profile[col] > half:
        col -= 1
    lower, upper = profile[col], profile[col + 1]
    at = col + (half - lower) / (upper - lower) if upper > lower else col + 0.5
    # A pixel of full ink next to one of none puts the crossing midway between their centres: the outer edge.
    sharp = inside - outside > 50 and abs(at - (end - 0.5)) <= 1.5
    return (at if at_left else plane.shape[1] - 1 - at), 0.15 if sharp else 0.5, sharp


def _split_bars(bars: list[Bar], shortest_px: float) -> list[Bar]:
    """Join two pieces of a line in the same rows whose label stands in the gap between them."""
    found = []
    for one in bars:
        for other in bars:
            gap = other.col_0 - one.col_1
            if one is other or not gap >= 8 or one.thickness_px > 12:
                continue
            alike = abs(one.row_px - other.row_px) <= 1 and abs(one.thickness_px - other.thickness_px) <= 1
            sizes = sorted((one.length_px, other.length_px))
            if not alike or sizes[0] < 0.6 * sizes[1] or gap > 8 * sizes[1]:
                continue
            found.append((one, other, (one.col_1, other.col_0)))
    return [
        Bar(
            kind="split",
            start_px=one.start_px,
            stop_px=other.stop_px,
            row_px=one.row_px,
            u_px=math.hypot(one.u_px, other.u_px) / math.sqrt(2),
            row_0=min(one.row_0, other.row_0),
            row_1=max(one.row_1, other.row_1),
            col_0=one.col_0,
            col_1=other.col_1,
            thickness_px=one.thickness_px,
            parts=one.parts + other.parts,
            gap=gap,
        )
        for one, other, gap in found
    ]


def _tick_rows(plane: np.ndarray, mask: np.ndarray, shortest: int) -> list[Bar]:
    """Find rows of equal, equally spaced ticks that no line joins."""
    count, _, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    boxes = stats[1:count]
    if not len(boxes):
        return []
    left, top, width, height, area = boxes.T
    thin = (height >= 3) & (height <= 60) & (width <= 10) & (height >= 1.2 * width) & (area >= 0.8 * width * height)
    left, top, width, height = left[thin], top[thin], width[thin], height[thin]
    found = []
    used = np.zeros(len(left), bool)
    for index in np.argsort(-height, kind="stable"):
        if used[index]:
            continue
        alike = (np.abs(top - top[index]) <= 1) & (np.abs(height - height[index]) <= 1)
        alike &= np.abs(width - width[index]) <= 1
        members = np.flatnonzero(alike & ~used)
        if len(members) < 3:
            continue
        bar = _spaced(plane, left[members], width[members], int(top[index]), int(height[index]), shortest)
        if bar is not None:
            used[members] = True
            found.append(bar)
    return found


def _spaced(plane, left, width, top: int, height: int, shortest: int) -> Bar | None:
    """Fit equal spacing to ticks of equal size, look for more beyond either end, and count the intervals."""
    centres = np.sort(left + (width - 1) / 2)
    wide = int(np.median(width))
    best = None
    gaps = np.diff(centres)
    for step in np.unique(np.round(gaps[gaps >= max(4, 2.5 * wide)] * 2) / 2):
        for origin in centres[: max(1, len(centres) - 2)]:
            places = np.round((centres - origin) / step)
            fit = (np.abs(centres - origin - places * step) <= 1.0 + 0.02 * step) & (np.abs(places) <= 40)
            if best is None or fit.sum() > best[0]:
                best = (int(fit.sum()), step, origin, fit, places)
    if best is None or best[0] < 3:
        return None
    _, _, origin, fit, places = best
    step, offset = np.polyfit(places[fit], centres[fit], 1)
    first, last = int(places[fit].min()), int(places[fit].max())
    contrast = [_tick_contrast(plane, offset + step * place, wide, top, height) for place in range(first, last + 1)]
    level = float(np.median(contrast))
    doubt = ""
    if level < 40:
        return None
    for direction in (-1, 1):
        while True:
            place = (first if direction < 0 else last) + direction
            seen = _tick_contrast(plane, offset + step * place, wide, top, height)
            if seen < 0.35 * level:
                break
            if seen < 0.6 * level:
                doubt = "a tick at its end isn't sure"
            first, last = (place, last) if direction < 0 else (first, place)
    intervals = last - first
    if intervals * step < shortest or intervals < 2:
        return None
    if fit.sum() < 0.6 * (intervals + 1) or min(contrast) < 0.3 * level:
        doubt = "ticks are missing from its row"
    elif intervals not in TICK_INTERVALS:
        doubt = f"it has {intervals} intervals, which no instrument prints"
    start, start_u = _tick_at(plane, offset + step * first, wide, top, height)
    stop, stop_u = _tick_at(plane, offset + step * last, wide, top, height)
    return Bar(
        kind="ticks",
        start_px=start,
        stop_px=stop,
        row_px=top + (height - 1) / 2,
        u_px=_length_u(start_u, stop_u),
        row_0=top,
        row_1=top + height,
        col_0=int(math.floor(start - wide / 2)),
        col_1=int(math.ceil(stop + wide / 2)) + 1,
        thickness_px=height,
        parts=tuple(
            (top, top + height, int(round(offset + step * place - wide / 2)), int(round(offset + step * place + wide / 2)) + 1)
            for place in range(first, last + 1)
        ),
        intervals=intervals,
        doubt=doubt,
    )


def _tick_contrast(plane: np.ndarray, centre: float, wide: int, top: int, height: int) -> float:
    """Ink at a place where a tick should stand, less the brighter of its two sides; 0 outside the picture."""
    low = int(round(centre - (wide - 1) / 2))
    side = max(2, wide)
    if low - side - 1 < 0 or low + wide + side + 1 > plane.shape[1]:
        return 0.0
    rows = plane[top + 1 : top + height - 1] if height > 4 else plane[top : top + height]
    inside = float(np.percentile(rows[:, low : low + wide], 25))
    before = float(np.median(rows[:, low - side - 1 : low - 1]))
    after = float(np.median(rows[:, low + wide + 1 : low + wide + side + 1]))
    return inside - max(before, after)


def _tick_at(plane: np.ndarray, centre: float, wide: int, top: int, height: int) -> tuple[float, float]:
    low = int(round(centre - (wide - 1) / 2))
    rows = plane[top + 1 : top + height - 1] if height > 4 else plane[top : top + height]
    left, right = max(low - 2, 0), min(low + wide + 2, plane.shape[1])
    return _centroid(np.median(rows[:, left:right].astype(np.float64), axis=0), left, low, low + wide)
