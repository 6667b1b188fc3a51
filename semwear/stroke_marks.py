"""Marks along the stroke that a network took for grooves: direction tells scratches and scuffed streaks from grooves.

Where the stroke is known and two lays were found, a pixel that the network gave to a groove (open or smeared) is looked at
along the stroke and along the lays. A streak has footprint (open, smeared or scuffed) along the stroke for a groove's
length, and no such length of it along a lay; a groove has it along its lay. Streaks in which the network half saw scuffing
are scuffed, the others scratches, which are plateau.

On the fields that the limits were chosen on (the calibration fields whose plan states the stroke) 3 % of the pixels that
this changes truly belong to a groove.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from semwear.groove import Turn, odd_length_px
from semwear.lay import direction_difference
from semwear.terms import MaskCode

if TYPE_CHECKING:
    from semwear.lay import Lays

WORKING_SIDE_PX = 512
"""Longest side of the reduced maps that are looked along, px."""
LENGTH_UM = 60.0
"""Length that is looked along, µm: no groove is shorter; half of the field where it is smaller than two such lengths."""
ALONG_STROKE_MIN = 0.7
"""Share of that length along the stroke that has to be footprint."""
ALONG_LAY_MAX = 0.75
"""Share along either lay from which a pixel may belong to a groove."""
LAY_SLOPE_DEG = 3.0
"""A groove may slope by this much against its lay."""
STROKE_SLOPE_DEG = 2.0
"""A streak may slope by this much against the stated stroke."""
CLEARANCE_DEG = 12.0
"""A lay nearer to the stroke than this can't be told from it: broad grooves have footprint along both."""
SCUFFED_MIN = 0.05
"""Mean probability of scuffing over a streak from which it is scuffed."""
KNOWN_MIN = 26
"""Share of the length, in 255ths, that counts as assessed at least: with less known there is hardly any footprint."""


def without_stroke_marks(codes: np.ndarray, probabilities: np.ndarray, lays: Lays, pixel_size_um: float) -> np.ndarray:
    """Return mask codes in which streaks along the stated stroke are scuffed or plateau, never open or smeared groove.

    codes: (rows, cols) uint8 mask codes; probabilities: (4, rows, cols) float32 of the states of the same field, on any
    grid; pixel_size_um: side of a pixel of codes, µm. Where the stroke was not stated, fewer than two lays were found, or
    one of them lies near the stroke, the codes come back as they are.
    """
    if lays.stroke_source != "given" or len(lays.directions_deg) < 2:
        return codes
    if min(abs(direction_difference(lay_deg, lays.stroke_deg)) for lay_deg in lays.directions_deg) < CLEARANCE_DEG:
        return codes
    streaks = _streaks(codes, lays, pixel_size_um)
    if not streaks.any():
        return codes
    count, labels = cv2.connectedComponents(streaks.view(np.uint8), connectivity=8, ltype=cv2.CV_32S)
    scuffing = cv2.resize(probabilities[MaskCode.SCUFFED], streaks.shape[::-1], interpolation=cv2.INTER_LINEAR)
    pixels = np.bincount(labels[streaks], minlength=count)
    mean = np.bincount(labels[streaks], weights=scuffing[streaks], minlength=count) / np.maximum(pixels, 1)
    states = np.where(mean > SCUFFED_MIN, MaskCode.SCUFFED, MaskCode.PLATEAU).astype(np.uint8)
    states[0] = MaskCode.NOT_ASSESSED  # no streak
    found = cv2.resize(states[labels], codes.shape[::-1], interpolation=cv2.INTER_NEAREST)
    taken = (found != MaskCode.NOT_ASSESSED) & ((codes == MaskCode.OPEN_VALLEY) | (codes == MaskCode.SMEARED))
    return np.where(taken, found, codes)


def _streaks(codes: np.ndarray, lays: Lays, pixel_size_um: float) -> np.ndarray:
    """Return where footprint runs along the stroke and along no lay, on a reduced grid, (rows, cols) bool."""
    rows, cols = codes.shape
    reduction = max(1.0, max(rows, cols) / WORKING_SIDE_PX)
    size = max(1, round(cols / reduction)), max(1, round(rows / reduction))
    reducing = cv2.INTER_LINEAR if reduction <= 2.5 else cv2.INTER_AREA
    footprint, assessed = (
        cv2.resize(cv2.inRange(codes, int(lowest), int(MaskCode.SCUFFED)), size, interpolation=reducing)
        for lowest in (MaskCode.OPEN_VALLEY, MaskCode.PLATEAU)
    )
    length_px = odd_length_px(min(LENGTH_UM, min(rows, cols) * pixel_size_um / 2), pixel_size_um * reduction)

    def share(direction_deg: float, slope_deg: float) -> np.ndarray:
        best = np.zeros(footprint.shape, np.uint8)
        for slope in (-slope_deg, 0.0, slope_deg):
            cv2.max(best, _share_along(footprint, assessed, direction_deg + slope, length_px), best)
        return best

    streaks = cv2.compare(share(lays.stroke_deg, STROKE_SLOPE_DEG), np.ceil(255 * ALONG_STROKE_MIN), cv2.CMP_GE)
    streaks &= cv2.compare(footprint, 127, cv2.CMP_GT)
    for lay_deg in lays.directions_deg:
        if streaks.any():
            streaks &= cv2.compare(share(lay_deg, LAY_SLOPE_DEG), 255 * ALONG_LAY_MAX, cv2.CMP_LT)
    return streaks > 0


def _share_along(footprint: np.ndarray, assessed: np.ndarray, direction_deg: float, length_px: int) -> np.ndarray:
    """Return the best share of footprint of all lengths in a direction that hold a pixel, (rows, cols) uint8 in 255ths."""
    turn = Turn(footprint.shape, direction_deg)
    there, known = (turn.turn(layer, flags=cv2.INTER_NEAREST) for layer in (footprint, assessed))
    covered = cv2.blur(there, (length_px, 1), borderType=cv2.BORDER_CONSTANT)
    known = cv2.blur(known, (length_px, 1), borderType=cv2.BORDER_CONSTANT)
    share = cv2.divide(covered, cv2.max(known, KNOWN_MIN), scale=255.0)
    return turn.turn_back(cv2.dilate(share, np.ones((3, length_px), np.uint8)), flags=cv2.INTER_NEAREST)
