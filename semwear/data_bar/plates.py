"""Small panels that are scale bars themselves: thick bars with their label inside, burnt over the picture.

A box behind a label is hardly wider than its text, or holds a bar too; in such a bar the label alone stands in the middle.
"""

from semwear.data_bar.bar_ends import Box
from semwear.data_bar.lines import Line
from semwear.data_bar.strip import Panel
from semwear.data_bar.words import Printed, Words

WIDEST_PANEL = 0.8
"""Width of such a bar at most, as a share of the picture's: wider panels are strips."""
LEAST_FLATNESS = 3.0
"""Length over height of such a bar at least."""
LEAST_ROOM = 1.0
"""Blank on either side of the label at least, in heights of its letters and in that above and below it, three times as much."""
ASIDE = 0.03
"""How far the label may lie off the middle, as a share of the panel's width and, five times as much, of its height."""
LEAST_HEIGHT = 0.35
"""Height of the label at least, as a share of the panel's."""


def is_bar_itself(words: Words, panel: Panel, shape: tuple[int, int]) -> bool:
    """Tell whether a panel over a picture of the given rows and columns holds nothing but one label, in its very middle."""
    high, wide = panel.row_1 - panel.row_0, panel.col_1 - panel.col_0
    if wide > WIDEST_PANEL * shape[1] or wide < LEAST_FLATNESS * high:
        return False
    if panel.row_0 <= 0 or panel.row_1 >= shape[0] or panel.col_0 <= 0 or panel.col_1 >= shape[1]:
        return False
    texts = [item for item in words.printed if item.reading.text]
    labels = [item for item in texts if _is_label(item)]
    if not labels:
        return False
    label = max(labels, key=lambda item: item.line.col_1 - item.line.col_0)
    boxes = [(item.line.row_0, item.line.row_1, item.line.col_0, item.line.col_1) for item in texts]
    boxes += [bar.box for bar in words.bars if not bar.doubt]  # Strokes of letters may pass for bars.
    return all(_is_within(box, label.line) for box in boxes) and _is_in_the_middle(words, high, wide)


def _is_within(box: Box, line: Line) -> bool:
    """Tell whether a box of rows and columns lies within that of a line, but for two pixels."""
    rows = line.row_0 - 2 <= box[0] and box[1] <= line.row_1 + 2
    return rows and line.col_0 - 2 <= box[2] and box[3] <= line.col_1 + 2


def _is_label(item: Printed) -> bool:
    """Tell whether a line of text is a length that may label a bar, and no more."""
    lengths = [length for length in item.lengths if length.may_label]
    return len(lengths) == 1 and not (item.reading.text[: lengths[0].start] + item.reading.text[lengths[0].stop :]).strip()


def _is_in_the_middle(words: Words, high: int, wide: int) -> bool:
    """Tell whether all ink of a panel stands in its middle, with more room beside it than above and below."""
    mask = words.ink.mask
    rows, cols = (mask.any(axis=axis).nonzero()[0] for axis in (1, 0))
    if not len(rows):
        return False
    above, below, left, right = rows[0], high - 1 - rows[-1], cols[0], wide - 1 - cols[-1]
    tall = rows[-1] - rows[0] + 1
    room = min(left, right) >= max(LEAST_ROOM * tall, 3 * max(above, below))
    middle = abs(left - right) <= max(4, 2 * ASIDE * wide) and abs(above - below) <= max(4, 10 * ASIDE * high)
    return bool(room and middle and tall >= LEAST_HEIGHT * high)
