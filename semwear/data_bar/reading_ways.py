"""The ways in which one line of ink is read: stretched, sized, softened, or with the picture around it."""

import re
from dataclasses import replace

import cv2

from semwear.data_bar.ink import Ink
from semwear.data_bar.labels import lengths_in
from semwear.data_bar.lines import Line
from semwear.data_bar.text import Reading, read_line

SOFT_LETTER_PX = 10.0
"""Height to which letters are reduced to be softened."""
LETTERS_BEFORE = 2.6
"""Letters before a label, in letter heights, among which its first figures may have been lost."""

_NEARLY_LENGTH = re.compile(r"[\dOoQlI][\dOo.,]*\s?[^\d\s]{0,3}[mMnNrR]")


def read_printed(
    ink: Ink,
    line: Line,
    *,
    inverse: bool = False,
    hard: bool = False,
    height_share: float = 0.72,
) -> Reading:
    """Read one line of a layer; inverse: light text inside a filled bar."""
    pad = max(1, int(round(0.12 * line.letter_px)))
    margin = 0 if inverse else pad
    crop = ink.crop(line.row_0 - margin, line.row_1 + margin, line.col_0 - margin, line.col_1 + margin, hard=hard)
    return read_line(255 - crop if inverse else crop, height_share=height_share)


def read_soft(ink: Ink, line: Line) -> Reading:
    """Read one line reduced and softened, which takes the steps out of letters made of few large dots."""
    pad = max(1, int(round(0.12 * line.letter_px)))
    crop = ink.crop(line.row_0 - pad, line.row_1 + pad, line.col_0 - pad, line.col_1 + pad)
    share = min(1.0, SOFT_LETTER_PX / max(line.letter_px, 1))
    small = cv2.resize(crop, None, fx=1.15 * share, fy=share, interpolation=cv2.INTER_AREA) if crop.size else crop
    return read_line(cv2.GaussianBlur(small, (3, 3), 0) if small.size else small, height_share=0.8)


def read_raw(ink: Ink, line: Line) -> Reading:
    """Read one line of burnt-in ink with the picture around it."""
    pad = max(1, int(round(0.12 * line.letter_px)))
    crop = ink.raw_crop(line.row_0 - pad, line.row_1 + pad, line.col_0 - pad, line.col_1 + pad)
    return read_line(crop, height_share=0.85)


def read_carefully(ink: Ink, line: Line, *, near: bool = False) -> tuple[Reading, Line]:
    """Read a line; if it has the look of a length without being one, read it again in other ways.

    Returns the reading and the box that it was read in, to which its places refer.

    near: the line stands where a bar's label would, so that figures alone have the look of a length.
    """
    reading = read_printed(ink, line)
    looks = _NEARLY_LENGTH.search(reading.text) or (near and re.match(r"\d[\d.,]*\s?\S{0,3}$", reading.text))
    if holds_length(reading) or not looks:
        return reading, line
    again = read_soft(ink, line)
    if holds_length(again):
        return again, line
    wide = widened(line)
    for other, hard, share in ((line, True, 0.6), (line, False, 0.85), (wide, False, 0.72), (wide, True, 0.6)):
        again = read_printed(ink, other, hard=hard, height_share=share)
        if holds_length(again):
            return again, other
    if ink.raw is not None:
        again = read_raw(ink, line)
        if holds_length(again):
            return again, line
    return reading, line


def holds_length(reading: Reading) -> bool:
    return any(length.um > 0 for length in lengths_in(reading.text))


def read_from_before(ink: Ink, line: Line) -> Reading:
    """Read one line of ink over the picture, with the picture, from some letters before it on: it may have begun there."""
    before = replace(line, col_0=max(line.col_0 - int(round(LETTERS_BEFORE * line.letter_px)), 0))
    return read_raw(ink, before)


def widened(line: Line) -> Line:
    """Return the line's box with a letter more on either side, where the picture may have hidden one."""
    more = int(round(line.letter_px))
    return replace(line, col_0=max(line.col_0 - more, 0), col_1=line.col_1 + more)
