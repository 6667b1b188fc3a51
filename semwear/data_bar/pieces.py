"""Connected pieces of ink, counted once for all that look at them."""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True, kw_only=True)
class Pieces:
    """Connected pieces of a layer's ink: their labels (rows, cols), 0 off the ink, and OpenCV's statistics of each."""

    labels: np.ndarray
    stats: np.ndarray


def pieces_of(mask: np.ndarray, *, connectivity: int = 8) -> Pieces:
    """Return the pieces of a (rows, cols) mask, bool or uint8, joined across corners too (8) or not (4).

    Labels of two bytes take a third of the time of OpenCV's usual ones; they are enough for 65,534 pieces.
    """
    mask = mask.view(np.uint8)
    try:
        _, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=connectivity, ltype=cv2.CV_16U)
    except cv2.error:  # There are more pieces.
        _, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=connectivity)
    return Pieces(labels=labels, stats=stats)


def stretches_of(inked: np.ndarray) -> np.ndarray:
    """Return the first place of each stretch of a (places,) bool row and the one after its last, (stretches, 2).

    >>> stretches_of(np.array([True, False, True, True])).tolist()
    [[0, 1], [2, 4]]
    """
    return np.flatnonzero(np.diff(np.concatenate(([False], inked, [False])).astype(np.int8))).reshape(-1, 2)
