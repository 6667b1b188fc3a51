"""Bars drawn by their ends alone, |-  20 µm  -|: the expected lengths are those of the drawing, from tick to tick."""

import math

import numpy as np
import pytest
from drawn_bars import assert_read, picture, read, written

from semwear.data_bar.end_marks import end_marks
from semwear.data_bar.pieces import pieces_of


def marked(*, wide: int = 1, high: int = 15, stub: int = 9, stop: int = 560, foot: int = 0) -> np.ndarray:
    """A black strip with ticks from column 300 to stop, stubs between them, and a label in the middle."""
    pixels = picture()
    pixels[430:] = 0
    pixels[445 : 445 + high, 300 : 300 + wide] = 255
    pixels[445 + foot : 445 + high + foot, stop - wide : stop] = 255
    middle = slice(445 + (high - wide) // 2, 445 + (high - wide) // 2 + wide)
    pixels[middle, 300 : 300 + stub] = pixels[middle, stop - stub : stop] = 255
    return pixels


@pytest.mark.parametrize(("wide", "high", "stub"), [(1, 11, 6), (1, 19, 12), (2, 16, 10), (3, 21, 12)])
def test_two_end_marks_around_a_label_are_a_bar(wide, high, stub):
    pixels = marked(wide=wide, high=high, stub=stub)
    assert_read(read(written(pixels, "20 µm", 442, 400, size=16)), 20.0, 260 - wide)


def test_marks_in_other_rows_or_beside_the_label_are_no_bar():
    assert math.isnan(read(written(marked(foot=3), "20 µm", 442, 400, size=16)).bar_um)
    assert math.isnan(read(written(marked(stop=380), "20 µm", 442, 400, size=16)).bar_um)


def test_strokes_that_leave_a_tick_off_its_middle_or_to_both_sides_are_no_mark():
    plane = marked()
    assert len(end_marks(plane, pieces_of(plane == 255), shortest_px=20)) == 1
    for row, first, stop in ((445, 300, 309), (452, 295, 309)):
        other = marked(stub=1)
        other[row, first:stop] = 255
        other[452, 551:560] = 255
        assert end_marks(other, pieces_of(other == 255), shortest_px=20) == []
