"""Rows of equal, equally spaced ticks that no line joins.

A row that lost a tick at its end would give a wrong scale, so that ticks are looked for beyond either end, and only
numbers of intervals that instruments print are accepted.
"""

from dataclasses import replace

import numpy as np

from semwear.data_bar.bar_ends import Bar, length_u_px, tick_centre
from semwear.data_bar.pieces import Pieces
from semwear.data_bar.tick_doubts import doubt_about_row
from semwear.data_bar.tick_ends import LARGEST_DOT_PX, TICK_INTERVALS, counted, next_number, stands_at
from semwear.data_bar.tick_grid import LEAST_TICKS, Marks, TickGrid, fitted_grid
from semwear.data_bar.tick_levels import column_level

SHORTEST_TICK = 0.4
"""Height of the ticks between the end ticks at least, as a share of those."""
HIDDEN_LEVEL, OUTLINE_LEVEL = 150.0, 110.0
"""Grey of the plane around outlined ink from which a tick may have been left out, and of its outline at most."""
LEAST_HIDDEN_CONTRAST = 40.0
"""Grey by which a tick without an outline stands out from a picture of nearly its own tone."""
LEAST_FLATNESS, LEAST_FLATNESS_OF_MANY = 2.0, 1.5
"""Length of a row of ticks over their height: strokes of a few letters are shorter, and no word has many in equal steps."""
MANY_INTERVALS = 5
DOT_HEIGHT = 1.2
"""Height over width up to which a mark is a dot."""
LEAST_DOT_AREA = 0.5
"""Area of a dot in its box: a rhomb has half of it, a disc 0.79."""
LEAST_DOTS = 9
"""How many dots of a row that mark a scale in place of ticks must be found."""
MOST_PLACES = 60


def tick_rows(
    plane: np.ndarray, pieces: Pieces, *, shortest_px: int, burnt: bool, around: np.ndarray | None = None
) -> list[Bar]:
    """Find rows of ticks in a layer: plane (rows, cols) uint8 with bright ink.

    burnt: the ink stands on the picture, whose own bright parts may chance to stand in a row. around: plane that shows
    what was left out of the layer, in case ticks were.
    """
    boxes = _tick_boxes(pieces)
    found: list[Bar] = []
    for index in np.argsort(-boxes[:, 3], kind="stable")[:400]:
        members = _alike(boxes, index)
        if len(members) < LEAST_TICKS:
            continue
        left, top = boxes[index, :2]
        here = [bar for bar in found if bar.row_0 - 1 <= top <= bar.row_1 and bar.col_0 <= left <= bar.col_1]
        if any(not bar.doubt for bar in here):
            continue
        marks = _marks(boxes, members, index)
        grid = None if marks is None else fitted_grid(plane, pieces, marks)
        if grid is None:
            continue
        bar = _row_on(grid, shortest_px=shortest_px, burnt=burnt, over_picture=burnt or around is not None)
        if bar is not None and around is not None and not burnt and not bar.doubt and _goes_on(around, pieces, bar):
            bar = replace(bar, doubt="a tick beyond its end may be hidden")
        if bar is None or (here and not all(_has_more_ticks(bar, other) for other in here)):
            continue
        if all(bar.box != other.box for other in found if other not in here):
            found = [other for other in found if other not in here] + [bar]
    return found


def _tick_boxes(pieces: Pieces) -> np.ndarray:
    """Return the pieces that could be ticks, upright strokes or dots, as left, top, width and height (ticks, 4)."""
    boxes = pieces.stats[1:].astype(int)
    _, _, width, height, area = boxes.T
    stroke = (height >= 3) & (height <= 60) & (width <= 10) & (height >= DOT_HEIGHT * width)
    stroke &= area >= 0.8 * width * height
    dot = (height >= 2) & (height <= LARGEST_DOT_PX) & (np.abs(width - height) <= 1)
    dot &= area >= LEAST_DOT_AREA * width * height
    return boxes[stroke | dot, :4]


def _is_dot(box: np.ndarray) -> bool:
    return bool(box[3] <= DOT_HEIGHT * box[2])


def _alike(boxes: np.ndarray, index: int) -> np.ndarray:
    """Return the indices of the boxes that could be ticks beside a given one: hung alike with it, as wide and not higher."""
    _, top, width, height = boxes.T
    foot, middle = top + height, 2 * top + height
    hung = [np.abs(top - top[index]) <= 1, np.abs(foot - foot[index]) <= 1, np.abs(middle - middle[index]) <= 2]
    alike = np.maximum.reduce(hung) & (height >= SHORTEST_TICK * height[index]) & (height <= height[index])
    alike &= np.abs(width - width[index]) <= 1
    if not _is_dot(boxes[index]):
        alike &= height > DOT_HEIGHT * width  # The point of a label beside the row is no tick.
    return np.flatnonzero(alike)


def _marks(boxes: np.ndarray, members: np.ndarray, tallest: int) -> Marks | None:
    """Gather boxes that are alike, of which the tallest is given; None if they share too few rows, or are too few dots."""
    left, top, width, height = boxes[members].T
    shared = (int(top.max()), int((top + height).min()))
    dots = _is_dot(boxes[tallest])
    if shared[1] - shared[0] < (1 if dots else 2) or (dots and len(members) < LEAST_DOTS):
        return None
    order = np.argsort(left)
    left, width = left[order], width[order]
    return Marks(
        left=left,
        centres=left + (width - 1) / 2,
        wide=int(np.median(width)),
        shared=shared,
        tall=(int(boxes[tallest, 1]), int(boxes[tallest, 1] + boxes[tallest, 3])),
    )


def _has_more_ticks(bar: Bar, other: Bar) -> bool:
    """Tell whether a row is a doubtful one with the shorter ticks between its own: a letter as high hung them otherwise."""
    ends = abs(bar.start_px - other.start_px) <= 1 and abs(bar.stop_px - other.stop_px) <= 1
    return ends and len(bar.parts) > len(other.parts)


def _row_on(grid: TickGrid, *, shortest_px: int, burnt: bool, over_picture: bool) -> Bar | None:
    """Return the row of ticks on equal steps, whole and with its doubt; None if it is too short for one.

    over_picture: the picture may hide ticks.
    """
    ends, end_doubt = _followed(grid)
    ends, figure_doubt = _without_figure(grid, ends)
    intervals = ends[1] - ends[0]
    flatness = LEAST_FLATNESS if burnt or intervals < MANY_INTERVALS else LEAST_FLATNESS_OF_MANY
    if intervals * grid.step < max(shortest_px, flatness * grid.marks.tall_px) or intervals < 2:
        return None
    hidden_doubt = _doubt_about_hidden(grid, ends, over_picture=over_picture)
    doubt = hidden_doubt or end_doubt or figure_doubt or doubt_about_row(grid, ends, burnt=burnt)
    return _as_bar(grid, ends, doubt)


def _followed(grid: TickGrid) -> tuple[tuple[int, int], str]:
    """Follow a row beyond either end of the marks on it, tick by tick; returns its first and last place, and a doubt or ""."""
    first, last, doubt = 0, max(grid.found), ""
    for direction in (-1, 1):
        while last - first < MOST_PLACES:
            place = (first if direction < 0 else last) + direction
            beyond = grid.contrast(place)
            what, worded = grid.stands_at(place)
            if beyond < 0.6 * grid.usual_contrast or what not in ("tick", "taller tick"):
                faint = beyond < 0.3 * grid.usual_contrast
                if faint or what == "letter" or worded or last - first in TICK_INTERVALS:
                    break
                doubt = "a tick at its end isn't sure"
            first, last = (place, last) if direction < 0 else (first, place)
    return (first, last), doubt


def _without_figure(grid: TickGrid, ends: tuple[int, int]) -> tuple[tuple[int, int], str]:
    """Return the first and last place of a row without a stroke of a word that follows it, and a doubt or "".

    The label may begin where a further tick would stand; without it the row must be whole.
    """
    first, last = ends

    def worded(place: int) -> bool:
        return grid.stands_at(place)[1]

    if last - first - 1 not in TICK_INTERVALS or worded(first) == worded(last):
        return ends, ""
    shorter = (first + 1, last) if worded(first) else (first, last - 1)
    if last - first in TICK_INTERVALS:
        alike = grid.are_as_high(first, last) and not grid.are_as_high(*shorter)
        return ends, "" if alike else "its last tick may be a figure"  # A row without it would have ends that differ.
    return (ends if worded(shorter[0]) or worded(shorter[1]) else shorter), ""


def _doubt_about_hidden(grid: TickGrid, ends: tuple[int, int], *, over_picture: bool) -> str:
    """Say whether a row of a printed number of intervals may be part of a longer one, whose further ticks aren't seen."""

    def hides(place: int) -> bool:
        what, worded = grid.stands_at(place)
        if worded:
            return False
        as_bright = grid.level(place) >= grid.ink_level - 0.4 * grid.usual_contrast
        return over_picture and as_bright or what != "letter" and grid.contrast(place) >= 0.3 * grid.usual_contrast

    first, last = ends
    intervals = last - first
    if intervals not in TICK_INTERVALS:
        return ""
    may_hide = counted(hides, first, -1) + counted(hides, last, 1)
    return "the picture may hide a tick beyond its end" if intervals + may_hide >= next_number(intervals) else ""


def _as_bar(grid: TickGrid, ends: tuple[int, int], doubt: str) -> Bar:
    """Return the bar from the middle of the tick at the first place to that of the one at the last."""
    tall, shared = grid.marks.tall, grid.marks.shared
    boxes = [grid.box(place) for place in range(ends[0], ends[1] + 1)]
    start, start_u = tick_centre(grid.plane, (*shared, *boxes[0][2:]))
    stop, stop_u = tick_centre(grid.plane, (*shared, *boxes[-1][2:]))
    return Bar(
        kind="ticks",
        start_px=start,
        stop_px=stop,
        row_px=(tall[0] + tall[1] - 1) / 2,
        u_px=length_u_px(start_u, stop_u),
        box=(*tall, boxes[0][2], boxes[-1][3]),
        thickness_px=grid.marks.tall_px,
        parts=tuple(boxes),
        outer_ticks=(True, True),
        doubt=doubt,
    )


def _goes_on(around: np.ndarray, pieces: Pieces, bar: Bar) -> bool:
    """Tell whether marks with an outline go on beyond a row, at its steps or half steps, as ticks of a longer row would."""
    intervals = max(len(bar.parts) - 1, 1)
    step, wide = bar.length_px / intervals, bar.parts[0][3] - bar.parts[0][2]
    rows = (max(part[0] for part in bar.parts), min(part[1] for part in bar.parts))

    def marked(place: float) -> bool:
        centre = bar.start_px + step * place
        if stands_at(pieces, centre, wide, rows)[1]:
            return False
        for col in (centre - 1, centre, centre + 1):
            sides = [column_level(around, col + side * (wide / 2 + 1.5), 1, rows) for side in (-1, 1)]
            level = column_level(around, col, wide, rows)
            if level >= HIDDEN_LEVEL and max(sides) <= max(OUTLINE_LEVEL, level - LEAST_HIDDEN_CONTRAST):
                return True
        return False

    beyond = counted(marked, 0, -1) + counted(marked, intervals, 1)
    if intervals + beyond >= next_number(intervals):
        return True
    between = np.mean([marked(place + 0.5) for place in range(intervals)])
    return bool((marked(-0.5) or marked(intervals + 0.5)) and between >= 0.5)
