"""What stands around a shape, on a panel or over the picture, and speaks against its being the bar of a label."""

import cv2
import numpy as np

from semwear.data_bar.bar_ends import Bar
from semwear.data_bar.ink import COLOUR_CHROMA, Ink
from semwear.data_bar.label_point import Label, end_columns, label_columns
from semwear.data_bar.pieces import pieces_of
from semwear.data_bar.two_tones import FLAT_INK, INK_AGAIN, label_in_other_tone, rows_beyond

GOES_ON = "it goes on beyond its label"
PLATE_HIGH, HIGHEST_BAR = "it is higher than a bar beside such a label", 2.0
"""Height of a filled bar at most, in letter heights of a label outside it: higher ones are plates and strips."""
HOLDS_MARKS, FEWEST_MARKS = "it may be the outline of the dots or ticks in it", 4
ASKEW = "its label stands askew of it, so that a part of it may be hidden"
ASKEW_LETTERS, OFF_MIDDLE = 1.0, 0.15
"""How far a label may reach beyond one end of a bar, in heights of its letters, and how far off its middle it may stand, in lengths
of the bar, before it stands askew."""
AT_END = (1.5, 0.5)
"""How far the middle of a label at the right end of a bar, and of a row of few ticks, may lie off that end, in heights of its letters."""
MANY_TICKS = 9
"""Ticks of which a row is whole, with ten intervals: half of one has fewer, and twenty are rare."""
LABEL_IN_OTHER_TONE = "its label is in the other tone"
ON_PLATE = "its label stands on a plate of its own"
PLATE_BESIDE, ONE_TONE, OFF_PLATE, PLATE_BETWEEN = (0.3, 1.0), 2.0, 15.0, 0.25
"""Where a plate is looked for beside a label, in heights of its letters, spread of grey of one that is seen on one side only,
grey by which what is around a bar is no plate, and the least share of a label's box in which its plate shows between letters."""
RIM_PX, RIM_BEYOND = 6, 0.3
"""Rows beyond a bar in which rims of a longer one are looked for, and how far they go on beyond its end, in its lengths."""
RIM_INK = 0.95
"""Share of its columns in which a rim is ink."""
WIDEST_GAP, SOFTER_INK, GOES_ON_SHARE = 2.0, 40.0, 0.7
"""Gap between a label and half of a bar at most, in letter heights; grey by which ink may be softer in the other half and
has to stand out from the picture; share of the other half's columns with ink."""

BESIDE_PX, SAME_HUE = 4, 0.7
"""Pixels beside a bar's end in which another colour is looked for, and cosine between two directions of colour that are one."""


def doubt_on_panel(ink: Ink, label: Label, bar: Bar) -> str:
    """Return why a shape on a panel may be no bar for a label, "" if nothing says so."""
    plain = bar.kind in ("filled", "line") and label.printed.inside is None
    return GOES_ON if plain and goes_on_beyond(ink.plane, bar, label) else ""


def doubt_over_picture(ink: Ink, label: Label, bar: Bar) -> str:
    """Return why a shape over the picture may be no bar for a label, "" if nothing says so."""
    rows, cols = ink.mask.shape
    if bar.row_0 <= 0 or bar.row_1 >= rows or bar.col_0 <= 0 or bar.col_1 >= cols:
        return "it reaches the picture's edge"
    if label.ink.on_panel or label.printed.inside is not None:
        return ""
    if bar.kind != "split" and stands_askew(bar, label):
        return ASKEW
    if bar.kind not in ("filled", "line"):
        return ""
    line = label.printed.line
    if bar.kind == "filled" and bar.row_1 - bar.row_0 > HIGHEST_BAR * line.letter_px:
        return PLATE_HIGH
    if bar.kind == "filled" and _holds_a_row_of_marks(ink.mask[bar.row_0 : bar.row_1, bar.col_0 : bar.col_1]):
        return HOLDS_MARKS
    plane = ink.plane if ink.raw is None else ink.raw
    if goes_on_beyond(plane, bar, label):
        return GOES_ON
    if lies_between_longer(plane, bar):
        return "it lies between the rims of a longer bar"
    if stands_on_a_plate(plane, bar, (line.row_0, line.row_1, *label_columns(label)), line.letter_px):
        return ON_PLATE
    if bar.kind == "line" or (label.ink.name == ink.name and ink.name.startswith("outlined")):
        return ""  # Letters of which the outline is left out have the tone of the bar of which it is, however thin they are.
    if label.ink.tone == ink.tone == "coloured":
        return ""  # Nothing else in the picture has a colour.
    other = label_in_other_tone(plane, bar, (line.row_0, line.row_1, line.col_0, line.col_1))
    return LABEL_IN_OTHER_TONE if other else ""


def _holds_a_row_of_marks(inked: np.ndarray) -> bool:
    """Tell whether equal holes stand in equal steps in a bar, (rows, cols) bool: close dots or ticks whose outlines have run together.

    >>> bar = np.ones((9, 79), bool)
    >>> bar[2:7, 2:77:7] = bar[2:7, 3:77:7] = bar[2:7, 4:77:7] = False
    >>> _holds_a_row_of_marks(bar), _holds_a_row_of_marks(bar[:, :15])
    (True, False)
    """
    holes = pieces_of(~inked).stats[1:]
    left, top = holes[:, cv2.CC_STAT_LEFT], holes[:, cv2.CC_STAT_TOP]
    right, foot = left + holes[:, cv2.CC_STAT_WIDTH], top + holes[:, cv2.CC_STAT_HEIGHT]
    holes = holes[(left > 0) & (top > 0) & (right < inked.shape[1]) & (foot < inked.shape[0])]  # None of round corners.
    columns = np.sort(holes[:, cv2.CC_STAT_LEFT] + holes[:, cv2.CC_STAT_WIDTH] / 2)
    if len(columns) < FEWEST_MARKS:
        return False
    alike = max(np.ptp(holes[:, side]) for side in (cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT, cv2.CC_STAT_TOP)) <= 2
    return bool(alike and np.ptp(np.diff(columns)) <= 2)


def stands_askew(bar: Bar, label: Label) -> bool:
    """Tell whether a label above or below a bar reaches beyond one end of it and stands neither in its middle, nor flush with the
    other end, nor at its right end, as on a ruler that begins at 0: then a part of the bar wasn't seen, or what was seen is none."""
    first, last = label_columns(label)
    line, letter = label.printed.line, label.printed.line.letter_px
    beside = min(line.row_1, bar.row_1) > max(line.row_0, bar.row_0) or min(last, bar.col_1) <= max(first, bar.col_0)
    few_ticks = bar.kind == "ticks" and len(bar.parts) < MANY_TICKS
    if beside or abs((first + last) / 2 - bar.col_1) <= AT_END[few_ticks] * letter:
        return False
    before, after = bar.col_0 - first, last - bar.col_1
    if max(before, after) <= ASKEW_LETTERS * letter or min(before, after) >= -letter:
        return False
    return abs(before - after) / 2 > max(letter, OFF_MIDDLE * bar.length_px)


def stands_on_a_plate(plane: np.ndarray, bar: Bar, label: tuple[int, int, float, float], letter_px: float) -> bool:
    """Tell whether a label over the picture stands on a flat plate and the bar elsewhere: the plate may be the bar that is meant.

    plane: (rows, cols) uint8 of the picture; label: rows and columns of the label's letters.

    >>> from semwear.data_bar.bar_ends import plain_bar
    >>> plane = np.random.default_rng(0).integers(60, 140, (90, 200)).astype(np.uint8)
    >>> plane[30:50, 90:190], plane[35:45, 120:160:4], plane[30:50, 20:90] = 255, 0, 10
    >>> bar = plain_bar((30, 50, 20, 90), 19.5, 89.5, 0.4, parts=(), doubt="")
    >>> stands_on_a_plate(plane, bar, (35, 45, 120.0, 158.0), 10.0)
    True
    >>> plane[10:80, 10:195], plane[30:50, 20:90] = 255, 10
    >>> stands_on_a_plate(plane, bar, (35, 45, 120.0, 158.0), 10.0)
    False
    """
    near, far = int(np.ceil(PLATE_BESIDE[0] * letter_px)), int(np.ceil(PLATE_BESIDE[1] * letter_px))
    row_0, row_1, first, last = (int(round(edge)) for edge in label)
    sides = plane[row_0:row_1, max(first - far, 0) : max(first - near, 0)], plane[row_0:row_1, last + near : last + far]
    spreads = [float(np.ptp(np.percentile(side, (5, 95)))) if side.size else 255.0 for side in sides]
    around = np.concatenate([rows_beyond(plane, bar.box, distance) for distance in (5, 6, 7)])
    # What covers the plate may stand close to the label on one side.
    if not around.size or (max(spreads) > FLAT_INK and min(spreads) > ONE_TONE):
        return False
    tone = float(np.median(sides[int(np.argmin(spreads))]))
    # The plate goes on between the letters; a flat patch of the picture beside them doesn't.
    between = np.abs(plane[row_0:row_1, first:last].astype(float) - tone) <= OFF_PLATE
    seen = bool(between.size and between.mean() >= PLATE_BETWEEN)
    return seen and abs(float(np.median(around)) - tone) > OFF_PLATE


def covered_in_another_colour(rgb: np.ndarray, box: tuple[int, int, int, int]) -> bool:
    """Tell whether a mark of another colour than the bar's touches one of its ends, under which it may go on.

    rgb: (rows, cols, 3) uint8; box: rows and columns of the bar in it.

    >>> rgb = np.full((40, 90, 3), 90, np.uint8)
    >>> rgb[18:22, 10:60] = 0, 255, 255
    >>> before = covered_in_another_colour(rgb, (18, 22, 10, 60))
    >>> rgb[12:28, 60:90] = 255, 0, 0
    >>> before, covered_in_another_colour(rgb, (18, 22, 10, 60))
    (False, True)
    """
    row_0, row_1, first, last = box
    known = [_hue(rgb[row_0:row_1, first:last])]  # Of the bar, and of a tinted panel on which it lies.
    known += [_hue(rows[:, first:last]) for rows in (rgb[max(row_0 - 8, 0) : max(row_0 - 3, 0)], rgb[row_1 + 3 : row_1 + 8]) if len(rows)]
    beside = (rgb[row_0:row_1, max(first - BESIDE_PX - 1, 0) : max(first - 1, 0)], rgb[row_0:row_1, last + 1 : last + 1 + BESIDE_PX])
    hues = [_hue(part) for part in beside if part.size]
    return any(hue.any() and max(float(one @ hue) for one in known) < SAME_HUE for hue in hues)


def _hue(pixels: np.ndarray) -> np.ndarray:
    """Return the direction in which a colour differs from grey, (3,) of length 1, or noughts for grey. JPEG lets a colour fade
    beyond its ink, but keeps its direction."""
    colour = np.median(pixels.reshape(-1, 3).astype(float), axis=0)
    if np.ptp(colour) < COLOUR_CHROMA:
        return np.zeros(3)
    apart = colour - colour.mean()
    return apart / np.linalg.norm(apart)


def lies_between_longer(plane: np.ndarray, bar: Bar) -> bool:
    """Tell whether ink runs along both sides of a bar over the picture and on beyond one of its ends.

    plane: (rows, cols) uint8 of the picture, with the bar's ink bright.

    >>> from semwear.data_bar.bar_ends import plain_bar
    >>> plane = np.full((40, 90), 90, np.uint8)
    >>> plane[17:23, 10:80], plane[18:22, 11:79], plane[19:21, 40:60] = 255, 0, 255
    >>> piece = plain_bar((19, 21, 40, 60), 39.5, 59.5, 0.4, parts=(), doubt="")
    >>> lies_between_longer(plane, piece), lies_between_longer(np.where(plane == 255, 90, plane), piece)
    (True, False)
    """
    row_0, row_1, first, last = bar.box
    beyond = int(np.ceil(RIM_BEYOND * (last - first)))
    sides = plane[max(row_0 - RIM_PX, 0) : max(row_0 - 1, 0)], plane[row_1 + 1 : row_1 + RIM_PX]
    runs = (slice(max(first - beyond, 0), last), slice(first, last + beyond))

    def is_rim(row: np.ndarray, run: slice) -> bool:
        return len(row[run]) >= last - first + beyond and (row[run] >= INK_AGAIN).mean() >= RIM_INK

    return any(all(any(is_rim(row, run) for row in side) for side in sides) for run in runs)


def goes_on_beyond(plane: np.ndarray, bar: Bar, label: Label) -> bool:
    """Tell whether a line has ink in its rows beyond a label beside it, too: then it is half of a bar."""
    line = label.printed.line
    col_0, col_1 = label_columns(label)
    # The box of a line may hold the other half, too.
    opens, closes = end_columns(label)
    col_0, col_1 = int(round(max(col_0, opens - line.letter_px))), int(round(min(col_1, closes + line.letter_px)))
    row_0, row_1, first, last = bar.box
    gap = max(col_0 - last, first - col_1)
    if not (line.row_0 <= bar.row_px <= line.row_1 and 0 <= gap <= WIDEST_GAP * line.letter_px):
        return False
    start = col_1 + gap if last <= col_0 else col_0 - gap - (last - first)
    beyond = slice(max(start, 0), max(start + last - first, 0))
    ink_level = float(np.median(plane[row_0:row_1, first:last].max(axis=0)))
    there = plane[row_0:row_1, beyond].max(axis=0, initial=0).astype(float)
    beside = [plane[row, beyond] for row in (row_0 - 5, row_1 + 4) if 0 <= row < plane.shape[0]]
    if not there.size or not beside:
        return False
    stands_out = (there >= ink_level - SOFTER_INK) & (there >= np.max(beside, axis=0) + SOFTER_INK)
    return bool(there.size >= (last - first) / 2 and stands_out.mean() >= GOES_ON_SHARE)
