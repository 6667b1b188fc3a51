"""Bands along a lay aren't scuffed: drawn bands whose directions are known.

That scuffing follows the stroke is common practice, no source.
"""

from dataclasses import replace

import numpy as np
import pytest

from semwear.lay import Lays
from semwear.scuffed_grooves import without_scuffed_grooves

SHAPE = (420, 560)  # not square, so that a swapped axis can't pass
PIXEL_UM = 0.8
LAYS = Lays(
    directions_deg=(27.0, 147.0), hone_angle_deg=60.0, stroke_deg=87.0,
    stroke_source="given", flags=(),
)  # fmt: skip


def band(direction_deg, *, length_um=200.0, width_um=20.0):
    """Return a straight band through the middle, (rows, cols) bool, angles anticlockwise."""
    row, col = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)
    right, up = (col - SHAPE[1] / 2) * PIXEL_UM, (SHAPE[0] / 2 - row) * PIXEL_UM
    angle = np.deg2rad(direction_deg)
    along, across = right * np.cos(angle) + up * np.sin(angle), up * np.cos(angle) - right * np.sin(angle)
    return (np.abs(across) < width_um / 2) & (np.abs(along) < length_um / 2)


def scuffed(where):
    codes = np.zeros(SHAPE, np.uint8)
    codes[where] = 3
    return codes


def likeliest(state):
    """Probabilities on a grid of half the size: scuffed first, then the state."""
    maps = np.full((4, SHAPE[0] // 2, SHAPE[1] // 2), 0.05, np.float32)
    maps[3], maps[state] = 0.6, 0.3
    return maps


@pytest.mark.parametrize("lay_deg", LAYS.directions_deg)
@pytest.mark.parametrize("state", [0, 1, 2])
def test_a_band_along_a_lay_gets_the_likeliest_other_state(lay_deg, state):
    there = band(lay_deg + 3.0)
    found = without_scuffed_grooves(scuffed(there), likeliest(state), LAYS, PIXEL_UM)
    assert (found[there] == state).all()
    assert (found[~there] == 0).all()


@pytest.mark.parametrize(
    "there",
    [band(87.0), band(57.0), band(27.0, length_um=40.0), band(27.0, length_um=8.0, width_um=1.5), band(27.0) | band(87.0)],
    ids=["along the stroke", "between", "no direction", "tiny", "joined to scuffing"],
)
def test_other_scuffed_areas_stay(there):
    codes = scuffed(there)
    assert without_scuffed_grooves(codes, likeliest(1), LAYS, PIXEL_UM) is codes


def test_without_a_stated_stroke_or_with_a_lay_near_it_nothing_is_changed():
    codes = scuffed(band(27.0))
    assert without_scuffed_grooves(codes, likeliest(1), replace(LAYS, stroke_source="bisector of the lays"), PIXEL_UM) is codes
    assert without_scuffed_grooves(codes, likeliest(1), replace(LAYS, stroke_deg=40.0), PIXEL_UM) is codes


def test_a_single_lay_is_enough():
    single = replace(LAYS, directions_deg=(27.0,), hone_angle_deg=float("nan"))
    found = without_scuffed_grooves(scuffed(band(27.0)), likeliest(1), single, PIXEL_UM)
    assert not (found == 3).any()
