"""A thin frame around bar and label is no bar with a label inside (common practice, no source: the bar is the solid line)."""

import cv2
import numpy as np
import pytest

from semwear.data_bar.words import _holds_a_bar


def ground_of_a_frame(*, with_bar: bool) -> np.ndarray:
    """Return what a label, and maybe a bar below it, leave free of the ground of a frame, (60, 220) bool."""
    holes = np.zeros((60, 220), np.uint8)
    cv2.putText(holes, "50 um", (60, 25), cv2.FONT_HERSHEY_SIMPLEX, 0.7, 1, 2)
    if with_bar:
        holes[45:49, 10:210] = 1
    return holes.astype(bool)


@pytest.mark.parametrize("with_bar", [True, False])
def test_the_ground_of_a_frame_that_holds_a_bar_is_told_from_a_bar_that_holds_a_label(with_bar):
    assert _holds_a_bar(ground_of_a_frame(with_bar=with_bar)) is with_bar
