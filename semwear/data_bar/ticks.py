"""Rows of equal, equally spaced ticks that no line joins.

A row that lost a tick at its end would give a wrong scale, so that ticks are looked for beyond either end, and only
numbers of intervals that instruments print are accepted.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from semwear.data_bar.bar_ends import Bar, length_u_px, tick_centre
from semwear.data_bar.pieces import Pieces
from semwear.data_bar.tick_ends import LARGEST_DOT_PX, TICK_INTERVALS, counted, next_number, stands_at

END_OVER_OTHERS = 1.3
"""Height of both end ticks over that of most others from which they mark the ends of a row."""
LEAST_TICKS = 3
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
CLOSEST_TICKS = 1.6
"""Step between ticks at least, in widths of a tick."""
BLOCK_HEIGHT = 1.6
"""Height over width up to which marks as broad as their blanks may be blocks, which end a bar at their outer edges."""
NEARLY_ALL = 0.9
"""Share of the ticks of a row from which one that isn't seen between them must have been there."""
MOST_PLACES = 60
MOST_BETWEEN = (0.15, 0.3)
"""On panels and over the picture: share of the columns between ticks that may hold other ink: grains of the picture, specks of compression."""
LEAST_TICK_CONTRAST = 40.0
"""Grey levels (of 255) by which ticks stand out from either side."""


def tick_rows(
    plane: np.ndarray, pieces: Pieces, *, shortest_px: int, burnt: bool, around: np.ndarray | None = None
) -> list[Bar]:
    """Find rows of ticks in a layer: plane (rows, cols) uint8 with bright ink.

    burnt: the ink stands on the picture, whose own bright parts may chance to stand in a row. around: plane that shows
    what was left out of the layer, in case ticks were.
    """
    boxes = pieces.stats[1:].astype(int)
    if not len(boxes):
        return []
    left, top, width, height, area = boxes.T
    thin = (height >= 3) & (height <= 60) & (width <= 10) & (height >= DOT_HEIGHT * width) & (area >= 0.8 * width * height)
    thin |= (height >= 2) & (height <= LARGEST_DOT_PX) & (np.abs(width - height) <= 1) & (area >= LEAST_DOT_AREA * width * height)
    left, top, width, height = left[thin], top[thin], width[thin], height[thin]
    found: list[Bar] = []
    for index in np.argsort(-height, kind="stable")[:400]:
        foot = top + height
        middle = 2 * top + height
        hung = [
            np.abs(top - top[index]) <= 1,
            np.abs(foot - foot[index]) <= 1,
            np.abs(middle - middle[index]) <= 2,
        ]
        alike = np.maximum.reduce(hung) & (height >= SHORTEST_TICK * height[index]) & (height <= height[index])
        alike &= np.abs(width - width[index]) <= 1
        dots = height[index] <= DOT_HEIGHT * width[index]
        if not dots:
            alike &= height > DOT_HEIGHT * width  # The point of a label beside the row is no tick.
        members = np.flatnonzero(alike)
        if len(members) < LEAST_TICKS:
            continue
        here = [bar for bar in found if bar.row_0 - 1 <= top[index] <= bar.row_1 and bar.col_0 <= left[index] <= bar.col_1]
        if any(not bar.doubt for bar in here):
            continue
        shared = (int(top[members].max()), int(foot[members].min()))
        if shared[1] - shared[0] < (1 if dots else 2) or (dots and len(members) < LEAST_DOTS):
            continue
        tall = (int(top[index]), int(foot[index]))
        bar = _spaced(
            plane, pieces, left[members], width[members], shared, tall, shortest_px, burnt, burnt or around is not None
        )
        if bar is not None and around is not None and not burnt and not bar.doubt and _goes_on(around, pieces, bar):
            bar = replace(bar, doubt="a tick beyond its end may be hidden")
        if bar is None or (here and not all(_has_more_ticks(bar, other) for other in here)):
            continue
        if all(bar.box != other.box for other in found if other not in here):
            found = [other for other in found if other not in here] + [bar]
    return found


def _has_more_ticks(bar: Bar, other: Bar) -> bool:
    """Tell whether a row is a doubtful one with the shorter ticks between its own: a letter as high hung them otherwise."""
    ends = abs(bar.start_px - other.start_px) <= 1 and abs(bar.stop_px - other.stop_px) <= 1
    return ends and len(bar.parts) > len(other.parts)


def _spaced(
    plane,
    pieces,
    left,
    width,
    shared: tuple[int, int],
    tall: tuple[int, int],
    shortest: int,
    burnt: bool,
    over_picture: bool,
) -> Bar | None:
    """Fit equal spacing to ticks, look for more beyond either end, and count the intervals."""
    order = np.argsort(left)
    left = left[order]
    centres, wide = left + (width[order] - 1) / 2, int(np.median(width))
    best: dict[int, int] = {}
    for start in range(len(centres) - 2):
        for second in range(start + 1, min(start + 12, len(centres) - 1)):
            if (step := centres[second] - centres[start]) >= max(3, CLOSEST_TICKS * wide):
                chain = _chain(centres, start, step)
                best = chain if len(chain) > len(best) else best
    if len(best) < LEAST_TICKS:
        return None
    step, offset = np.polyfit(list(best), centres[list(best.values())], 1)
    first, last = 0, max(best)

    ink_level = float(
        np.median([_column_level(plane, centre, wide, shared) for centre in centres[list(best.values())]])
    )

    side = int(min(max(2, wide), max(step - wide - 1, 1)))

    def seen(place: int) -> float:
        return _tick_contrast(plane, offset + step * place, wide, shared, side)

    contrast = [seen(place) for place in range(first, last + 1)]
    level = float(np.median(contrast))
    if level < LEAST_TICK_CONTRAST:
        return None

    def hides(place: int) -> bool:
        what, worded = stands_at(pieces, offset + step * place, wide, tall)
        if worded:
            return False
        as_bright = _column_level(plane, offset + step * place, wide, shared) >= ink_level - 0.4 * level
        return over_picture and as_bright or what != "letter" and seen(place) >= 0.3 * level

    doubt = ""
    for direction in (-1, 1):
        while last - first < MOST_PLACES:
            place = (first if direction < 0 else last) + direction
            beyond = seen(place)
            what, worded = stands_at(pieces, offset + step * place, wide, tall)
            if beyond < 0.6 * level or what not in ("tick", "taller tick"):
                if beyond < 0.3 * level or what == "letter" or worded or last - first in TICK_INTERVALS:
                    break
                doubt = "a tick at its end isn't sure"
            first, last = (place, last) if direction < 0 else (first, place)
    def high(place: int) -> int:
        return _height(plane, offset + step * place, wide, shared, level)

    first, last, figure = _without_figure(pieces, (first, last), offset, step, wide, tall, high)
    doubt = doubt or figure
    may_hide = counted(hides, first, -1) + counted(hides, last, 1)
    if last - first in TICK_INTERVALS and last - first + may_hide >= next_number(last - first):
        doubt = "the picture may hide a tick beyond its end"
    contrast = [seen(place) for place in range(first, last + 1)]
    if not _are_as_high(high(first), high(last)):
        doubt = doubt or "its end ticks differ"
    inside = (centres >= offset + step * first - 1) & (centres <= offset + step * last + 1)
    off_grid = np.abs((centres - offset) / step - np.round((centres - offset) / step)) * step > 1.5
    if (inside & off_grid).any():
        doubt = doubt or "its ticks aren't evenly spaced"
    alone = [_stands_alone(plane, offset + step * place, wide, shared, tall) for place in range(first, last + 1)]
    if np.mean(alone) < 0.7:
        doubt = doubt or "its ticks are joined to something"
    if (
        _share_between(plane, offset + step * np.arange(first, last + 1), centres, wide, shared, level)
        > MOST_BETWEEN[burnt]
    ):
        doubt = doubt or "other marks stand between its ticks"
    if tall[1] - tall[0] < BLOCK_HEIGHT * wide and abs(step - 2 * wide) <= 1:
        doubt = doubt or "its ticks may be the blocks of a bar"
    intervals = last - first
    flatness = LEAST_FLATNESS if burnt or intervals < MANY_INTERVALS else LEAST_FLATNESS_OF_MANY
    if intervals * step < max(shortest, flatness * (tall[1] - tall[0])) or intervals < 2:
        return None
    unseen = min(contrast) < 0.3 * level and len(best) < NEARLY_ALL * (intervals + 1)
    if unseen or len(best) < 0.6 * (intervals + 1):
        doubt = doubt or "ticks are missing from its row"
    elif burnt and intervals < 10 and (tall[1] - tall[0] < 6 or step > 12 * (tall[1] - tall[0])):
        doubt = doubt or "its few ticks may be parts of the picture"
    elif intervals not in TICK_INTERVALS and not _ends_stand_out([high(place) for place in range(first, last + 1)], wide):
        doubt = doubt or f"it has {intervals} intervals, which no instrument prints"
    boxes = []
    for place in range(first, last + 1):
        col = int(left[best[place]]) if place in best else int(round(offset + step * place - (wide - 1) / 2))
        boxes.append((*tall, col, col + wide))
    start, start_u = tick_centre(plane, (*shared, *boxes[0][2:]))
    stop, stop_u = tick_centre(plane, (*shared, *boxes[-1][2:]))
    return Bar(
        kind="ticks",
        start_px=start,
        stop_px=stop,
        row_px=(tall[0] + tall[1] - 1) / 2,
        u_px=length_u_px(start_u, stop_u),
        box=(*tall, boxes[0][2], boxes[-1][3]),
        thickness_px=tall[1] - tall[0],
        parts=tuple(boxes),
        outer_ticks=(True, True),
        doubt=doubt,
    )


def _ends_stand_out(heights: list[int], wide: int) -> bool:
    """Tell whether both end ticks of a row (heights of all and their width, px) are higher than most others, which marks them as its ends."""
    ends, usual = min(heights[0], heights[-1]), float(np.median(heights[1:-1]))
    return usual >= BLOCK_HEIGHT * wide and ends >= END_OVER_OTHERS * usual


def _are_as_high(one: int, other: int) -> bool:
    return abs(one - other) <= max(2, 0.25 * max(one, other))


def _without_figure(
    pieces: Pieces,
    ends: tuple[int, int],
    offset: float,
    step: float,
    wide: int,
    rows: tuple[int, int],
    high: Callable[[int], int],
) -> tuple[int, int, str]:
    """Return the first and last place of a row without a stroke of a word that follows it, and a doubt or "".

    The label may begin where a further tick would stand; without it the row must be whole. high: rows of the tick at a place.
    """
    first, last = ends

    def worded(place: int) -> bool:
        return stands_at(pieces, offset + step * place, wide, rows)[1]

    if last - first - 1 not in TICK_INTERVALS or worded(first) == worded(last):
        return first, last, ""
    shorter = (first + 1, last) if worded(first) else (first, last - 1)
    if last - first in TICK_INTERVALS:
        alike = _are_as_high(high(first), high(last)) and not _are_as_high(high(shorter[0]), high(shorter[1]))
        return first, last, "" if alike else "its last tick may be a figure"  # A row without it would have ends that differ.
    return (first, last, "") if worded(shorter[0]) or worded(shorter[1]) else (*shorter, "")


def _chain(centres: np.ndarray, start: int, step: float) -> dict[int, int]:
    """Follow equal steps from one tick on, over single missing ones; returns {place: index of its tick}.

    The step is refined as the chain grows, since ticks are rounded to whole pixels.
    """
    chain, place = {0: start}, 0
    while place < 40:
        for skip in (1, 2):
            target = centres[start] + step * (place + skip)
            index = int(np.argmin(np.abs(centres - target)))
            if abs(centres[index] - target) <= 1.25:
                break
        else:
            return chain
        place += skip
        chain[place] = index
        if place >= 2:
            step = (centres[index] - centres[start]) / place
    return chain


def _tick_contrast(plane: np.ndarray, centre: float, wide: int, rows: tuple[int, int], side: int) -> float:
    """Ink at a place where a tick should stand (±1 px), less the brighter of its two sides; 0 outside the picture."""
    low = int(round(centre - (wide - 1) / 2))
    return max(_contrast_at(plane, low + shift, wide, rows, side) for shift in (-1, 0, 1))


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
            sides = [_column_level(around, col + side * (wide / 2 + 1.5), 1, rows) for side in (-1, 1)]
            level = _column_level(around, col, wide, rows)
            if level >= HIDDEN_LEVEL and max(sides) <= max(OUTLINE_LEVEL, level - LEAST_HIDDEN_CONTRAST):
                return True
        return False

    beyond = counted(marked, 0, -1) + counted(marked, intervals, 1)
    if intervals + beyond >= next_number(intervals):
        return True
    between = np.mean([marked(place + 0.5) for place in range(intervals)])
    return bool((marked(-0.5) or marked(intervals + 0.5)) and between >= 0.5)


def _share_between(plane, places, centres, wide: int, rows: tuple[int, int], level: float) -> float:
    """Share of the columns between the ticks of a row that hold ink which is no tick: letters are no ruler."""
    first, last = int(round(places[0])), int(round(places[-1]))
    columns = np.arange(first, last + 1)
    ticks = np.concatenate([places, centres])
    free = (np.abs(columns[:, None] - ticks[None]) > wide / 2 + 2).all(axis=1)
    if not free.any():
        return 0.0
    band = plane[rows[0] : rows[1], columns[free]].astype(np.float32)
    return float((band.max(axis=0) - np.median(band) > 0.6 * level).mean())


def _column_level(plane: np.ndarray, centre: float, wide: int, rows: tuple[int, int]) -> float:
    """Median grey of the plane where a tick stands or could stand; 0 outside the picture."""
    low = int(round(centre - (wide - 1) / 2))
    if low < 0 or low + wide > plane.shape[1]:
        return 0.0
    return float(np.median(plane[rows[0] : rows[1], low : low + wide]))


def _height(plane: np.ndarray, centre: float, wide: int, shared: tuple[int, int], level: float) -> int:
    """Rows that a tick takes, followed up and down from the rows that all ticks share."""
    low = max(int(round(centre - (wide - 1) / 2)), 0)
    column = plane[:, low : low + wide].max(axis=1)
    ground = float(np.median(column[shared[0] : shared[1]])) - 0.5 * level
    first, last = shared
    while first > 0 and column[first - 1] > ground:
        first -= 1
    while last < len(column) and column[last] > ground:
        last += 1
    return last - first


def _stands_alone(plane: np.ndarray, centre: float, wide: int, shared: tuple[int, int], rows: tuple[int, int]) -> bool:
    """Tell whether ink ends above and below where the ticks' row ends: a figure of the label is taller or lower.

    shared: rows that every tick takes; rows: rows of the tallest.
    """
    low = max(int(round(centre - (wide - 1) / 2)), 0)
    columns = plane[:, low : low + wide]
    inside = float(np.median(columns[shared[0] : shared[1]]))
    beyond = [columns[max(rows[0] - 3, 0) : max(rows[0] - 1, 0)], columns[rows[1] + 1 : rows[1] + 3]]
    return all(not part.size or float(np.median(part)) < 0.85 * inside for part in beyond)


def _contrast_at(plane: np.ndarray, low: int, wide: int, rows: tuple[int, int], side: int) -> float:
    if low - 1 < 0 or low + wide + 1 > plane.shape[1]:
        return 0.0
    part = plane[rows[0] + 1 : rows[1] - 1] if rows[1] - rows[0] > 4 else plane[rows[0] : rows[1]]
    inside = float(np.percentile(part[:, low : low + wide], 25))
    before = part[:, max(low - side - 1, 0) : max(low - 1, 1)]
    after = part[:, low + wide + 1 : low + wide + side + 1]
    sides = [float(np.median(side_part)) for side_part in (before, after) if side_part.size]
    return inside - max(sides, default=0.0)
