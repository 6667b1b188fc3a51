"""Pixel states refined by the geometry of the lays, where a network that judges by looks alone goes wrong.

Where the stroke is stated, grooves that look torn (semwear.scuffed_grooves) and marks along the stroke
(semwear.stroke_marks) go first. Then two errors are mended, both by looking along the lays, and only in fields where two lays
were found:

1. *Pieces that are no groove.* A hone groove runs along its lay for at least 60 µm. Where less than 60 % of every 60 µm
   of the lay through a valley pixel is footprint (open or smeared), the pixel has no groove to belong to. A graphite
   flake of 5 µm crossing the lay at 15° covers 19 µm of it. Connected pieces of such pixels become plateau if they are
   no larger than a flake and don't run along a lay: short remnants of a groove that was closed stay.
2. *Closures that were missed.* Between two stretches of a groove on one line, a gap over which the network half saw
   smear is smeared: what surrounds a pixel along the groove tells more than the pixel itself.

Lays can be wrong: a mark taken for a lay leaves the grooves of the true one without support. Long valley pieces that
run along neither lay show it, and then nothing is changed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from semwear.footprint import GROOVE_LENGTH_UM, Reduction, share_along
from semwear.groove import Turn, odd_length_px
from semwear.pieces import measure_pieces
from semwear.scuffed_grooves import without_scuffed_grooves
from semwear.stroke_marks import without_stroke_marks
from semwear.terms import MaskCode

if TYPE_CHECKING:
    from semwear.lay import Lays

SUPPORT_MIN = 0.6
"""Share of a groove's length along the lay that has to be footprint."""
FLAKE_WIDTH_UM = 12.0
"""Broader pieces are no flakes: graphite flakes are some 2–10 µm thick (common practice, no source), µm."""
OFF_LAY_DEG = 5.0
"""A piece nearer than this to a lay runs along it: as far as a groove may slope against its lay."""
FOREIGN_OFF_DEG = 15.0
"""A long piece further than this from both lays belongs to neither."""
FOREIGN_SHARE_MAX = 0.05
"""Share of the valley area in such pieces from which the lays don't explain the field."""
STRETCH_LENGTH_UM = 15.0
"""Least length of the footprint on both sides of a gap: longer than a flake that crosses the groove, µm."""
GAP_UM = (8.0, 60.0)
"""Length of the gaps that are judged, µm: shorter ones are ragged edges, longer ones are as long as a groove."""
GAP_WIDTH_UM = 3.0
"""Narrower gaps are ragged edges, half of the narrowest hone grooves being about as wide, µm."""
GAP_SMEAR_MIN = 0.2
"""Mean probability of smear over a gap from which it is smeared (the background lies below 0.01)."""


def refine_states(codes: np.ndarray, probabilities: np.ndarray, lays: Lays, pixel_size_um: float) -> np.ndarray:
    """Return mask codes with marks along the stroke and flakes taken out of the grooves, and missed closures added.

    codes: (rows, cols) uint8 mask codes; probabilities: (4, rows, cols) float32 of the states of the same field, on any
    grid; pixel_size_um: side of a pixel of codes, µm. Scuffing along a lay turns to another state (see
    semwear.scuffed_grooves) and marks along a stated stroke to scuffed or plateau (see semwear.stroke_marks); for the rest,
    only valley turns to plateau and plateau to smeared, and only with two lays that explain the field.
    Raises ValueError for a pixel size that isn't positive.
    """
    if not pixel_size_um > 0.0:
        raise ValueError(f"pixel_size_um is {pixel_size_um}; state a positive size")
    codes = without_scuffed_grooves(codes, probabilities, lays, pixel_size_um)
    if len(lays.directions_deg) < 2:
        return codes
    codes = without_stroke_marks(codes, probabilities, lays, pixel_size_um)
    support, gap_smear = _along_lays(codes, probabilities[MaskCode.SMEARED], lays, pixel_size_um)
    size = codes.shape[::-1]
    valley = codes == MaskCode.OPEN_VALLEY
    lonely = valley & (cv2.resize(support, size, interpolation=cv2.INTER_LINEAR) < 255 * SUPPORT_MIN)
    pieces = measure_pieces(lonely, pixel_size_um)
    off_deg = pieces.off_deg(lays.directions_deg)
    long = pieces.length_um > GROOVE_LENGTH_UM
    foreign_um2 = pieces.area_um2[long & (off_deg > FOREIGN_OFF_DEG)].sum()
    if foreign_um2 > FOREIGN_SHARE_MAX * np.count_nonzero(valley) * pixel_size_um**2:
        return codes
    flakes = ~long & (pieces.width_um <= FLAKE_WIDTH_UM) & (off_deg > OFF_LAY_DEG)
    refined = codes.copy()
    refined[pieces.row, pieces.col] = np.where(flakes[pieces.entry], MaskCode.PLATEAU, MaskCode.OPEN_VALLEY)
    if gap_smear.any():
        missed = cv2.resize(gap_smear, size, interpolation=cv2.INTER_LINEAR) >= 255 * GAP_SMEAR_MIN
        missed &= codes == MaskCode.PLATEAU
        np.copyto(refined, np.uint8(MaskCode.SMEARED), where=missed)
    return refined


def _along_lays(codes, smear_probability, lays: Lays, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Return two reduced maps, (rows, cols) uint8 in 255ths: the best share of footprint along a lay within a groove's
    length of each pixel, and the mean probability of smear over the gap that a pixel lies in, 0 outside gaps."""
    reduction = Reduction(codes.shape, pixel_size_um)
    layers = [
        reduction.states(codes, MaskCode.OPEN_VALLEY, MaskCode.SMEARED),
        reduction.states(codes, MaskCode.PLATEAU, MaskCode.SCUFFED),
        cv2.convertScaleAbs(reduction.reduced(smear_probability), alpha=255.0),
    ]
    support, gap_smear = np.zeros((2, *layers[0].shape), np.uint8)
    for lay_deg in lays.directions_deg:
        turn = Turn(layers[0].shape, lay_deg)
        footprint, assessed, smear = (turn.turn(layer, flags=cv2.INTER_NEAREST) for layer in layers)
        cv2.max(support, share_along(turn, footprint, assessed, reduction.length_px), support)
        gaps = _gap_smear(footprint, assessed, smear, reduction.pixel_size_um)
        if gaps is not None:
            cv2.max(gap_smear, turn.turn_back(gaps, flags=cv2.INTER_NEAREST), gap_smear)
    return support, gap_smear


def _gap_smear(footprint: np.ndarray, assessed: np.ndarray, smear: np.ndarray, working_um: float) -> np.ndarray | None:
    """Return the mean probability of smear over each gap between stretches of footprint on one line, 0 elsewhere,
    or None where no gap holds any smear.

    All (rows, cols) uint8 in 255ths on a canvas turned so that the lay runs along the rows.
    """
    there = cv2.inRange(footprint, 128, 255)
    stretch = np.ones((1, odd_length_px(STRETCH_LENGTH_UM, working_um)), np.uint8)
    bridge = np.ones((1, odd_length_px(GAP_UM[1], working_um)), np.uint8)
    closed = cv2.morphologyEx(cv2.morphologyEx(there, cv2.MORPH_OPEN, stretch), cv2.MORPH_CLOSE, bridge)
    gaps = cv2.bitwise_and(cv2.subtract(closed, there), cv2.inRange(assessed, 128, 255))
    if not cv2.bitwise_and(gaps, cv2.inRange(smear, np.ceil(255 * GAP_SMEAR_MIN), 255)).any():
        return None
    count, labels = cv2.connectedComponents(gaps, connectivity=4, ltype=cv2.CV_32S)
    col, row = cv2.findNonZero(gaps).reshape(-1, 2).T
    gap = labels[row, col] - 1
    mean = np.bincount(gap, weights=smear[row, col]) / np.bincount(gap)
    length_um, width_um = (_extent_px(gap, place, count - 1) * working_um for place in (col, row))
    mean[(length_um < GAP_UM[0]) | (width_um < GAP_WIDTH_UM)] = 0.0
    found = np.zeros(gaps.shape, np.uint8)
    found[row, col] = np.rint(mean)[gap]
    return found


def _extent_px(entry: np.ndarray, place: np.ndarray, entries: int) -> np.ndarray:
    """Return how many rows or columns each entry spans."""
    first, last = np.full(entries, np.iinfo(np.int32).max), np.full(entries, -1)
    np.minimum.at(first, entry, place)
    np.maximum.at(last, entry, place)
    return last - first + 1
