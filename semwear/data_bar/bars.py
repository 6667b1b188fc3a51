"""All shapes in a layer of ink that may be scale bars."""

from dataclasses import replace

import cv2
import numpy as np

from semwear.data_bar.bar_ends import FOUND_U_PX, Bar, Box, length_u_px, outer_edge
from semwear.data_bar.lines import TALLEST_LETTER_PX
from semwear.data_bar.shapes import connected_bars
from semwear.data_bar.ticks import tick_rows

SHORTEST_BAR_PX = 14
"""Shorter bars are not looked for: one pixel would be 7 % of scale."""
MOST_RUNS = 60


def find_bars(plane: np.ndarray, mask: np.ndarray, *, shortest_px: float = SHORTEST_BAR_PX, burnt: bool) -> list[Bar]:
    """Find the shapes that may be scale bars in a layer: plane (rows, cols) uint8 with bright ink, mask its ink.

    burnt: the ink stands on the picture, whose own bright parts may touch a bar; then also straight runs inside larger
    pieces are looked at, and marked doubtful.
    """
    shortest = max(SHORTEST_BAR_PX, int(shortest_px))
    bars = connected_bars(plane, mask, shortest_px=shortest, burnt=burnt)
    bars += [bar for bar in tick_rows(plane, mask, shortest_px=shortest, burnt=burnt) if not _on_a_line(bar, bars)]
    if burnt:
        bars += [bar for bar in _runs(plane, mask, shortest) if not _within(bar, bars)]
    return [_with_continuation_doubted(bar, bars) for bar in _outermost(bars)]


def _on_a_line(row: Bar, bars: list[Bar]) -> bool:
    return any(
        bar.row_0 - 1 <= row.row_0 and row.row_1 <= bar.row_1 + 1 and bar.col_0 - 2 <= row.col_0 and row.col_1 <= bar.col_1 + 2
        for bar in bars
    )


def _within(bar: Bar, others: list[Bar]) -> bool:
    return any(
        other is not bar
        and other.row_0 - 1 <= bar.row_0
        and bar.row_1 <= other.row_1 + 1
        and other.col_0 - 2 <= bar.col_0
        and bar.col_1 <= other.col_1 + 2
        for other in others
    )


def _outermost(bars: list[Bar]) -> list[Bar]:
    """Drop parts of larger shapes: strokes of a double bar, ticks' rows of a ruler; halves of a split bar stay."""
    whole = [bar for bar in bars if not bar.doubt and bar.kind != "split"]
    return [bar for bar in bars if bar.kind == "split" or not any(_larger(other, bar) for other in whole)]


def _larger(other: Bar, bar: Bar) -> bool:
    return other is not bar and _within(bar, [other]) and _area(other) > _area(bar)


def _area(bar: Bar) -> int:
    return (bar.row_1 - bar.row_0) * (bar.col_1 - bar.col_0)


def _with_continuation_doubted(bar: Bar, bars: list[Bar]) -> Bar:
    """Doubt a plain bar that another piece of the same rows carries on: it may be one block of several."""
    if bar.kind not in ("filled", "line") or bar.doubt:
        return bar
    for other in bars:
        gap = max(other.col_0 - bar.col_1, bar.col_0 - other.col_1)
        same_rows = abs(other.row_0 - bar.row_0) <= 1 and abs(other.row_1 - bar.row_1) <= 1
        alike = other.kind in ("filled", "line") and other.length_px >= 0.3 * bar.length_px
        if other is not bar and alike and same_rows and 0 < gap <= 1.5 * min(bar.length_px, other.length_px):
            return replace(bar, doubt="another piece carries it on")
    return bar


def _runs(plane: np.ndarray, mask: np.ndarray, shortest: int) -> list[Bar]:
    """Straight upright runs inside pieces that the picture has joined, accepted if both ends are cut off sharply."""
    opened = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, np.ones((1, shortest), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(opened, connectivity=4)
    _, joined, pieces, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    found = []
    for index in range(1, count):
        left, top, width, height, area = (int(value) for value in stats[index])
        if height > 0.3 * width or area < 0.9 * width * height:
            continue
        piece = pieces[joined[top, left]]
        if piece[cv2.CC_STAT_HEIGHT] <= TALLEST_LETTER_PX and piece[cv2.CC_STAT_WIDTH] <= 1.3 * width:
            continue  # A stroke of a letter.
        box: Box = (top, top + height, left, left + width)
        start, start_u = outer_edge(plane, box, at_left=True)
        stop, stop_u = outer_edge(plane, box, at_left=False)
        if max(start_u, stop_u) > FOUND_U_PX:
            continue
        found.append(
            Bar(
                kind="filled" if height >= 4 else "line",
                start_px=start,
                stop_px=stop,
                row_px=(box[0] + box[1] - 1) / 2,
                u_px=length_u_px(start_u, stop_u),
                box=box,
                thickness_px=height,
                parts=(box,),
                doubt="the picture touches it",
            )
        )
    return sorted(found, key=lambda bar: -bar.length_px)[:MOST_RUNS]
