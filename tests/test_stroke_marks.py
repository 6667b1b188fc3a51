"""Marks along the stroke are no grooves: drawn grooves, scratches and streaks whose directions are known.

That direction tells scratches and scuffed streaks from hone grooves is common practice, no source.
"""

from dataclasses import replace

import numpy as np
import pytest

from semwear.lay import Lays
from semwear.stroke_marks import without_stroke_marks

SHAPE = (420, 560)  # not square, so that a swapped axis can't pass
PIXEL_UM = 0.8
STROKE_DEG = 87.0
LAYS = Lays(
    directions_deg=(27.0, 147.0), hone_angle_deg=60.0, stroke_deg=STROKE_DEG,
    stroke_source="given", flags=(),
)  # fmt: skip


def band(direction_deg, *, right_um=0.0, length_um=np.inf, width_um=8.0):
    """Return a straight band through a point right of the middle, (rows, cols) bool, angles anticlockwise."""
    row, col = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)
    right, up = (col - SHAPE[1] / 2) * PIXEL_UM - right_um, (SHAPE[0] / 2 - row) * PIXEL_UM
    angle = np.deg2rad(direction_deg)
    along, across = right * np.cos(angle) + up * np.sin(angle), up * np.cos(angle) - right * np.sin(angle)
    return (np.abs(across) < width_um / 2) & (np.abs(along) < length_um / 2)


def honed(width_um=8.0):
    """Codes with three grooves along each lay: open, but smeared in their upper half."""
    codes = np.zeros(SHAPE, np.uint8)
    for lay_deg in LAYS.directions_deg:
        for right_um in (-150.0, 0.0, 150.0):
            codes[band(lay_deg, right_um=right_um, width_um=width_um)] = 1
    codes[: SHAPE[0] // 2][codes[: SHAPE[0] // 2] == 1] = 2
    return codes


def probabilities(scuffing=0.0):
    maps = np.zeros((4, *SHAPE), np.float32)
    maps[3] = scuffing
    return maps


@pytest.mark.parametrize("state", [1, 2])
@pytest.mark.parametrize("scuffing, expected", [(0.0, 0), (0.2, 3)])
def test_a_streak_along_the_stroke_is_scratch_or_scuffing_and_never_groove(state, scuffing, expected):
    codes = honed()
    streak = band(STROKE_DEG, right_um=60.0, width_um=5.0)
    given = np.where(streak & (codes == 0), state, codes).astype(np.uint8)
    found = without_stroke_marks(given, probabilities(scuffing), LAYS, PIXEL_UM)
    on_plateau = streak & (codes == 0)
    assert np.mean(found[on_plateau] == expected) > 0.8  # near a groove, footprint runs along its lay, too
    assert np.mean(found[codes > 0] == codes[codes > 0]) > 0.99


@pytest.mark.parametrize("width_um", [4.0, 30.0])
def test_grooves_alone_stay_as_they_are(width_um):
    codes = honed(width_um)
    np.testing.assert_array_equal(without_stroke_marks(codes, probabilities(0.2), LAYS, PIXEL_UM), codes)


@pytest.mark.parametrize(
    "lays",
    [
        replace(LAYS, stroke_source="bisector of the lays"),  # a guess may be the direction of a lay
        replace(LAYS, directions_deg=(27.0,)),
        replace(LAYS, directions_deg=(27.0, 80.0)),  # hardly off the stroke
    ],
)
def test_without_a_stated_stroke_off_both_lays_nothing_changes(lays):
    codes = honed()
    codes[band(STROKE_DEG, right_um=60.0, width_um=5.0)] = 1
    np.testing.assert_array_equal(without_stroke_marks(codes, probabilities(), lays, PIXEL_UM), codes)


def test_a_short_piece_along_the_stroke_stays():
    codes = honed()
    codes[band(STROKE_DEG, right_um=60.0, length_um=30.0, width_um=5.0)] = 1
    np.testing.assert_array_equal(without_stroke_marks(codes, probabilities(), LAYS, PIXEL_UM), codes)


def test_what_is_not_assessed_stays_so():
    codes = honed()
    streak = band(STROKE_DEG, right_um=60.0, width_um=5.0)
    codes[streak] = 1
    codes[200:220] = 255
    found = without_stroke_marks(codes, probabilities(), LAYS, PIXEL_UM)
    np.testing.assert_array_equal(found == 255, codes == 255)
