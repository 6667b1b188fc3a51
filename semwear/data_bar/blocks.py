"""Bars of equal blocks with blanks as even between them: segmented bars and dashed lines without an outline.

Such a bar runs from the outer edge of its first block to that of its last. A block that is lost at an end would give a
wrong scale, so that blocks are looked for beyond either end.
"""

import numpy as np

from semwear.data_bar.bar_ends import CARRIED_ON, DOUBTFUL_U_PX, MELTS, Bar, length_u_px, outer_edge, plain_bar
from semwear.data_bar.pieces import Pieces
from semwear.data_bar.tick_ends import LARGEST_DOT_PX

FEWEST_BLOCKS = 3
"""Two blocks are a line broken by its label, or two bars."""
WIDEST_BLANK = 1.5
"""Blank between blocks at most, in widths of a block."""
LEAST_FLATNESS = 3.0
"""Length of a row of blocks over its height: letters and marks are shorter."""
MOST_DOT_SHARE = 0.01
"""Width of a dot, as a share of the bar, up to which it makes no difference whether dots mark places or are blocks."""
JOINED_PX = 6
"""Rows above and below blocks in which ink that joins them is looked for."""
TINTED = 0.08
"""Share of the ink's level from which a blank holds a fainter tone, so that such a block may end the bar."""


def block_rows(
    plane: np.ndarray, pieces: Pieces, *, shortest_px: int, burnt: bool, around: np.ndarray | None = None
) -> list[Bar]:
    """Find rows of equal, equally spaced blocks in a layer: plane (rows, cols) uint8 with bright ink.

    burnt: the ink stands on the picture, whose bright parts may hide a block; around: plane that shows what was left out
    of the layer.
    """
    left, top, width, height, area = pieces.stats[1:].astype(int).T
    block = (height >= 2) & (area >= 0.9 * width * height) & (width >= 4)
    block &= (width >= 1.5 * height) | (height > LARGEST_DOT_PX) & (width >= 0.4 * height)
    block |= (height >= 4) & (height <= LARGEST_DOT_PX) & (width >= 0.8 * height) & (area >= 0.9 * width * height)
    boxes = np.stack([top, top + height, left, left + width], axis=1)
    found = []
    taken = np.zeros(len(boxes), bool)
    for index in np.argsort(left, kind="stable"):
        if taken[index] or not block[index]:
            continue
        same = (np.abs(boxes[:, 0] - top[index]) <= 1) & (np.abs(boxes[:, 1] - boxes[index, 1]) <= 1)
        row = np.flatnonzero(same & block & ~taken)
        row = row[np.argsort(left[row], kind="stable")]
        chain = _even_chain(boxes[row], int(np.flatnonzero(row == index)[0]))
        if len(chain) < FEWEST_BLOCKS:
            continue
        members = row[chain]
        taken[members] = True
        bar = _measured(plane, boxes[members], boxes[row], burnt=burnt, around=around)
        if bar is not None and bar.length_px >= shortest_px:
            found.append(bar)
    return found


def _even_chain(boxes: np.ndarray, first: int) -> list[int]:
    """Return the places of the boxes, from the first on, that have its width and stand equally far apart."""
    widths, chain = boxes[:, 3] - boxes[:, 2], [first]
    blank = None
    for place in range(first + 1, len(boxes)):
        gap = boxes[place, 2] - boxes[chain[-1], 3]
        if abs(widths[place] - widths[first]) > 1 or gap < 2:
            break
        if blank is None:
            if gap > WIDEST_BLANK * widths[first] + 1 or gap < 0.3 * widths[first]:
                break
            blank = gap
        if abs(gap - blank) > 1:
            break
        chain.append(place)
    return chain


def _measured(
    plane: np.ndarray, blocks: np.ndarray, row: np.ndarray, *, burnt: bool, around: np.ndarray | None
) -> Bar | None:
    """Measure a row of blocks; row: all boxes in its rows, so that what is no block can be seen to carry it on."""
    row_0, row_1 = int(np.median(blocks[:, 0])), int(np.median(blocks[:, 1]))
    col_0, col_1 = int(blocks[0, 2]), int(blocks[-1, 3])
    wide = float(np.median(blocks[:, 3] - blocks[:, 2]))
    blank = float(np.median(blocks[1:, 2] - blocks[:-1, 3]))
    if col_1 - col_0 < LEAST_FLATNESS * (row_1 - row_0):
        return None
    if row_1 - row_0 <= LARGEST_DOT_PX and wide < 1.5 * (row_1 - row_0) and abs(blank - wide) > 1:
        return None  # Dots, which mark places by their middles.
    start, start_u = outer_edge(plane, tuple(int(edge) for edge in blocks[0]), at_left=True)
    stop, stop_u = outer_edge(plane, tuple(int(edge) for edge in blocks[-1]), at_left=False)
    ink = float(np.median(plane[row_0:row_1, blocks[0, 2] + 1 : blocks[0, 3] - 1]))
    between = [
        plane[row_0:row_1, one[3] + 1 : other[2] - 1] for one, other in zip(blocks[:-1], blocks[1:], strict=True)
    ]
    level = float(np.median(np.concatenate([part.ravel() for part in between if part.size] or [[0]])))
    beyond = _beyond(plane if around is None else around, (row_0, row_1), col_0, col_1, int(blank), int(wide))
    doubt = ""
    if max(start_u, stop_u) >= DOUBTFUL_U_PX:
        doubt = MELTS
    over_picture = burnt or around is not None
    if any(part.size and part.max() >= max((ink + level) / 2, 0.8 * ink) for part in beyond):
        doubt = "the picture may hide a block beyond its end" if over_picture else CARRIED_ON
    if not over_picture and level > TINTED * ink:
        doubt = "its blanks aren't blank"
    if row_1 - row_0 <= LARGEST_DOT_PX and wide < 1.5 * (row_1 - row_0) and wide > MOST_DOT_SHARE * (col_1 - col_0):
        doubt = "its blocks may be dots"
    if _joined(plane, blocks, (row_0, row_1), (0.85 if burnt else 0.6) * ink):
        doubt = "something joins its blocks"
    near = (row[:, 2] > col_0 - 2 * (blank + wide)) & (row[:, 3] < col_1 + 2 * (blank + wide))
    if near.sum() > len(blocks):
        doubt = CARRIED_ON
    parts = tuple(tuple(int(edge) for edge in block) for block in blocks)
    box = (row_0, row_1, col_0, col_1)
    return plain_bar(box, start, stop, length_u_px(start_u, stop_u), parts=parts, doubt=doubt)


def _joined(plane: np.ndarray, blocks: np.ndarray, rows: tuple[int, int], level: float) -> bool:
    """Tell whether ink runs above or below the blanks between blocks: blocks of another row, or an outline."""
    reach = max(JOINED_PX, (rows[1] - rows[0]) // 2)
    shares = []
    for one, other in zip(blocks[:-1], blocks[1:], strict=True):
        for part in (plane[max(rows[0] - reach, 0) : rows[0] + 1], plane[rows[1] - 1 : rows[1] + reach]):
            blank = part[:, one[3] + 1 : other[2] - 1] >= level
            shares.append(blank.mean(axis=1).max(initial=0.0) if blank.size else 0.0)
    return float(np.mean(np.array(shares) > 0.8)) >= 0.25


def _beyond(
    plane: np.ndarray, rows: tuple[int, int], col_0: int, col_1: int, blank: int, wide: int
) -> list[np.ndarray]:
    """Grey along the middle rows where the next block beyond either end would stand."""
    part = plane[rows[0] : rows[1]].astype(np.float32)
    profile = np.percentile(part, 30, axis=0)
    before = profile[max(col_0 - blank - wide + 1, 0) : max(col_0 - blank - 1, 0)]
    after = profile[col_1 + blank + 1 : col_1 + blank + wide - 1]
    # A hidden block would be bright all along.
    return [np.array([side.min()]) for side in (before, after) if side.size >= 2]
