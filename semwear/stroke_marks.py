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

from semwear.footprint import Reduction, share_along
from semwear.groove import Turn
from semwear.lay import direction_difference
from semwear.terms import MaskCode

if TYPE_CHECKING:
    from semwear.lay import Lays

ALONG_STROKE_MIN = 0.7
"""Share of a groove's length along the stroke that has to be footprint."""
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
    reduction = Reduction(codes.shape, pixel_size_um)
    footprint = reduction.states(codes, MaskCode.OPEN_VALLEY, MaskCode.SCUFFED)
    assessed = reduction.states(codes, MaskCode.PLATEAU, MaskCode.SCUFFED)

    def share(direction_deg: float, slope_deg: float) -> np.ndarray:
        best = np.zeros(footprint.shape, np.uint8)
        for slope in (-slope_deg, 0.0, slope_deg):
            turn = Turn(footprint.shape, direction_deg + slope)
            there, known = (turn.turn(layer, flags=cv2.INTER_NEAREST) for layer in (footprint, assessed))
            cv2.max(best, share_along(turn, there, known, reduction.length_px), best)
        return best

    streaks = cv2.compare(share(lays.stroke_deg, STROKE_SLOPE_DEG), np.ceil(255 * ALONG_STROKE_MIN), cv2.CMP_GE)
    streaks &= cv2.compare(footprint, 127, cv2.CMP_GT)
    for lay_deg in lays.directions_deg:
        if streaks.any():
            streaks &= cv2.compare(share(lay_deg, LAY_SLOPE_DEG), 255 * ALONG_LAY_MAX, cv2.CMP_LT)
    return streaks > 0
