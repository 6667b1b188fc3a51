"""The footprint of grooves looked along a direction, on reduced maps: what belongs to a groove has a groove's length of it.

A hone groove runs along its lay for at least 60 µm; a share of footprint along that length tells grooves from flakes that
cross their lay and from marks along the stroke.
"""

from __future__ import annotations

import cv2
import numpy as np

from semwear.groove import Turn, odd_length_px
from semwear.terms import MaskCode

WORKING_SIDE_PX = 512
"""Longest side of the reduced maps that are looked along, px."""
GROOVE_LENGTH_UM = 60.0
"""Length that is looked along, µm, the limit of traced grooves: half of the field where it is smaller than two of them."""
RIM_PX = 3
"""Width across the direction over which the best share counts, reduced px: the ragged rim of a groove shares its support."""
KNOWN_MIN = 26
"""Share of that length, in 255ths, that counts as assessed at least: with less known there is hardly any support."""


class Reduction:
    """The reduced grid of a field: size (cols, rows), pixel_size_um of it, length_px of a groove on it."""

    def __init__(self, shape: tuple[int, int], pixel_size_um: float) -> None:
        rows, cols = shape
        self.ratio = max(1.0, max(shape) / WORKING_SIDE_PX)
        self.size = max(1, round(cols / self.ratio)), max(1, round(rows / self.ratio))
        self.pixel_size_um = pixel_size_um * self.ratio
        self.length_px = odd_length_px(min(GROOVE_LENGTH_UM, min(shape) * pixel_size_um / 2.0), self.pixel_size_um)

    def reduced(self, layer: np.ndarray) -> np.ndarray:
        """Return a (rows, cols) layer of the field on the reduced grid."""
        # A linear reduction to half or so is an average, too, and ten times as quick.
        return cv2.resize(layer, self.size, interpolation=cv2.INTER_LINEAR if self.ratio <= 2.5 else cv2.INTER_AREA)

    def states(self, codes: np.ndarray, first: MaskCode, last: MaskCode) -> np.ndarray:
        """Return where mask codes lie from first to last, on the reduced grid, (rows, cols) uint8 in 255ths."""
        return self.reduced(cv2.inRange(codes, int(first), int(last)))


def share_along(turn: Turn, footprint: np.ndarray, assessed: np.ndarray, length_px: int) -> np.ndarray:
    """Return the best share of footprint of all lengths in a direction that hold a pixel, (rows, cols) uint8 in 255ths.

    footprint, assessed: (rows, cols) uint8 in 255ths, already turned by turn; the result is turned back.
    """
    covered = cv2.blur(footprint, (length_px, 1), borderType=cv2.BORDER_CONSTANT)
    known = cv2.blur(assessed, (length_px, 1), borderType=cv2.BORDER_CONSTANT)
    share = cv2.divide(covered, cv2.max(known, KNOWN_MIN), scale=255.0)
    return turn.turn_back(cv2.dilate(share, np.ones((RIM_PX, length_px), np.uint8)), flags=cv2.INTER_NEAREST)
