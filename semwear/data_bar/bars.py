"""All shapes in a layer of ink that may be scale bars."""

from dataclasses import replace

import cv2
import numpy as np

from semwear.data_bar.bar_ends import CARRIED_ON, Bar, Box
from semwear.data_bar.base_lines import without_base_lines
from semwear.data_bar.blocks import block_rows
from semwear.data_bar.end_marks import end_marks
from semwear.data_bar.flanking_ticks import flanking_ticks
from semwear.data_bar.inward_arrows import inward_arrows
from semwear.data_bar.lines import TALLEST_LETTER_PX
from semwear.data_bar.pieces import Pieces, pieces_of
from semwear.data_bar.shapes import classified, connected_bars, with_other_tone_doubted
from semwear.data_bar.ticks import tick_rows

SHORTEST_BAR_PX = 14
"""Shorter bars are not looked for: one pixel would be 7 % of scale."""
WIDEST_GAP = 3.5
"""Gap to another piece in the same rows, in lengths of the shorter one, up to which it may carry a bar on."""
STEP_PX = 5
"""Rows and columns, widths of an outline, between blocks of two rows of which each begins where the other's ends."""
MOST_RUNS = 60
LONG_RUN = 5
"""Length of long runs, in shortest bars."""
END_SHARE = 0.2
"""Height that ticks at the ends of a run may have above and below it, as a share of its length."""
WIDEST_END_PX = 8
"""Columns at either end of a run in which ticks stand, besides the run's own thickness."""


def find_bars(
    plane: np.ndarray,
    mask: np.ndarray,
    *,
    shortest_px: float = SHORTEST_BAR_PX,
    burnt: bool,
    around: np.ndarray | None = None,
) -> list[Bar]:
    """Find the shapes that may be scale bars in a layer: plane (rows, cols) uint8 with bright ink, mask its ink.

    burnt: the ink stands on the picture, whose own bright parts may touch a bar; then also straight runs inside larger
    pieces are looked at, and marked doubtful. around: plane that also shows what was left out of the layer, in which
    more ticks than the layer's are looked for.
    """
    shortest = max(SHORTEST_BAR_PX, int(shortest_px))
    pieces = pieces_of(mask)
    ground = None if burnt else around
    bars = connected_bars(plane, mask, pieces, shortest_px=shortest, burnt=burnt, around=ground)
    bars += [
        bar
        for bar in tick_rows(plane, pieces, shortest_px=shortest, burnt=burnt, around=around)
        if not _on_a_line(bar, bars)
    ]
    bars += block_rows(plane, pieces, shortest_px=shortest, burnt=burnt, around=around)
    bars += [] if burnt else end_marks(plane, pieces, shortest_px=shortest)
    bars += [] if burnt else inward_arrows(plane, pieces, shortest_px=shortest)
    bars += [] if burnt else flanking_ticks(plane, pieces, shortest_px=shortest)
    standing = _on_base_lines(plane, pieces, shortest, burnt=burnt)
    bars = [bar for bar in bars if not _within_any(standing, bar)] + standing
    if burnt:
        bars += [
            with_other_tone_doubted(plane, bar)
            for bar in _runs(plane, mask, pieces, shortest)
            if not _within(bar, [other for other in bars if not other.doubt])
        ]
    return [with_continuation_doubted(bar, bars) for bar in _outermost(bars)]


def _on_base_lines(plane: np.ndarray, pieces: Pieces, shortest: int, *, burnt: bool) -> list[Bar]:
    """Bars and rows of ticks that stand on a longer line; over the picture only where it runs on alike at both ends."""
    found = []
    for cut, rest, (row_0, _, col_0, col_1) in without_base_lines(plane, pieces, shortest_px=shortest):
        parts = pieces_of(rest)
        bars = connected_bars(cut, rest, parts, shortest_px=shortest, burnt=False)
        bars += tick_rows(cut, parts, shortest_px=shortest, burnt=False)
        if len(bars) != 1 or bars[0].doubt or bars[0].kind == "split":
            continue
        bar = bars[0]
        before, after = bar.col_0, col_1 - col_0 - bar.col_1
        if burnt and abs(before - after) > 2:
            continue
        found.append(_moved(bar, row_0, col_0))
    return found


def _moved(bar: Bar, row: int, col: int) -> Bar:
    """Return the bar of a cut whose first pixel stands at the given place of the layer."""
    boxes = [(one[0] + row, one[1] + row, one[2] + col, one[3] + col) for one in (bar.box, *bar.parts)]
    return replace(
        bar,
        start_px=bar.start_px + col,
        stop_px=bar.stop_px + col,
        row_px=bar.row_px + row,
        box=boxes[0],
        parts=tuple(boxes[1:]),
    )


def _within_any(standing: list[Bar], bar: Bar) -> bool:
    """Tell whether a bar is the base line on which one of the others stands, with all that stands on it."""
    return any(
        bar.row_0 <= other.row_1 and other.row_0 <= bar.row_1 and bar.col_0 <= other.col_0 and other.col_1 <= bar.col_1
        for other in standing
    )


def _on_a_line(row: Bar, bars: list[Bar]) -> bool:
    return any(
        bar.row_0 - 1 <= row.row_0
        and row.row_1 <= bar.row_1 + 1
        and bar.col_0 - 2 <= row.col_0
        and row.col_1 <= bar.col_1 + 2
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


def with_continuation_doubted(bar: Bar, bars: list[Bar]) -> Bar:
    """Doubt a plain bar that another piece carries on in its rows, or a step above or below: it may be one block of several."""
    if bar.kind not in ("filled", "line") or bar.doubt:
        return bar
    for other in bars:
        gap = max(other.col_0 - bar.col_1, bar.col_0 - other.col_1)
        same_rows = abs(other.row_0 - bar.row_0) <= 1 and abs(other.row_1 - bar.row_1) <= 1
        alike = other.kind in ("filled", "line") and other.length_px >= 0.3 * bar.length_px
        follows = same_rows and 0 < gap <= WIDEST_GAP * min(bar.length_px, other.length_px)
        if other is not bar and alike and (follows or _a_step_off(bar, other, gap)):
            return replace(bar, doubt=CARRIED_ON)
    return bar


def _a_step_off(bar: Bar, other: Bar, gap: int) -> bool:
    """Tell whether a bar of about the same height begins or ends, gap columns away, where this one does, right above or below."""
    apart = max(other.row_0 - bar.row_1, bar.row_0 - other.row_1)
    alike = abs((bar.row_1 - bar.row_0) - (other.row_1 - other.row_0)) <= 1
    return alike and 0 <= apart <= STEP_PX and -1 <= gap <= STEP_PX


def _runs(plane: np.ndarray, mask: np.ndarray, pieces: Pieces, shortest: int) -> list[Bar]:
    """Straight upright runs inside pieces that the picture has joined: what hangs on between their ends is left out.

    A run is sure if the picture touches neither of its ends: then they are where they were drawn.
    """
    boxes: dict[Box, int] = {}
    for longest in (LONG_RUN * shortest, shortest):
        # Long runs first: shorter ones of the picture would widen them.
        opened = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, np.ones((1, longest), np.uint8))
        stats = pieces_of(opened, connectivity=4).stats[1:].tolist()
        boxes |= {tuple(numbers[:4]): numbers[4] for numbers in stats}
    found: list[Bar] = []
    for left, top, width, height in sorted(boxes, key=lambda box: -box[2])[:MOST_RUNS]:
        area = boxes[left, top, width, height]
        if height > 0.3 * width or area < 0.9 * width * height:
            continue
        piece = pieces.stats[pieces.labels[top, left]]
        if piece[cv2.CC_STAT_HEIGHT] <= TALLEST_LETTER_PX and piece[cv2.CC_STAT_WIDTH] <= 1.3 * width:
            continue  # A stroke of a letter.
        bar = _run(plane, mask, (top, top + height, left, left + width))
        if bar is not None:
            found.append(bar)
    return found


def _run(plane: np.ndarray, mask: np.ndarray, run: Box) -> Bar | None:
    """Measure one run with the ticks at its ends, if it has any; None if nothing can be made of its ends."""
    row_0, row_1, col_0, col_1 = run
    reach = min(max(END_SHARE * (col_1 - col_0), 12), 40)
    top, left = max(row_0 - int(reach), 0), max(col_0 - 6, 0)
    window = mask[top : row_1 + int(reach), left : col_1 + 6]
    line = np.zeros(window.shape, bool)
    line[row_0 - top : row_1 - top, col_0 - left : col_1 - left] = True
    kept = line.copy()
    for at_left in (True, False):
        near = np.zeros(window.shape, bool)
        near[:, : 6 + WIDEST_END_PX + row_1 - row_0] = True
        near = near if at_left else near[:, ::-1]
        count, labels, stats, _ = cv2.connectedComponentsWithStats((window & near).astype(np.uint8), connectivity=8)
        own = np.unique(labels[line & near & window])
        for index in own[own > 0]:
            _, up, _, high, _ = stats[index]
            if up == 0 or up + high == window.shape[0]:
                return None  # Reaches farther than a tick does.
            kept |= labels == index
    down, across = np.flatnonzero(kept.any(axis=1)), np.flatnonzero(kept.any(axis=0))
    box = (int(down[0]) + top, int(down[-1]) + 1 + top, int(across[0]) + left, int(across[-1]) + 1 + left)
    piece = kept[down[0] : down[-1] + 1, across[0] : across[-1] + 1]
    alone = np.zeros(mask.shape, bool)
    alone[box[0] : box[1], box[2] : box[3]] = piece
    return classified(plane, alone, piece, box, burnt=True)
