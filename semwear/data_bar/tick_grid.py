"""Equal steps fitted to upright marks: the places at which a row of ticks has one, and what is seen there."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from semwear.data_bar.pieces import Pieces
from semwear.data_bar.tick_ends import stands_at
from semwear.data_bar.tick_levels import column_level, share_between, stands_alone, tick_contrast, tick_height

LEAST_TICKS = 3
CLOSEST_TICKS = 1.6
"""Step between ticks at least, in widths of a tick."""
LEAST_TICK_CONTRAST = 40.0
"""Grey levels (of 255) by which ticks stand out from either side."""


@dataclass(frozen=True, kw_only=True)
class Marks:
    """Marks that are alike and could be ticks of one row, from left to right.

    left, centres: their first and middle columns (marks,); wide: their usual width, px; shared: rows [first, end) that all take;
    tall: rows of the tallest.
    """

    left: np.ndarray
    centres: np.ndarray
    wide: int
    shared: tuple[int, int]
    tall: tuple[int, int]

    @property
    def tall_px(self) -> int:
        return self.tall[1] - self.tall[0]


@dataclass(frozen=True, kw_only=True)
class TickGrid:
    """Equal steps through marks of a layer (plane, pieces): place 0 is at column offset, place 1 a step (px) to its right.

    found: the marks that stand at places, {place: index of its mark}.
    """

    plane: np.ndarray
    pieces: Pieces
    marks: Marks
    step: float
    offset: float
    found: dict[int, int]

    def column(self, place):
        """Return the middle column of a place, or of an array of them."""
        return self.offset + self.step * place

    def contrast(self, place: int) -> float:
        """Return by how much a tick at a place stands out from either side, grey levels."""
        wide = self.marks.wide
        side = int(min(max(2, wide), max(self.step - wide - 1, 1)))
        return tick_contrast(self.plane, self.column(place), wide, self.marks.shared, side)

    @cached_property
    def usual_contrast(self) -> float:
        """Contrast of most places, from the first mark to the last."""
        return float(np.median([self.contrast(place) for place in range(max(self.found) + 1)]))

    def level(self, place: int) -> float:
        """Return the grey at a place."""
        return column_level(self.plane, self.column(place), self.marks.wide, self.marks.shared)

    @cached_property
    def ink_level(self) -> float:
        """Grey of most marks that stand at places."""
        centres = self.marks.centres[list(self.found.values())]
        return float(
            np.median([column_level(self.plane, centre, self.marks.wide, self.marks.shared) for centre in centres])
        )

    def stands_at(self, place: int) -> tuple[str, bool]:
        """Say what stands at a place, and tell whether it is part of a word."""
        return stands_at(self.pieces, self.column(place), self.marks.wide, self.marks.tall)

    def height(self, place: int) -> int:
        """Return the rows that the tick at a place takes."""
        return tick_height(self.plane, self.column(place), self.marks.wide, self.marks.shared, self.usual_contrast)

    def are_as_high(self, place: int, other: int) -> bool:
        """Tell whether the ticks at two places are equally high, or nearly so."""
        one, two = self.height(place), self.height(other)
        return abs(one - two) <= max(2, 0.25 * max(one, two))

    def stands_alone(self, place: int) -> bool:
        """Tell whether the tick at a place is joined to nothing above or below."""
        return stands_alone(self.plane, self.column(place), self.marks.wide, self.marks.shared, self.marks.tall)

    def share_between(self, first: int, last: int) -> float:
        """Return the share of the columns between the ticks from one place to another that hold other ink."""
        places, marks = self.column(np.arange(first, last + 1)), self.marks
        return share_between(self.plane, places, marks.centres, marks.wide, marks.shared, self.usual_contrast)

    def box(self, place: int) -> tuple[int, int, int, int]:
        """Return the box of the tick at a place: of its mark, or where it should stand."""
        marks = self.marks
        if place in self.found:
            col = int(marks.left[self.found[place]])
        else:
            col = int(round(self.column(place) - (marks.wide - 1) / 2))
        return (*marks.tall, col, col + marks.wide)


def fitted_grid(plane: np.ndarray, pieces: Pieces, marks: Marks) -> TickGrid | None:
    """Fit equal steps to marks; None if too few are evenly spaced, or if they don't stand out from either side."""
    found = _longest_chain(marks)
    if len(found) < LEAST_TICKS:
        return None
    step, offset = np.polyfit(list(found), marks.centres[list(found.values())], 1)
    grid = TickGrid(plane=plane, pieces=pieces, marks=marks, step=step, offset=offset, found=found)
    return None if grid.usual_contrast < LEAST_TICK_CONTRAST else grid


def _longest_chain(marks: Marks) -> dict[int, int]:
    """Return the longest row of equal steps through marks, {place: index of its mark}; empty if there is none."""
    centres = marks.centres
    best: dict[int, int] = {}
    for start in range(len(centres) - 2):
        for second in range(start + 1, min(start + 12, len(centres) - 1)):
            if (step := centres[second] - centres[start]) >= max(3, CLOSEST_TICKS * marks.wide):
                chain = _chain(centres, start, step)
                best = chain if len(chain) > len(best) else best
    return best


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
