"""What ink of the opposite tone says about a bar over the picture: outline, inside, shadow, or another block of it.

Ink that has an outline has it on both sides; an outline has the ink on one side and the picture on the other. A block
of a bar in two tones is followed by one of the other tone, wider than any outline.
"""

import numpy as np

from semwear.data_bar.bar_ends import Bar, Box
from semwear.data_bar.contours import is_hollow

OPPOSITE_TONE = 60.0
"""Grey of a layer's plane (ink is bright) up to which a pixel is ink of the opposite tone."""
FLAT_INK = 8.0
"""Spread of grey (of 255, 20 % to 80 %) up to which what a hollow shape encloses is ink and not picture."""
BLACK = 15.0
"""Grey of a layer's plane up to which a pixel is at the far end of the range."""
INSIDE_HOLLOW = "it may be the inside of a hollow bar"
OTHER_TONE = "a block of the other tone carries it on"
INK_AGAIN = 235
"""Grey of a layer's plane from which a pixel beyond an outline is ink again."""
BLOCK_SHARE = 0.5
"""Length of a block in the other tone at least, in that of the bar: blocks are about equal, and outlines narrow."""
FARTHEST_SHADOW_PX, FARTHEST_SHADOW = (5, 10), 0.7
"""Rows and columns by which a shadow lies off its bar at most: that share of the bar's thickness, within these limits."""
SHADOW_SPREAD = 15.0
"""Grey up to which a place is as dark as the shadow itself: grooves can be nearly as dark."""
SHADOW_SHARE, FREE_SHARE = 0.8, 0.35
"""Share of opposite ink in a shadow at least, and of either tone around bar and shadow at most."""
LEAST_CONTRAST, LEAST_STROKES = 25.0, 0.05
"""Grey by which letters differ from their ground at least, and their share of a label's box at least."""
MOST_SOFTENED = 40.0
"""Grey by which a letter's strokes may be softer than a bar of the same ink."""
LEAST_SAME = 0.2
"""Share of the opposite tone's letters up to which there are none in the bar's own tone."""
BRIGHTEST_PICTURE, SAME_PICTURE = 215.0, 10.0
"""Grey from which what a mark encloses may be ink, and by which the picture in it differs at most from that around it."""
LEAST_NOISE, LEAST_NOISE_SHARE = 2.0, 0.5
"""Spread of grey (20 % to 80 %) of picture at least, and its share of that around."""
FULL_HEIGHT = 0.8
"""Share of a bar's rows that are opposite ink in a column of such a block."""


def outlines(plane: np.ndarray, piece: np.ndarray, box: Box) -> bool:
    """Tell whether a hollow shape over the picture is the outline of ink of the opposite tone.

    Ink that has an outline has it on both sides; an outline has the ink on one side and the picture on the other.
    """
    level = opposite_level(plane, box)
    enclosed = plane[box[0] : box[1], box[2] : box[3]][~piece]
    rows = _first_inside(piece)
    inner = plane[box[0] : box[1], box[2] + 4 : box[3] - 4][rows][~piece[rows, 4:-4]]
    picture = np.concatenate([rows_beyond(plane, box, distance) for distance in (5, 6, 7)])
    if enclosed.size and picture.size:
        # Flat and unlike the picture: ink of another colour.
        flat = np.ptp(np.percentile(enclosed, (20, 80))) <= FLAT_INK
        if flat and np.median(enclosed) > level and abs(float(np.median(enclosed)) - float(np.median(picture))) > 25:
            return True
        if flat and np.median(enclosed) <= BLACK and np.median(picture) <= BLACK + 25:
            return True  # A hollow bar, or the outline of a dark one on a dark picture: nothing tells.
    inside, outside = (
        [part for part in parts if part.size] for parts in ((enclosed, inner), (rows_beyond(plane, box, 1),))
    )
    return any(np.median(part) <= level for part in inside) != any(np.median(part) <= level for part in outside)


def is_inside_hollow(plane: np.ndarray, piece: np.ndarray, box: Box) -> bool:
    """Tell whether right beyond the outline of ink there is ink of its own tone again, above and below."""
    if piece.shape[0] < 4 or (piece.mean() < 0.9 and not is_hollow(piece)):
        return False
    row_0, row_1, col_0, col_1 = box
    sides = (plane[max(row_0 - 6, 0) : max(row_0 - 1, 0), col_0:col_1], plane[row_1 + 1 : row_1 + 6, col_0:col_1])
    return all(part.size and (part >= INK_AGAIN).mean(axis=1).max() >= 0.95 for part in sides)


def beside_opposite_ink(plane: np.ndarray, bar: Bar) -> bool:
    """Tell whether ink of the opposite tone runs along a line over the picture without going round its ends.

    Between end ticks that rise beyond it on both sides, such ink is as long as the line.
    """
    row_0, row_1, col_0, col_1 = bar.parts[0]
    rows, cols = plane.shape
    inner = slice(col_0 + 4, col_1 - 4)
    along = [plane[row, inner] for row in (row_0 - 1, row_1) if 0 <= row < rows]
    beyond = [plane[bar.row_0 : bar.row_1, col] for col in (bar.col_0 - 1, bar.col_1) if 0 <= col < cols]
    level = opposite_level(plane, bar.box)
    if bar.kind == "ticked" and not bar.doubt and col_1 - col_0 > 8:
        outermost = plane[[bar.row_0, bar.row_1 - 1], inner]
        if (np.mean(outermost <= level, axis=1) < 0.5).all():
            return False
    beside = [float(np.median(part)) for part in along if part.size and np.mean(part <= level) > 0.8]
    if not beside:
        return False
    if len(beside) < len(along):
        # An outline runs along both sides, ink beside its shadow along one; both of these are equally long.
        return not casts_shadow(plane, bar, level)
    # A dark picture beyond an end isn't as dark as ink.
    level = (level + min(beside)) / 2
    return not all(part.size and np.mean(part <= level) > 0.5 for part in beyond)


def casts_shadow(plane: np.ndarray, bar: Bar, level: float) -> bool:
    """Tell whether ink of the opposite tone (up to level) is the bar once more, moved down or up and aside: its shadow.

    The shadow must go past one end as far as it falls short of the other, and nothing may follow it on any side.
    """
    farthest = int(np.clip(FARTHEST_SHADOW * bar.thickness_px, *FARTHEST_SHADOW_PX))
    pad = farthest + 5
    rows, cols = slice(bar.row_0 - pad, bar.row_1 + pad), slice(bar.col_0 - pad, bar.col_1 + pad)
    if min(rows.start, cols.start) < 0 or rows.stop > plane.shape[0] or cols.stop > plane.shape[1]:
        return False
    window = plane[rows, cols]
    dark, bright = window <= level, window >= INK_AGAIN
    shape = np.zeros(window.shape, bool)
    for row_0, row_1, col_0, col_1 in bar.parts:
        shape[row_0 - rows.start : row_1 - rows.start, col_0 - cols.start : col_1 - cols.start] = True
    reach = range(1, farthest + 1)
    for down, aside in (
        (sign * one, way * other) for sign in (1, -1) for way in (1, -1) for one in reach for other in reach
    ):
        moved = np.roll(shape, (down, aside), axis=(0, 1))
        cast = moved & ~shape
        if dark[cast].mean() < SHADOW_SHARE:
            continue
        past = cast & ~shape.any(axis=0)
        short = np.roll(shape, down, axis=0) & ~moved & ~shape
        short[:, ~(shape.any(axis=0) & ~moved.any(axis=0))] = False
        if dark[past].mean() < SHADOW_SHARE or (short.any() and dark[short].mean() > 0.5):
            continue
        down_0, down_1 = (int(edge) for edge in np.flatnonzero((shape | moved).any(axis=1))[[0, -1]])
        left, right = (int(edge) for edge in np.flatnonzero((shape | moved).any(axis=0))[[0, -1]])
        across, along = slice(down_0, down_1 + 1), slice(left, right + 1)
        beyond = [(across, slice(left - 4, left - 1)), (across, slice(right + 2, right + 5))]
        beyond += [(slice(down_0 - 4, down_0 - 1), along), (slice(down_1 + 2, down_1 + 5), along)]
        same = window <= min(level, float(np.median(window[cast])) + SHADOW_SPREAD)
        if all(same[part].mean() <= FREE_SHARE and bright[part].mean() <= FREE_SHARE for part in beyond):
            return True
    return False


def goes_on_in_other_tone(plane: np.ndarray, bar: Bar) -> bool:
    """Tell whether a block of the opposite tone follows at an end of a bar, in its rows: then it is one block of several.

    plane: (rows, cols) uint8 of the picture, with the bar's ink bright.

    >>> from semwear.data_bar.bar_ends import plain_bar
    >>> plane = np.full((40, 90), 128, np.uint8)
    >>> plane[18:24, 10:40], plane[18:24, 40:70] = 255, 0
    >>> bar = plain_bar((18, 24, 10, 40), 9.5, 39.5, 0.4, parts=(), doubt="")
    >>> goes_on_in_other_tone(plane, bar), goes_on_in_other_tone(plane[:, :44], bar)
    (True, False)
    """
    level = opposite_level(plane, bar.box)
    row_0, row_1 = bar.row_0, bar.row_1
    rows = plane[row_0 + 1 : row_1 - 1] if row_1 - row_0 > 3 else plane[row_0:row_1]
    opposite = (rows <= level).mean(axis=0) >= FULL_HEIGHT
    least = int(BLOCK_SHARE * bar.length_px)
    # The column next to the bar may be covered in part.
    sides = (opposite[bar.col_1 + 1 :], opposite[: max(bar.col_0 - 1, 0)][::-1])
    return any(len(side) >= least and bool(side[:least].all()) for side in sides)


def label_in_other_tone(plane: np.ndarray, bar: Bar, label: Box) -> bool:
    """Tell whether a label over the picture is printed in the opposite tone of a bar, as is that of a hollow bar whose
    inside was taken for the bar.

    plane: (rows, cols) uint8 of the picture, with the bar's ink bright; label: box of the label's letters.

    >>> from semwear.data_bar.bar_ends import plain_bar
    >>> plane = np.full((60, 90), 128, np.uint8)
    >>> plane[38:44, 10:70] = 255
    >>> plane[10:30, 20:60:8] = 0
    >>> bar = plain_bar((38, 44, 10, 70), 9.5, 69.5, 0.4, parts=(), doubt="")
    >>> label_in_other_tone(plane, bar, (10, 30, 20, 60))
    True
    >>> plane[10:30, 20:60:8] = 255
    >>> label_in_other_tone(plane, bar, (10, 30, 20, 60))
    False
    """
    row_0, row_1, col_0, col_1 = bar.parts[0] if bar.parts else bar.box
    inside, around = plane[row_0:row_1, col_0:col_1], np.concatenate([rows_beyond(plane, bar.box, d) for d in (5, 6, 7)])
    box = plane[label[0] : label[1], label[2] : label[3]].astype(np.float32)
    rows = [row for distance in (3, 4, 5) for row in (label[0] - distance, label[1] - 1 + distance) if 0 <= row < plane.shape[0]]
    beside = plane[[row for row in rows if not bar.box[0] - 1 <= row <= bar.box[1]], label[2] : label[3]]  # The bar may lie close by.
    if not (inside.size and around.size and box.size and beside.size):
        return False
    tone, ground = float(np.median(inside)), float(np.median(beside))
    least = max(LEAST_CONTRAST, (tone - float(np.median(around))) / 2)
    same = (box > max(ground + least, tone - MOST_SOFTENED)).mean()
    other = (box < ground - LEAST_CONTRAST).mean()
    return bool(other > LEAST_STROKES and same < LEAST_SAME * other)


def opposite_level(plane: np.ndarray, box: Box) -> float:
    """Grey of the plane up to which a pixel is ink of the opposite tone, not just a dark picture around."""
    picture = np.concatenate([rows_beyond(plane, box, distance) for distance in (5, 6, 7)])
    return min(OPPOSITE_TONE, float(np.median(picture)) - 25.0) if picture.size else OPPOSITE_TONE


def rows_beyond(plane: np.ndarray, box: Box, distance: int) -> np.ndarray:
    """Pixels of the rows at a distance above and below a box."""
    rows = [row for row in (box[0] - distance, box[1] - 1 + distance) if 0 <= row < plane.shape[0]]
    return plane[rows, box[2] : box[3]].ravel()


def shows_picture(plane: np.ndarray, bar: Bar, around: Box) -> bool:
    """Tell whether a seeming bar inside another mark is the picture that shows through it: as grey as around, and as noisy.

    plane: (rows, cols) uint8 of the picture, with the bar's ink bright; around: box of the mark around it.

    >>> from semwear.data_bar.bar_ends import plain_bar
    >>> plane = np.random.default_rng(0).integers(90, 110, (60, 120)).astype(np.uint8)
    >>> plane[20:32, 20:100], bar = 0, plain_bar((22, 30, 22, 98), 21.5, 97.5, 0.4, parts=(), doubt="")
    >>> plane[22:30, 22:98] = 100
    >>> before = shows_picture(plane, bar, (20, 32, 20, 100))
    >>> plane[22:30, 22:98] = plane[2:10, 22:98]
    >>> before, shows_picture(plane, bar, (20, 32, 20, 100))
    (False, True)
    """
    row_0, row_1, col_0, col_1 = bar.box
    inside = plane[row_0 + 1 : row_1 - 1, col_0 + 1 : col_1 - 1]
    outside = np.concatenate([rows_beyond(plane, around, distance) for distance in (4, 5, 6, 7)])
    if not inside.size or not outside.size or np.median(inside) > BRIGHTEST_PICTURE:
        return False
    spreads = [float(np.ptp(np.percentile(part, (20, 80)))) for part in (inside, outside)]
    alike = abs(float(np.median(inside)) - float(np.median(outside))) <= SAME_PICTURE
    return alike and spreads[0] >= max(LEAST_NOISE, spreads[1] * LEAST_NOISE_SHARE)


def _first_inside(piece: np.ndarray) -> list[int]:
    """Rows right inside the upper and the lower wall of a hollow shape."""
    full = piece.mean(axis=1) >= 0.9
    if full.all():
        return []
    return [int(np.argmin(full)), len(full) - 1 - int(np.argmin(full[::-1]))]
