"""Small panels that are scale bars themselves: thick bars with their label inside, burnt over the picture.

A box behind a label is hardly wider than its text, or holds a bar too; in such a bar the label alone stands in the middle.
"""

from collections.abc import Iterable

import cv2
import numpy as np

from semwear.data_bar.bar_ends import Box
from semwear.data_bar.lines import Line
from semwear.data_bar.pairing import Pair
from semwear.data_bar.panel import Panel
from semwear.data_bar.two_tones import rows_beyond
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
BESIDE_PLATE, FLAT_MARK, FLAT_GREY = 6.0, 1.5, 14
"""Distance of a flat mark from a plate at most and its length at least, in heights of a letter, and range of its grey at most."""
UNTOUCHED, UNTOUCHED_FLAT, RIM_PX = 1, 3, 3
"""Range of grey in a plate's blank, within its rim, of a picture that no compression went over, and then range of a flat mark at most."""
EDGE_STEP = 8.0
"""Grey by which a flat mark's edge stands out in the mean: the soft tones of a picture out of focus have no edges."""
RING_PX = (3, 4, 5)
"""Rows beyond a plate that show its ground."""


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


def plate_doubt(grey: np.ndarray, pair: Pair, plates: Iterable[Panel]) -> str:
    """Say why a bar over the picture (rows, cols) uint8 isn't the one that a label inside a mark belongs to, or return "".

    A label on a plate belongs to the plate, or to a bar beside it that wasn't found: then nothing can be told.
    """
    text, line = pair.label.length.text, pair.label.printed.line
    top, left = pair.label.ink.row_0 + line.row_0, pair.label.ink.col_0 + line.col_0
    if pair.label.printed.inside is None:
        on_plate = any(plate.row_0 <= top < plate.row_1 and plate.col_0 <= left < plate.col_1 for plate in plates)
        return f"the label {text} stands on a plate, and the bar that it belongs to isn't sure" if on_plate else ""
    if not pair.ink.on_panel and flat_mark_beside(grey, pair.bar.box, line.letter_px):
        return f"the bar that holds the label {text} may be a plate, since a flat mark stands beside it"
    return ""


def _range_of_blank(grey: np.ndarray, box: Box, length_px: int) -> int:
    """Return how far greys differ along a length at the blank ends of a plate at most: what is drawn with it is about as flat."""
    plate = grey[box[0] + RIM_PX : box[1] - RIM_PX, box[2] + RIM_PX : box[3] - RIM_PX]
    ends = [np.ptp(end, axis=1) for end in (plate[:, :length_px], plate[:, -length_px:]) if end.size]
    return int(np.concatenate(ends).max()) if ends else FLAT_GREY


def flat_mark_beside(grey: np.ndarray, box: Box, letter_px: float) -> bool:
    """Tell whether something as flat as what is drawn lies above or below a plate: a bar of whatever tone.

    grey: (rows, cols) uint8; box: of the plate; letter_px: height of its letters.

    >>> grey = np.random.default_rng(0).integers(60, 140, (120, 300)).astype(np.uint8)
    >>> grey[40:70, 60:240] = 255
    >>> before = flat_mark_beside(grey, (40, 70, 60, 240), 14)
    >>> grey[80:82, 100:200] = 90
    >>> before, flat_mark_beside(grey, (40, 70, 60, 240), 14)
    (False, True)
    """
    around = np.concatenate([rows_beyond(grey, box, distance) for distance in RING_PX])
    flat_ground = around.size and np.ptp(np.percentile(around, (10, 90))) <= FLAT_GREY  # That of a strip.
    ground = float(np.median(around)) if flat_ground else -2.0 * FLAT_GREY
    far, aside = int(BESIDE_PLATE * letter_px), (box[3] - box[2]) // 2
    cols = slice(max(box[2] - aside, 0), box[3] + aside)
    least = max(int(FLAT_MARK * letter_px), 12)
    as_flat = UNTOUCHED_FLAT if _range_of_blank(grey, box, least) <= UNTOUCHED else FLAT_GREY
    for rows in (slice(max(box[0] - far, 0), max(box[0] - 1, 0)), slice(box[1] + 1, box[1] + far)):
        beside = grey[rows, cols]
        if beside.shape[0] < 1 or beside.shape[1] < least:
            continue
        window = np.ones((1, least), np.uint8)
        high, low = cv2.dilate(beside, window), cv2.erode(beside, window)
        other = np.maximum(high - ground, ground - low) > FLAT_GREY
        flat = (high - low <= as_flat) & other
        steps = np.abs(np.diff(beside.astype(np.float32), axis=0))
        steps = cv2.blur(steps, (least, 1)) >= EDGE_STEP
        edged = np.zeros_like(flat)
        edged[1:] |= steps
        edged[:-1] |= steps
        whole = slice(least // 2, beside.shape[1] - least // 2)  # Where the window lies within.
        if (flat & edged)[:, whole].any():
            return True
    return False
