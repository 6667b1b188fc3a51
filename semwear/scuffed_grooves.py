"""Scuffing follows the stroke: a long scuffed band that runs along a lay, well off the stroke, is a groove.

Some grooves look torn: bundles of scratches, floors that are bright and fibrous. A network that judges by looks takes them
for scuffing; where the stroke is known, their direction tells (common practice, no source). Each pixel of such a band gets
the likeliest of the other states.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from semwear.lay import direction_difference
from semwear.pieces import measure_pieces
from semwear.terms import MaskCode

if TYPE_CHECKING:
    from semwear.lay import Lays

LONG_MIN = 3.0
"""Length over width from which a band has a direction."""
LENGTH_MIN_UM = 12.0
"""Shorter pieces are left alone, µm."""
OFF_LAY_DEG = 8.0
"""A band nearer than this to a lay runs along it."""
OFF_STROKE_DEG = 18.0
"""A lay nearer to the stroke than this can't be told from it: scuffed bands are ragged."""


def without_scuffed_grooves(codes: np.ndarray, probabilities: np.ndarray, lays: Lays, pixel_size_um: float) -> np.ndarray:
    """Return mask codes in which no long scuffed band runs along a lay, where the stroke was stated.

    codes: (rows, cols) uint8 mask codes; probabilities: (4, rows, cols) float32 of the states of the same field, on any
    grid; pixel_size_um: side of a pixel of codes, µm.
    """
    scuffed = codes == MaskCode.SCUFFED
    if lays.stroke_source != "given" or not scuffed.any():
        return codes
    pieces = measure_pieces(scuffed, pixel_size_um)
    off_stroke = [
        lay_deg
        for lay_deg in lays.directions_deg
        if abs(direction_difference(lay_deg, lays.stroke_deg)) >= OFF_STROKE_DEG
    ]
    long = pieces.length_um >= np.maximum(LONG_MIN * pieces.width_um, LENGTH_MIN_UM)
    grooves = long & (pieces.off_deg(off_stroke) <= OFF_LAY_DEG)
    if not grooves.any():
        return codes
    places = grooves[pieces.entry]
    row, col = pieces.row[places], pieces.col[places]
    other = np.argmax(probabilities[: MaskCode.SCUFFED], 0).astype(np.uint8)
    found = codes.copy()
    found[row, col] = cv2.resize(other, codes.shape[::-1], interpolation=cv2.INTER_NEAREST)[row, col]
    return found
