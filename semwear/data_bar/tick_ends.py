"""What stands beyond the ends of a row of ticks: a further tick, a figure of the label, or picture that may hide ticks.

A row is whole if its number of intervals is one that is printed. It could only be part of a longer row if as many ticks
were hidden as the next such number needs, so that one bright spot beyond ten intervals says nothing.
"""

import numpy as np

from semwear.data_bar.lines import TALLEST_LETTER_PX
from semwear.data_bar.pieces import Pieces

TICK_INTERVALS = (2, 4, 5, 10, 20)
"""Numbers of intervals in a row of ticks that instruments print (common practice, no source)."""
LARGEST_DOT_PX = 8
"""Dots that mark a scale in place of ticks."""
MOST_COUNTED = max(TICK_INTERVALS)
WIDEST_LETTER_GAP = 0.6
"""Blank between figures of one number at most, as a share of their height."""


def next_number(intervals: int) -> int:
    """Return the next larger number of intervals that is printed, or one that no picture can hide.

    >>> next_number(4), next_number(5), next_number(20)
    (5, 10, 60)
    """
    return next((number for number in TICK_INTERVALS if number > intervals), 3 * MOST_COUNTED)


def counted(hides, end: int, direction: int) -> int:
    """Count the places beyond an end, one after the other, of which hides(place) says that they may hide a tick."""
    number = 0
    while number < MOST_COUNTED and hides(end + direction * (number + 1)):
        number += 1
    return number


def stands_at(pieces: Pieces, centre: float, wide: int, rows: tuple[int, int]) -> tuple[str, bool]:
    """Say what stands at a place where a tick could: a "tick", a "taller tick", a "letter", or something else, "".

    Also tells whether it is part of a word.
    """
    col = int(round(centre))
    part = pieces.labels[rows[0] : rows[1], max(col - 1, 0) : max(col + 2, 0)]
    numbers = part[part > 0]
    if not numbers.size:
        return "", False
    number = int(np.bincount(numbers).argmax())
    left, top, width, height, _ = pieces.stats[number]
    tall = rows[1] - rows[0]
    # Beside dots a letter is many times as high; what is longer than letters are is something else.
    largest = max(2.5 * tall, TALLEST_LETTER_PX if tall <= LARGEST_DOT_PX and height > 2.5 * tall else 0)
    letter = height <= largest and width <= largest
    worded = bool(letter and _is_in_a_word(pieces, number, wide))
    if height <= tall + 2 and width <= 2 * wide + 2 and top >= rows[0] - 2 and top + height <= rows[1] + 2:
        return "tick", worded
    hung = abs(top - rows[0]) <= 1 or abs(top + height - rows[1]) <= 1 or abs(2 * top + height - sum(rows)) <= 2
    if hung and abs(width - wide) <= 1 and tall < height <= TALLEST_LETTER_PX and not worded:
        return "taller tick", False
    return ("letter" if letter else ""), worded


def _is_in_a_word(pieces: Pieces, number: int, wide: int) -> bool:
    """Tell whether a piece of ink has a neighbour as close, as high and on the same foot as figures of a number have."""
    left, top, width, height, _ = (int(value) for value in pieces.stats[number])
    others = pieces.stats.astype(int)
    foot = np.abs(others[:, 1] + others[:, 3] - top - height) <= max(1, 0.1 * height)
    high = np.abs(others[:, 3] - height) <= max(1, 0.15 * height)
    gap = np.maximum(others[:, 0] - left - width, left - others[:, 0] - others[:, 2])
    # What is as narrow as a tick may be the next tick.
    broad = (others[:, 2] > wide + 2) & (others[:, 2] <= 2 * height)
    beside = foot & high & broad & (gap >= 0) & (gap <= WIDEST_LETTER_GAP * height + 1)
    beside[[0, number]] = False
    return bool(beside.any())
