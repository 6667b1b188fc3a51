"""Connected pieces of a mask, measured by their second moments."""

from collections.abc import Iterable
from dataclasses import dataclass

import cv2
import numpy as np

from semwear.lay import direction_difference


@dataclass(frozen=True, kw_only=True)
class Pieces:
    """Connected pieces of a mask, one entry a piece; row, col, entry: place of each of their pixels and its piece.

    length_um and width_um: four standard deviations of its pixels along and across its own axis (the axes of an ellipse
    of the same second moments); direction_deg: of that axis in [0, 180); area_um2.
    """

    row: np.ndarray
    col: np.ndarray
    entry: np.ndarray
    area_um2: np.ndarray
    length_um: np.ndarray
    width_um: np.ndarray
    direction_deg: np.ndarray

    def off_deg(self, directions_deg: Iterable[float]) -> np.ndarray:
        """Return how far each piece lies off the nearest of some directions, in [0, 90]; 90 without any."""
        off = np.full(self.direction_deg.shape, 90.0)
        for direction_deg in directions_deg:
            off = np.minimum(off, np.abs(direction_difference(self.direction_deg, direction_deg)))
        return off


def measure_pieces(mask: np.ndarray, pixel_size_um: float) -> Pieces:
    """Return the connected pieces (8 neighbours) of a (rows, cols) bool mask, measured by their second moments.

    >>> mask = np.zeros((20, 40), bool)
    >>> mask[5, 3:33] = True
    >>> pieces = measure_pieces(mask, 2.0)
    >>> [round(float(value[0])) for value in (pieces.area_um2, pieces.direction_deg)]
    [120, 0]
    """
    count, labels = cv2.connectedComponents(mask.view(np.uint8), connectivity=8, ltype=cv2.CV_32S)
    places = cv2.findNonZero(mask.view(np.uint8))
    col, row = np.zeros((2, 0), int) if places is None else places.reshape(-1, 2).T
    entry = labels[row, col] - 1
    pixels = np.bincount(entry, minlength=count - 1)

    def mean(values):
        return np.bincount(entry, weights=values, minlength=count - 1) / pixels

    mean_row, mean_col = mean(row), mean(col)
    # A pixel is a square of side 1, so that even a line of pixels has a width: its variance is 1/12.
    across_rows = mean(row.astype(np.float64) ** 2) - mean_row**2 + 1 / 12
    along_rows = mean(col.astype(np.float64) ** 2) - mean_col**2 + 1 / 12
    both = mean(row * col.astype(np.float64)) - mean_row * mean_col
    middle, spread = (along_rows + across_rows) / 2, np.hypot((along_rows - across_rows) / 2, both)
    return Pieces(
        row=row,
        col=col,
        entry=entry,
        area_um2=pixels * pixel_size_um**2,
        length_um=4.0 * np.sqrt(middle + spread) * pixel_size_um,
        width_um=4.0 * np.sqrt(np.maximum(middle - spread, 0.0)) * pixel_size_um,
        direction_deg=np.rad2deg(0.5 * np.arctan2(-2.0 * both, along_rows - across_rows)) % 180.0,
    )
