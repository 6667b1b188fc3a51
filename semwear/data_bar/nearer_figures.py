"""Figures that stand nearer to a bar than its seeming label does: the label whose unit wasn't read.

A length elsewhere in the data bar (an aperture, a slit) would then be taken for the label and give a wrong scale.
"""

import re
from collections.abc import Iterable

from semwear.data_bar.bar_ends import Box
from semwear.data_bar.ink import Ink
from semwear.data_bar.label_point import label_columns
from semwear.data_bar.labels import PIXEL_SIZES_UM, is_round
from semwear.data_bar.pairing import Pair
from semwear.data_bar.words import Printed, Words

NEARLY_LENGTH = re.compile(r"\W*\d[\d.,]*\s*(?:[^\W\d]{0,2}[mM]|[mM]ic\w*)?\W*")
"""A whole line of text that may be a label: figures with or without a unit of length, read in part or not."""
NEAREST, NEARER = 1.5, 1.0
"""Distance of such figures from the bar at most, and by how much nearer than the label they stand, in heights of a letter."""
SURE_FIGURES = 0.85
"""Mean probability of the characters of such a line."""


def nearer_figures(pair: Pair, inks_and_words: Iterable[tuple[Ink, Words]]) -> str:
    """Return the text of figures that may be the label of a pair's bar since they are nearer to it than the label, or "".

    inks_and_words: every layer of ink of the picture with what was read in it.
    """
    label = pair.label
    if pair.bar.kind == "split" or label.printed.inside is not None:
        return ""
    own, tall = label.printed.line, label.printed.line.letter_px
    first, last = (int(column) for column in label_columns(label))
    own = _in_picture((own.row_0, own.row_1, first, last), label.ink)
    bar = _in_picture(pair.bar.box, pair.ink)
    for ink, words in inks_and_words:
        for printed in words.printed:
            line = printed.line
            box = _in_picture((line.row_0, line.row_1, line.col_0, line.col_1), ink)
            same = any(length.um == label.length.um for length in printed.lengths)
            if same or _blank(own, box) == 0 or not _may_be_label(printed, pair.bar.length_px):
                continue  # Other ink shows the same words once more.
            if _blank(bar, box) <= min(NEAREST * line.letter_px, _blank(bar, own) - NEARER * tall):
                return printed.reading.text
    return ""


def _in_picture(box: Box, ink: Ink) -> Box:
    """Return a box of a layer in rows and columns of the picture."""
    return box[0] + ink.row_0, box[1] + ink.row_0, box[2] + ink.col_0, box[3] + ink.col_0


def _blank(one: Box, other: Box) -> float:
    """Return how many rows or columns part two boxes, the larger number of both; 0 if they touch."""
    down = max(one[0] - other[1], other[0] - one[1], 0)
    return float(max(down, one[2] - other[3], other[2] - one[3]))


def _may_be_label(printed: Printed, bar_px: float) -> bool:
    """Tell whether a line is figures alone, or a length by which a pixel has a size and which wasn't known as another quantity's."""
    if not (printed.is_text and printed.reading.sureness >= SURE_FIGURES and NEARLY_LENGTH.fullmatch(printed.reading.text)):
        return False
    possible = all(PIXEL_SIZES_UM[0] <= length.um / bar_px <= PIXEL_SIZES_UM[1] for length in printed.lengths)
    return possible and all(length.may_label or not is_round(length.um) for length in printed.lengths)
