"""A scale bar's two ends to a fraction of a pixel, and how sure they are.

Convention, in coordinates where the centre of pixel i is at i:

- A solid bar or plain line is drawn from its first to its last pixel, so that its length is that between its outer
  edges, found where the ink falls to half between bar and ground.
- With end ticks, or ticks alone, each tick marks a place by its middle and its width is only that of the pen, so that
  the length runs from the centre of the first tick to the centre of the last, found as the centroid of ink.
  Some hands measure broad ticks over all, so that ticks of more than 3 px add half their width to the uncertainty (a
  rectangular distribution), and a bar that they make up more than 4 % of is refused, unless a printed size proves it.

Both agree with the pixel sizes that micrographs carry in their metadata to within a pixel (common practice, no source).
An instrument draws the ends on whole pixels, so each end has a standard uncertainty of 1/√12 px (a rectangular
distribution, JCGM 100:2008, 4.3.7), besides the uncertainty of finding it.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

ROUNDING_U_PX = 1 / math.sqrt(12)
"""Standard uncertainty of an end that was rounded to a whole pixel."""
FOUND_U_PX, DOUBTFUL_U_PX = 0.15, 0.5
"""Standard uncertainty of finding an end, if it stands out and if it doesn't (this project's own estimates)."""
MOST_SOFT_PX = 2
"""Pixels between 20 % and 80 % of the ink across an end that is cut off."""
BEYOND_PX = 3
"""Pixels beyond the ink of which the darkest is the ground."""
LEAST_SOLID = 0.9
"""Share of its box that the ink of a solid bar takes at least."""
LEAST_CONTRAST = 50.0
"""Grey levels (of 255) by which an end must stand out."""

STEP_SPREAD, STEP_REACH_PX = 0.02, 5
"""Difference in ink of neighbouring pixels up to which they are a step of one tone, and pixels from an end in which one is
looked for."""

CARRIED_ON = "another piece carries it on"
BOX_OF_LABEL = "it may be no more than the box of its label"
MELTS = "an end of it melts into the picture"

Box = tuple[int, int, int, int]
"""Rows [0], [1]) and columns [2], [3]) of an upright box of a layer."""


@dataclass(frozen=True, kw_only=True)
class Bar:
    """A shape that may be a scale bar, in the coordinates of its layer.

    kind: "filled", "line", "ticked", "split" (a line broken by its label) or "ticks". start_px, stop_px: column of
    either end by the convention above; row_px: row of the bar. u_px: standard uncertainty of the length. box: all of
    it, ticks included; parts: the boxes that are inked. gap: columns left free inside a split bar. outer_ticks: (left,
    right), whether the ends have ticks. doubt: why the shape isn't sure, "" if it is.
    """

    kind: str
    start_px: float
    stop_px: float
    row_px: float
    u_px: float
    box: Box
    thickness_px: int
    parts: tuple[Box, ...]
    gap: tuple[int, int] | None = None
    outer_ticks: tuple[bool, bool] = (False, False)
    doubt: str = ""

    @property
    def length_px(self) -> float:
        return self.stop_px - self.start_px

    @property
    def is_row(self) -> bool:
        """Whether the bar is a row of ticks or of blocks that nothing joins."""
        return self.kind == "ticks" or (self.kind in ("filled", "line") and len(self.parts) >= 3)

    @property
    def row_0(self) -> int:
        return self.box[0]

    @property
    def row_1(self) -> int:
        return self.box[1]

    @property
    def col_0(self) -> int:
        return self.box[2]

    @property
    def col_1(self) -> int:
        return self.box[3]


def plain_bar(box: Box, start_px: float, stop_px: float, u_px: float, *, parts: tuple[Box, ...], doubt: str) -> Bar:
    """Return a bar without ticks as high as its box: "filled" from four rows on, else "line"."""
    thickness = box[1] - box[0]
    return Bar(
        kind="filled" if thickness >= 4 else "line", start_px=start_px, stop_px=stop_px,
        row_px=(box[0] + box[1] - 1) / 2, u_px=u_px, box=box, thickness_px=thickness, parts=parts, doubt=doubt,
    )  # fmt: skip


def length_u_px(start_u_px: float, stop_u_px: float) -> float:
    """Combine the uncertainties of finding both ends with that of their rounding to whole pixels."""
    return math.sqrt(start_u_px**2 + stop_u_px**2 + 2 * ROUNDING_U_PX**2)


def outer_edge(plane: np.ndarray, line: Box, *, at_left: bool, beyond_px: int = BEYOND_PX) -> tuple[float, float]:
    """Return (column, standard uncertainty) of the outer edge of a bar at one end, by linear interpolation.

    plane: (rows, cols) uint8, ink bright; beyond_px: reach beyond the line in which its ground is looked for. A pixel of full
    ink next to one of none puts the crossing midway between their centres, which is the edge of the pixel.

    >>> plane = np.zeros((5, 40), np.uint8)
    >>> plane[1:4, 10:30] = 255
    >>> outer_edge(plane, (1, 4, 10, 30), at_left=True)[0], outer_edge(plane, (1, 4, 10, 30), at_left=False)[0]
    (9.5, 29.5)
    """
    row_0, row_1, col_0, col_1 = line
    rows = slice(row_0 + 1, row_1 - 1) if row_1 - row_0 >= 4 else slice(row_0, row_1)
    profile = np.median(plane[rows].astype(np.float64), axis=0)
    columns = plane.shape[1]
    end, other = (col_0, col_1) if at_left else (columns - col_1, columns - col_0)
    if not at_left:
        profile = profile[::-1]
    depth = max(2, min(8, (other - end) // 3))
    inside = float(np.median(profile[end + 1 : end + 1 + depth]))
    beyond = profile[max(end - beyond_px, 0) : end]
    if not len(beyond):
        return (-0.5 if at_left else columns - 0.5), DOUBTFUL_U_PX
    outside = float(beyond.min())
    half = (inside + outside) / 2
    col = end + 2
    while col > max(end - 4, 0) and profile[col] > half:
        col -= 1
    lower, upper = profile[col], profile[col + 1]
    at = col + (half - lower) / (upper - lower) if upper > lower else col + 0.5
    share = (profile[max(end - 4, 0) : end + 5] - outside) / max(inside - outside, 1e-9)
    soft = _soft_px(share, col - max(end - 4, 0)) > MOST_SOFT_PX
    sure = inside - outside > LEAST_CONTRAST and abs(at - (end - 0.5)) <= 1.5 and not soft
    return (float(at) if at_left else float(columns - 1 - at)), FOUND_U_PX if sure else DOUBTFUL_U_PX


def _soft_px(share: np.ndarray, last_out: int) -> int:
    """Number of half-inked pixels in one stretch across an end; beyond an outline the picture may be as bright again.

    share: ink (0..1) of the pixels around an end, from outside to inside; last_out: the last of them outside.

    >>> _soft_px(np.array([0.5, 0.5, 0.0, 1.0, 1.0]), 2), _soft_px(np.array([0.0, 0.3, 0.4, 0.6, 1.0]), 2)
    (0, 3)
    """
    half = (share > 0.2) & (share < 0.8)
    first = min(max(last_out, 0), len(share) - 1)
    outside = half[: first + 1][::-1]
    inside = half[first + 1 :]
    return int(np.logical_and.accumulate(outside).sum() + np.logical_and.accumulate(inside).sum())


def with_stepped_end_doubted(plane: np.ndarray, bar: Bar) -> Bar:
    """Return a plain bar, doubted if two pixels at an end of it are inked in part and alike: a shadow of another tone that
    passed for ink, which no blur makes.

    >>> plane = np.zeros((20, 60), np.uint8)
    >>> plane[8:14, 10:50] = 255
    >>> bar = plain_bar((8, 14, 10, 50), 9.5, 49.5, 0.4, parts=((8, 14, 10, 50),), doubt="")
    >>> with_stepped_end_doubted(plane, bar).doubt
    ''
    >>> plane[8:14, 48:50] = 165
    >>> with_stepped_end_doubted(plane, bar).doubt
    'an end of it is of another tone'
    """
    if bar.doubt or bar.kind not in ("filled", "line") or bar.is_row:
        return bar
    row_0, row_1, col_0, col_1 = bar.parts[0]
    share = np.median(plane[row_0:row_1, col_0:col_1].astype(np.float64), axis=0)
    share /= max(float(np.median(share)), 1.0)
    for end in (share[:STEP_REACH_PX], share[::-1][:STEP_REACH_PX]):
        half = (end > 0.25) & (end < 0.75)
        if (half[1:] & half[:-1] & (np.abs(np.diff(end)) <= STEP_SPREAD)).any():
            return replace(bar, doubt="an end of it is of another tone")
    return bar


def tick_centre(plane: np.ndarray, tick: Box) -> tuple[float, float]:
    """Return (column, standard uncertainty) of the middle of a tick, the centroid of its ink.

    >>> plane = np.zeros((9, 20), np.uint8)
    >>> plane[:, 8:10] = 255
    >>> tick_centre(plane, (0, 9, 8, 10))[0]
    8.5
    """
    row_0, row_1, col_0, col_1 = tick
    rows = slice(row_0 + 1, row_1 - 1) if row_1 - row_0 > 4 else slice(row_0, row_1)
    low, high = max(col_0 - 2, 0), min(col_1 + 2, plane.shape[1])
    profile = np.median(plane[rows, low:high].astype(np.float64), axis=0)
    middle = (col_0 + col_1 - 1) / 2
    if not len(profile) or not np.isfinite(profile).all():
        return middle, DOUBTFUL_U_PX
    floor, peak = float(profile.min()), float(profile.max())
    if peak - floor < LEAST_CONTRAST:
        return middle, DOUBTFUL_U_PX
    level = floor + 0.2 * (peak - floor)
    # Only the ink connected to the tick counts: beyond an outline the picture may be as bright as the tick.
    first = last = int(np.clip(round(middle) - low, 0, len(profile) - 1))
    while first > 0 and profile[first - 1] > level:
        first -= 1
    while last < len(profile) - 1 and profile[last + 1] > level:
        last += 1
    weight = np.clip(profile[first : last + 1] - floor, 0, None)
    if not weight.any():  # what is bright stands beside the tick's middle, not on it
        return middle, DOUBTFUL_U_PX
    at = float((weight * np.arange(low + first, low + last + 1)).sum() / weight.sum())
    return (at, FOUND_U_PX) if abs(at - middle) <= 0.75 else (middle, DOUBTFUL_U_PX)


def clear_tick_centre(
    plane: np.ndarray, tick: Box, line: Box, blocked: tuple[bool, bool] = (False, False)
) -> tuple[float, float]:
    """Return (column, standard uncertainty) of an end tick from the longer part of it that stands clear of its line.

    blocked: whether a block of the bar joins the tick above the line, and below it.
    """
    up, down = (0 if joined else high for joined, high in zip(blocked, (line[0] - tick[0], tick[1] - line[1]), strict=True))
    if max(up, down) < 1:
        return (tick[2] + tick[3] - 1) / 2, DOUBTFUL_U_PX
    rows = (tick[0], line[0] - (up > 2)) if up >= down else (line[1] + (down > 2), tick[1])
    return tick_centre(plane, (rows[0], rows[1], tick[2], tick[3]))
