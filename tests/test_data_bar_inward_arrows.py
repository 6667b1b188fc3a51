"""Bars drawn by arrows that point inwards at ticks, →|  |←: the expected lengths are those between the ticks' middles."""

import math

import numpy as np
import pytest
from drawn_bars import assert_read, picture, read, written

from semwear.data_bar.inward_arrows import inward_arrows
from semwear.data_bar.pieces import pieces_of


def arrow(high: int, long: int) -> np.ndarray:
    """An arrow that points to the right, its head `high` rows high and half as long."""
    piece = np.zeros((high, long), bool)
    piece[high // 2] = True
    for step in range(high // 2 + 1):
        piece[high // 2 - step : high // 2 + step + 1, long - 1 - step] = True
    return piece


def pointed(*, tick: int = 15, head: int = 7, long: int = 18, wide: int = 2, blank: int = 0, outward: bool = False):
    """A black strip with ticks whose first pixels are in columns 200 and 400, and arrows that point at them from outside."""
    pixels = picture()
    pixels[430:] = 0
    row = 445 + (tick - head) // 2
    shape = arrow(head, long)[:, ::-1] if outward else arrow(head, long)
    for col in (200, 400):
        pixels[445 : 445 + tick, col : col + wide] = 255
    pixels[row : row + head, 200 - blank - long : 200 - blank][shape] = 255
    first = 400 + wide + blank
    pixels[row : row + head, first : first + long][shape[:, ::-1]] = 255
    return pixels


@pytest.mark.parametrize("blank", [0, 2])
@pytest.mark.parametrize(("tick", "head", "long"), [(11, 5, 14), (15, 7, 18), (23, 11, 30)])
@pytest.mark.parametrize("col", [250, 460])
def test_arrows_that_point_at_two_ticks_are_a_bar(blank, tick, head, long, col):
    """The label stands between the ticks, or beyond an arrow."""
    pixels = pointed(tick=tick, head=head, long=long, blank=blank)
    assert_read(read(written(pixels, "20 µm", 442, col)), 20.0, 200)


def test_arrows_that_point_away_from_their_ticks_or_lines_without_a_head_are_no_bar():
    away = pointed(outward=True, blank=2)
    assert inward_arrows(away, pieces_of(away == 255), shortest_px=20) == []
    bare = pointed(head=1)
    assert inward_arrows(bare, pieces_of(bare == 255), shortest_px=20) == []
    assert math.isnan(read(written(away, "20 µm", 442, 250)).bar_um)


def test_one_arrow_alone_is_no_bar():
    pixels = pointed()
    pixels[430:, 380:] = 0
    assert math.isnan(read(written(pixels, "20 µm", 442, 250)).bar_um)
