"""Bars that are one connected piece of ink: solid, hollow or chequered bars, lines with end ticks, rulers, brackets.

A piece of ink is a bar only if its pixels are explained by the shape to the last few per cent; letters, logos and
frames are not. Halves of a broken line and the two strokes of a double bar are joined afterwards.
"""

from dataclasses import dataclass, replace

import numpy as np

from semwear.data_bar.bar_ends import (
    BOX_OF_LABEL,
    DOUBTFUL_U_PX,
    MELTS,
    Bar,
    Box,
    clear_tick_centre,
    length_u_px,
    outer_edge,
    plain_bar,
)
from semwear.data_bar.contours import (
    has_even_steps,
    head_columns,
    is_free_at_ends,
    is_hollow,
    is_in_blocks,
    rises_narrowly,
    tick_columns,
)
from semwear.data_bar.dressed import halves_beside_box, without_heads, without_serifs
from semwear.data_bar.pieces import Pieces, stretches_of
from semwear.data_bar.tick_ends import TICK_INTERVALS
from semwear.data_bar.two_tones import (
    INSIDE_HOLLOW,
    OTHER_TONE,
    beside_opposite_ink,
    goes_on_in_other_tone,
    is_inside_hollow,
    outlines,
)

FULL = 0.96
"""Share of ink from which a row or column of a shape counts as full."""
HIGHEST_SPECK_PX, SPECK_FREE_PX = 2, 6
"""Height of bits of the picture that may touch a line, and columns at either end that they must leave free."""
RAGGED_PX, RAGGED_SHARE = 2, 0.95
"""Rows, above and below together, by which the rim of a line is ragged where colour is stored coarsely, in most columns."""
LOWEST_TICK = 0.25
"""Rows by which an end tick stands out at least, as a share of the line's thickness."""
THICK_PX = 5
"""Rows of a solid bar from which its ends may be rounded, so that only the rows that reach farthest count."""
ROUNDED_PX = 3
"""Rows of a solid bar of which the middle one alone reaches to the ends if they are rounded."""
HEADED = ("it has an arrow head at its left end only", "it has an arrow head at its right end only")
"""Doubts of the two halves of an arrow that its label parts."""
ALIKE_COLUMNS = 0.75
"""Share of neighbouring columns that are alike in a hollow or chequered bar; letters change from column to column."""


BROAD_TICK_PX, BROAD_TICK_SHARE = 3, 0.04
"""Columns of both end ticks from which it matters whether a bar ends in their middle or at their outer edge, which counts as uncertain
then, and share of its length from which that is too much: discs and rhombs end it in their middle."""
BROAD_TICKS = "its end ticks are so broad that it may end in their middle or at their outer edge"


@dataclass(frozen=True, kw_only=True)
class _Line:
    """The full rows of a piece, and the ink above and below them per column."""

    row_0: int
    row_1: int
    above: np.ndarray
    below: np.ndarray

    @property
    def beyond(self) -> np.ndarray:
        return self.above + self.below


def connected_bars(
    plane: np.ndarray,
    mask: np.ndarray,
    pieces: Pieces,
    *,
    shortest_px: int,
    burnt: bool,
    around: np.ndarray | None = None,
) -> list[Bar]:
    """Return the bars among the connected pieces of ink of a layer; half bars have a tick at one end only.

    around: plane that also shows what was left out of the layer.
    """
    bars = []
    _, _, width, height, area = pieces.stats.T
    broad = (width >= shortest_px // 3) & (width >= 8) & (height <= width) & (area >= width)
    broad[0] = False
    picture = plane if burnt else around
    for index in np.flatnonzero(broad):
        left, top, width, height, area = (int(value) for value in pieces.stats[index])
        box = (top, top + height, left, left + width)
        piece = pieces.labels[top : top + height, left : left + width] == index
        bars += _beside_box(plane, mask, piece, box, burnt=burnt)
        bare = without_serifs(piece)
        if bare is not None:
            piece, first = bare
            box = (top, top + height, left + first, left + first + piece.shape[1])
        headless = without_heads(piece)
        bar = classified(plane, mask, piece if headless is None else headless, box, burnt=burnt)
        if bar is not None and around is not None and is_hollow(piece) and outlines(around, piece, box):
            bar = replace(bar, doubt="it outlines another mark")
        if bar is not None and around is not None and not bar.doubt and is_inside_hollow(around, piece, box):
            bar = replace(bar, doubt=INSIDE_HOLLOW)
        if bar is not None:
            bars.append(bar if picture is None else with_other_tone_doubted(picture, bar))
    bars += _double(bars)
    bars += _split(bars)
    return [bar for bar in bars if bar.length_px >= shortest_px]


def _beside_box(plane: np.ndarray, mask: np.ndarray, piece: np.ndarray, box: Box, *, burnt: bool) -> list[Bar]:
    """Return the halves of a line that the box of its label parts, as far as they are lines."""
    found = []
    for first, stop in halves_beside_box(piece):
        half = piece[:, first:stop]
        rows = np.flatnonzero(half.any(axis=1))
        top, below = box[0] + int(rows[0]), box[0] + int(rows[-1]) + 1
        own = (top, below, box[2] + first, box[2] + stop)
        found.append(classified(plane, mask, half[rows[0] : rows[-1] + 1], own, burnt=burnt))
    return [bar for bar in found if bar is not None]


def with_other_tone_doubted(picture: np.ndarray, bar: Bar) -> Bar:
    """Return the bar, doubted if a block of the other tone carries it on. picture: plane with the bar's ink bright."""
    plain = bar.kind in ("filled", "line") and not bar.doubt
    return replace(bar, doubt=OTHER_TONE) if plain and goes_on_in_other_tone(picture, bar) else bar


def classified(plane: np.ndarray, mask: np.ndarray, piece: np.ndarray, box: Box, *, burnt: bool) -> Bar | None:
    """Return the bar that a piece of ink (bool, cut to its box) is, or None if it is none."""
    height, width = piece.shape
    by_row, by_col = piece.mean(axis=1), piece.mean(axis=0)
    fill = piece.mean()
    solid = height <= 0.5 * width
    if solid and fill >= 0.93:
        bar = solid_bar(plane, box, ends=piece)
        if _flared(plane, box, least=120.0 if burnt else 60.0):
            return replace(bar, doubt="its ends may have ticks")
        return replace(bar, doubt="it outlines another mark") if burnt and beside_opposite_ink(plane, bar) else bar
    # An outermost column may be covered in part only.
    ends = min(by_col[:2].max(), by_col[-2:].max())
    closed = min(by_row[0], by_row[-1]) >= min(FULL, 1 - 1.5 / width) and ends >= min(FULL, 1 - 1.5 / height)
    changes = (piece[:, 1:] != piece[:, :-1]).mean(axis=0) > 0.12
    even = (~changes).mean() >= ALIKE_COLUMNS
    if solid and height >= 4:
        foreign = (mask[box[0] : box[1], box[2] : box[3]] & ~piece).mean()
        if closed and even and foreign < 0.01 or has_even_steps(piece):
            bar = solid_bar(plane, box, piece=piece)
            kept = is_in_blocks(piece) or is_free_at_ends(piece)
            outline = burnt and not kept and outlines(plane, piece, box)
            return replace(bar, doubt="it outlines another mark") if outline else bar
        if closed and even and not burnt and is_hollow(piece):
            return replace(solid_bar(plane, box, piece=piece), doubt=BOX_OF_LABEL)
        if closed and foreign < 0.2 and (fill >= 0.7 or (fill >= 0.45 and not even)):
            return solid_bar(plane, box)
    line = _line(piece)
    if line is None:
        return None
    bar = _lined(plane, piece, line, box, burnt=burnt)
    return replace(bar, doubt="it outlines another mark") if burnt and beside_opposite_ink(plane, bar) else bar


def _flared(plane: np.ndarray, box: Box, *, least: float) -> bool:
    """Tell whether there is more ink right above and below a solid bar at its ends than along it."""
    row_0, row_1, col_0, col_1 = box
    width = min(4, (col_1 - col_0) // 5)
    for row in (row_0 - 1, row_0 - 2, row_1, row_1 + 1):
        if 0 <= row < plane.shape[0]:
            values = plane[row, col_0:col_1].astype(np.float32)
            middle = float(np.median(values[width:-width]))
            if min(values[:width].max(), values[-width:].max()) - middle > least:
                return True
    return False


def solid_bar(plane: np.ndarray, box: Box, *, piece: np.ndarray | None = None, ends: np.ndarray | None = None) -> Bar:
    """Measure a bar between the outer edges of its box.

    piece: the ink (bool) of a hollow, chequered or stepped bar; ends: that of a solid one, which may have rounded ends.
    """
    row_0, row_1, col_0, col_1 = box
    first = last = box
    if piece is not None:
        first, last = _end_rows(piece, box), _end_rows(piece[:, ::-1], box)
    elif ends is not None and row_1 - row_0 >= THICK_PX:
        first, last = (_end_rows(ink, box) for ink in (ends, ends[:, ::-1]))
    elif ends is not None and row_1 - row_0 == ROUNDED_PX:
        first, last = (_end_rows(ink, box, first=0) for ink in (ends, ends[:, ::-1]))
    start, start_u = outer_edge(plane, first, at_left=True)
    stop, stop_u = outer_edge(plane, last, at_left=False)
    doubt = MELTS if max(start_u, stop_u) >= DOUBTFUL_U_PX else ""
    if piece is not None and abs((stop - start) - (col_1 - col_0)) > 1:
        start, stop = col_0 - 0.5, col_1 - 0.5
    return plain_bar(box, start, stop, length_u_px(start_u, stop_u), parts=(box,), doubt=doubt)


def _end_rows(piece: np.ndarray, box: Box, *, first: int = 1) -> Box:
    """Return the box cut to the longest run of rows that are inked at its left end: blocks differ from row to row.

    first: the column from which they must be inked; the outermost may be covered in part.
    """
    inked = piece[:, first:4].all(axis=1)
    edges = stretches_of(inked)
    if not len(edges):
        return (box[0], box[0] + 1, box[2], box[3]) if first else box
    first, last = (int(edge) for edge in edges[np.argmax(edges[:, 1] - edges[:, 0])])
    return box[0] + first, box[0] + last, box[2], box[3]


def _line(piece: np.ndarray) -> _Line | None:
    """Find the thickest run of full rows and the ink that rises from it; None if that leaves ink unexplained."""
    full = piece.mean(axis=1) >= FULL
    if not full.any():
        return None
    edges = stretches_of(full)
    row_0, row_1 = (int(edge) for edge in edges[np.argmax(edges[:, 1] - edges[:, 0])])
    above = np.logical_and.accumulate(piece[:row_0][::-1], axis=0).sum(axis=0)
    below = np.logical_and.accumulate(piece[row_1:], axis=0).sum(axis=0)
    explained = above.sum() + below.sum() + piece[row_0:row_1].sum()
    if explained < 0.95 * piece.sum():
        return None
    return _Line(row_0=row_0, row_1=row_1, above=above, below=below)


def _lined(plane: np.ndarray, piece: np.ndarray, line: _Line, box: Box, *, burnt: bool) -> Bar:
    """Measure a line whose ends may have ticks; doubtful if what rises from it is neither ticks nor arrow heads."""
    width = piece.shape[1]
    row_0, _, col_0, _ = box
    thickness = line.row_1 - line.row_0
    beyond = line.beyond
    heads = head_columns(beyond) > 0, head_columns(beyond[::-1]) > 0
    pointed = all(heads)
    left, right = (0, 0) if pointed else (tick_columns(beyond), tick_columns(beyond[::-1]))
    stepped = min(left, right) > 0 and left + right < width and _is_stepped(piece, left, right)
    doubt = ""
    if not stepped and _is_joined(beyond, left, right, pointed=pointed, burnt=burnt, thick=thickness >= THICK_PX):
        doubt = "something is joined to it"
    full_line = (row_0 + line.row_0, row_0 + line.row_1, box[2], box[3])
    parts: list[Box] = [full_line]
    ends = []
    for at_left, ticks in ((True, left), (False, right)):
        if not ticks:
            inked = piece[line.row_0 : line.row_1] if at_left else piece[line.row_0 : line.row_1, ::-1]
            reaching = _end_rows(inked, full_line, first=0) if thickness >= 2 else full_line
            ends.append(outer_edge(plane, reaching, at_left=at_left))
            continue
        cols = (col_0, col_0 + ticks) if at_left else (col_0 + width - ticks, col_0 + width)
        inside = slice(0, ticks) if at_left else slice(width - ticks, width)
        up, down = int(line.above[inside].max()), int(line.below[inside].max())
        tick = (full_line[0] - up, full_line[1] + down, *cols)
        parts.append(tick)
        beside = left if at_left else width - right - 1
        blocked = (bool(line.above[beside]), bool(line.below[beside])) if stepped else (False, False)
        ends.append(clear_tick_centre(plane, tick, full_line, blocked))
    if (left > 0) and (right > 0):
        sizes = [part[1] - part[0] for part in parts[1:]]
        if abs(sizes[0] - sizes[1]) > max(2, 0.25 * max(sizes)) or abs(left - right) > max(1, 0.4 * max(left, right)):
            doubt = "its end ticks differ"
        elif min(sizes) - thickness < LOWEST_TICK * thickness or max(end[1] for end in ends) >= DOUBTFUL_U_PX:
            doubt = doubt or "its ends may have ticks"
    elif left or right:
        doubt = "it has a tick at one end only"
    elif heads != (False, False) and not pointed and doubt:
        doubt = HEADED[heads.index(True)]
    elif max(end[1] for end in ends) >= DOUBTFUL_U_PX:
        doubt = doubt or MELTS
    if stepped:
        # The blocks end in the middle of a tick or at its outer edge, which it hides: half-way, and as unsure.
        ends = [
            (centre + side * ticks / 4, float(np.hypot(u, ticks / 4 / np.sqrt(3))))
            for (centre, u), ticks, side in zip(ends, (left, right), (-1, 1), strict=True)
        ]
    elif min(left, right) > BROAD_TICK_PX and np.ptp(beyond[1 : left - 1]) <= 1:
        doubt = doubt or (BROAD_TICKS if min(left, right) > BROAD_TICK_SHARE * width else "")
        ends = [
            (centre, float(np.hypot(u, ticks / 2 / np.sqrt(3)))) for (centre, u), ticks in zip(ends, (left, right), strict=True)
        ]
    kind = "ticked" if left and right else "filled" if thickness >= 4 else "line"
    if kind == "ticked" and not doubt:
        parts += _inner_ticks(line, full_line, left, width - right)
    return Bar(
        kind=kind,
        start_px=ends[0][0],
        stop_px=ends[1][0],
        row_px=(full_line[0] + full_line[1] - 1) / 2,
        u_px=length_u_px(ends[0][1], ends[1][1]),
        box=box,
        thickness_px=thickness,
        parts=tuple(parts) if not doubt or doubt.startswith("it has") else (full_line,),
        outer_ticks=(left > 0, right > 0),
        doubt=doubt,
    )


def _is_joined(beyond: np.ndarray, left: int, right: int, *, pointed: bool, burnt: bool, thick: bool) -> bool:
    """Tell whether what rises from a line (rows per column), whose end ticks take so many columns, is neither ticks nor heads."""
    width = len(beyond)
    if left or right:
        inner = beyond[left : width - right]
        tallest = max(beyond[: max(left, 1)].max(), beyond[width - max(right, 1) :].max())
        if not len(inner) or (left and right and (_is_ragged(inner, tallest) or _is_ruler(inner, tallest))):
            return False
        return bool((inner > 0).mean() > 0.45 or inner.max() > tallest + 2 or not rises_narrowly(inner))
    if not beyond.any() or (burnt and _only_specks(beyond)):
        return False
    if beyond.max() <= 1 and (thick or not _at_ends(beyond).any()):
        return False  # A ragged rim that leaves both ends as they are: a tick of a thick bar rises farther.
    reach = np.flatnonzero(beyond > 0)
    heads = (reach < 0.25 * width) | (reach >= 0.75 * width)
    return bool(not heads.all() or not pointed)


def _is_stepped(piece: np.ndarray, left: int, right: int) -> bool:
    """Tell whether blocks stand by turns above and below a line between its end ticks (columns), behind which they go on."""
    blocks = np.pad(piece[:, left : piece.shape[1] - right], ((0, 0), (left, right)), mode="edge")
    return has_even_steps(blocks, fewest=2)


def _is_ragged(inner: np.ndarray, tallest: int) -> bool:
    """Tell whether what rises from a line between its end ticks is low beside them: a ragged rim, no ticks of its own."""
    return bool(np.quantile(inner, RAGGED_SHARE) <= RAGGED_PX and inner.max() <= tallest / 2)


def _is_ruler(inner: np.ndarray, tallest: int) -> bool:
    """Tell whether what rises from a line between its end ticks are ticks of one width in equal steps, however closely they stand."""
    ticks = stretches_of(inner > 0)
    if len(ticks) + 1 not in TICK_INTERVALS or inner.max() > tallest:
        return False
    steps = np.diff(ticks.mean(axis=1))
    return bool(len(steps) and np.ptp(ticks[:, 1] - ticks[:, 0]) <= 1 and np.ptp(steps) <= 2)


def _at_ends(beyond: np.ndarray) -> np.ndarray:
    return np.concatenate([beyond[:SPECK_FREE_PX], beyond[-SPECK_FREE_PX:]])


def _only_specks(beyond: np.ndarray) -> bool:
    """Tell whether what rises from a line over the picture is a few low bits of it, none of them near an end."""
    return bool(beyond.max() <= HIGHEST_SPECK_PX and not _at_ends(beyond).any() and (beyond > 0).mean() <= 0.1)


def _inner_ticks(line: _Line, full_line: Box, first: int, last: int) -> list[Box]:
    """Boxes of the ticks between the end ticks of a ruler, given as columns of its piece: they could be read as letters."""
    boxes = []
    for start, stop in stretches_of(line.beyond[first:last] > 0) + first:
        up, down = int(line.above[start:stop].max()), int(line.below[start:stop].max())
        boxes.append((full_line[0] - up, full_line[1] + down, full_line[2] + int(start), full_line[2] + int(stop)))
    return boxes


def _double(bars: list[Bar]) -> list[Bar]:
    """Join two like strokes one above the other."""
    found = []
    plain = [bar for bar in bars if bar.kind in ("filled", "line") and not bar.doubt]
    for upper in plain:
        for lower in plain:
            gap = lower.row_0 - upper.row_1
            near = 1 <= gap <= 3 * upper.thickness_px + 2
            alike = abs(upper.col_0 - lower.col_0) <= 1 and abs(upper.col_1 - lower.col_1) <= 1
            if upper is not lower and near and alike and abs(upper.thickness_px - lower.thickness_px) <= 1:
                found.append(
                    replace(
                        upper,
                        kind="filled",
                        start_px=(upper.start_px + lower.start_px) / 2,
                        stop_px=(upper.stop_px + lower.stop_px) / 2,
                        row_px=(upper.row_px + lower.row_px) / 2,
                        box=(upper.row_0, lower.row_1, upper.col_0, max(upper.col_1, lower.col_1)),
                        parts=upper.parts + lower.parts,
                    )
                )
    return found


def _split(bars: list[Bar]) -> list[Bar]:
    """Join two halves of a line in the same rows whose label may stand in the gap between them."""
    found = []
    for one in bars:
        for other in bars:
            gap = other.col_0 - one.col_1
            if one is other or gap < 8 or one.thickness_px > 12 or one.gap or other.gap:
                continue
            ends = one.outer_ticks == (True, False) and other.outer_ticks == (False, True)
            ends |= one.outer_ticks == other.outer_ticks == (False, False) and not one.doubt and not other.doubt
            ends |= (one.doubt, other.doubt) == HEADED
            alike = abs(one.row_px - other.row_px) <= 1 and abs(one.thickness_px - other.thickness_px) <= 1
            sizes = sorted((one.length_px, other.length_px))
            if not (ends and alike) or sizes[0] < 0.6 * sizes[1] or gap > 12 * sizes[1]:
                continue
            found.append(
                replace(
                    one,
                    kind="split",
                    stop_px=other.stop_px,
                    u_px=max(one.u_px, other.u_px),
                    box=(min(one.row_0, other.row_0), max(one.row_1, other.row_1), one.col_0, other.col_1),
                    parts=one.parts + other.parts,
                    gap=(one.col_1, other.col_0),
                    doubt="",
                )
            )
    return found
