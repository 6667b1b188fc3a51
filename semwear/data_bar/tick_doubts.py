"""Doubts about a row of equally spaced ticks: what in it speaks for letters, blocks or parts of the picture."""

import numpy as np

from semwear.data_bar.tick_ends import TICK_INTERVALS
from semwear.data_bar.tick_grid import TickGrid

MISSING = "ticks are missing from its row"
END_OVER_OTHERS = 1.3
"""Height of both end ticks over that of most others from which they mark the ends of a row."""
BLOCK_HEIGHT = 1.6
"""Height over width up to which marks as broad as their blanks may be blocks, which end a bar at their outer edges."""
NEARLY_ALL = 0.9
"""Share of the ticks of a row from which one that isn't seen between them must have been there."""
MOST_BETWEEN = (0.15, 0.3)
"""On panels and over the picture: share of the columns between ticks that may hold other ink: grains of the picture, specks of
compression."""


def doubt_about_row(grid: TickGrid, ends: tuple[int, int], *, burnt: bool) -> str:
    """Say why ticks from the first place to the last, both included, may be no scale; "" if nothing in the row speaks against it.

    burnt: the ticks stand over the picture.
    """
    first, last = ends
    wide = grid.marks.wide
    if not grid.are_as_high(first, last):
        return "its end ticks differ"
    if _has_a_mark_off_step(grid, ends):
        return "its ticks aren't evenly spaced"
    if np.mean([grid.stands_alone(place) for place in range(first, last + 1)]) < 0.7:
        return "its ticks are joined to something"
    if grid.share_between(first, last) > MOST_BETWEEN[burnt]:
        return "other marks stand between its ticks"
    if grid.marks.tall_px < BLOCK_HEIGHT * wide and abs(grid.step - 2 * wide) <= 1:
        return "its ticks may be the blocks of a bar"
    return _doubt_about_number(grid, ends, burnt=burnt)


def _has_a_mark_off_step(grid: TickGrid, ends: tuple[int, int]) -> bool:
    """Tell whether a mark within a row stands off the places of its ticks."""
    centres = grid.marks.centres
    inside = (centres >= grid.column(ends[0]) - 1) & (centres <= grid.column(ends[1]) + 1)
    steps = (centres - grid.offset) / grid.step
    off_grid = np.abs(steps - np.round(steps)) * grid.step > 1.5
    return bool((inside & off_grid).any())


def _doubt_about_number(grid: TickGrid, ends: tuple[int, int], *, burnt: bool) -> str:
    """Say what is wrong with the number of ticks in a row: some are missing, too few, or as many as no instrument prints."""
    first, last = ends
    intervals, tall, found = last - first, grid.marks.tall_px, len(grid.found)
    least = min(grid.contrast(place) for place in range(first, last + 1))
    unseen = least < 0.3 * grid.usual_contrast and found < NEARLY_ALL * (intervals + 1)
    if unseen or found < 0.6 * (intervals + 1):
        return MISSING
    if burnt and intervals < 10 and (tall < 6 or grid.step > 12 * tall):
        return "its few ticks may be parts of the picture"
    if intervals not in TICK_INTERVALS and not _ends_stand_out(grid, ends):
        return f"it has {intervals} intervals, which no instrument prints"
    return ""


def _ends_stand_out(grid: TickGrid, ends: tuple[int, int]) -> bool:
    """Tell whether both end ticks of a row are higher than most others, which marks them as its ends."""
    heights = [grid.height(place) for place in range(ends[0], ends[1] + 1)]
    lower, usual = min(heights[0], heights[-1]), float(np.median(heights[1:-1]))
    return usual >= BLOCK_HEIGHT * grid.marks.wide and lower >= END_OVER_OTHERS * usual
