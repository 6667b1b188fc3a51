"""Pieces of ink against OpenCV's own labels and SciPy's count, also where there are more of them than two bytes can number."""

import cv2
import numpy as np
import pytest
from scipy import ndimage

from semwear.data_bar.pieces import pieces_of


@pytest.mark.parametrize("connectivity", [4, 8])
@pytest.mark.parametrize(("side", "many"), [(200, False), (1100, True)])
def test_pieces_are_those_of_general_purpose_libraries_however_many(side, many, connectivity):
    mask = np.random.default_rng(3).random((side, side)) < 0.12
    pieces = pieces_of(mask, connectivity=connectivity)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=connectivity)
    _, count = ndimage.label(mask, np.ones((3, 3)) if connectivity == 8 else None)
    assert len(pieces.stats) - 1 == count
    assert (count > 65534) is many
    np.testing.assert_array_equal(pieces.labels, labels)
    np.testing.assert_array_equal(pieces.stats, stats)
