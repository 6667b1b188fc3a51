"""Traced grooves against drawn ones whose lengths, widths and places are known in closed form."""

from types import SimpleNamespace

import numpy as np
import pytest

from semwear.groove import Turn, trace_grooves
from semwear.lay import direction_difference
from semwear.measure import measure_grooves

SHAPE = (360, 520)  # not square
PIXEL_UM = 1.0


def lays(*directions_deg):
    return SimpleNamespace(directions_deg=directions_deg)


def bands(direction_deg, positions_um, width_um, shape=SHAPE, pixel_um=PIXEL_UM):
    """Return (mask of grooves, distance along them): position is across, positive towards direction + 90°."""
    angle = np.deg2rad(direction_deg)
    row, col = np.mgrid[: shape[0], : shape[1]].astype(float)
    right, up = (col - (shape[1] - 1) / 2) * pixel_um, -(row - (shape[0] - 1) / 2) * pixel_um
    along, across = right * np.cos(angle) + up * np.sin(angle), -right * np.sin(angle) + up * np.cos(angle)
    mask = np.zeros(shape, bool)
    for position in positions_um:
        mask |= np.abs(across - position) < width_um / 2
    return mask, along


def trace(open_mask, closed_mask, found, pixel_um=PIXEL_UM):
    return trace_grooves(open_mask, closed_mask, found, pixel_um, np.ones(open_mask.shape, bool))


def figures(grooves, *directions_deg):
    """Return the columns that a field's grooves make."""
    found = SimpleNamespace(directions_deg=directions_deg, stroke_deg=90.0, hone_angle_deg=50.0)
    return measure_grooves(found, grooves, grooves.assessed_area_mm2)[0]


def chord_um(direction_deg, position_um, shape=SHAPE):
    """Length of a straight line at a direction and distance from the centre inside the picture, by dense sampling."""
    angle = np.deg2rad(direction_deg)
    step = np.arange(-1000, 1000, 0.1)
    right = step * np.cos(angle) - position_um * np.sin(angle)
    up = step * np.sin(angle) + position_um * np.cos(angle)
    return 0.1 * np.count_nonzero((abs(right) < shape[1] / 2) & (abs(up) < shape[0] / 2))


@pytest.mark.parametrize("direction", [0.0, 20.0, 65.0, 90.0, 115.0, 160.0])
def test_a_grooves_place_direction_length_and_width_are_the_drawn_ones(direction):
    mask, _ = bands(direction, [40.0], 10.0)
    grooves = trace(mask, np.zeros(SHAPE, bool), lays(direction))
    assert len(grooves) == 1
    assert grooves.position_um[0] == pytest.approx(40.0, abs=1.0)
    assert abs(direction_difference(grooves.direction_deg[0], direction)) < 0.3
    assert grooves.width_um[0] == pytest.approx(10.0, abs=0.8)
    length = chord_um(direction, 40.0)
    assert grooves.open_length_um[0] == pytest.approx(length, rel=0.05)
    assert grooves.continuity == 1.0
    density = figures(grooves, direction)["groove_length_density_per_mm"]
    assert density == pytest.approx(length * 1e-3 / (SHAPE[0] * SHAPE[1] * 1e-6), rel=0.05)
    # The groove's middle lies on the drawn line, in (row, col) of the picture.
    assert mask[round(grooves.row_px[0]), round(grooves.col_px[0])]


def test_the_sense_of_a_grooves_own_slant():
    mask, _ = bands(32.0, [0.0], 9.0)
    grooves = trace(mask, np.zeros(SHAPE, bool), lays(30.0))
    assert grooves.direction_deg[0] == pytest.approx(32.0, abs=0.3)
    mask, _ = bands(28.0, [0.0], 9.0)
    assert trace(mask, np.zeros(SHAPE, bool), lays(30.0)).direction_deg[0] == pytest.approx(28.0, abs=0.3)


@pytest.mark.parametrize("direction", [25.0, 150.0])
def test_an_interrupted_groove_is_one_groove_with_open_and_smeared_length(direction):
    mask, along = bands(direction, [0.0], 10.0)
    closed = mask & (np.abs(along % 100.0 - 50.0) < 15.0)  # 30 µm of every 100 µm
    grooves = trace(mask & ~closed, closed, lays(direction))
    assert len(grooves) == 1
    assert grooves.continuity == pytest.approx(0.70, abs=0.03)
    assert grooves.width_um[0] == pytest.approx(10.0, abs=0.8)


def test_a_stretch_without_evidence_counts_for_neither_but_does_not_break_the_groove():
    mask, along = bands(20.0, [0.0], 10.0)
    gone = np.abs(along) < 15.0
    grooves = trace(mask & ~gone, np.zeros(SHAPE, bool), lays(20.0))
    assert len(grooves) == 1
    assert grooves.unseen_length_um[0] == pytest.approx(30.0, abs=4.0)
    assert grooves.continuity == 1.0


def test_probabilities_and_masks_give_the_same_grooves():
    mask, along = bands(20.0, [-60.0, 30.0, 80.0], 8.0)
    closed = mask & (along > 40.0)
    sharp = trace(mask & ~closed, closed, lays(20.0))
    soft = trace(0.8 * (mask & ~closed), (0.8 * closed).astype(np.float32), lays(20.0))
    assert soft.continuity == pytest.approx(sharp.continuity, abs=0.02)
    assert len(soft) == len(sharp) == 3


@pytest.mark.parametrize("direction", [15.0, 45.0, 65.0, 120.0])
@pytest.mark.parametrize("width_um", [8.0, 20.0])
def test_the_border_of_the_picture_biases_neither_density_nor_width(direction, width_um):
    """Simple construction: grooves every 100 µm have 10 mm/mm² wherever they lie; eight places even out the border's chance."""
    found = []
    for place in np.arange(8) * 12.5:
        mask, _ = bands(direction, np.arange(-400.0, 400.0, 100.0) + place, width_um)
        found.append(trace(mask, np.zeros(SHAPE, bool), lays(direction)))
    densities = [figures(each, direction)["groove_length_density_per_mm"] for each in found]
    assert np.mean(densities) == pytest.approx(10.0, rel=0.025)
    assert np.concatenate([each.width_um for each in found]).mean() == pytest.approx(width_um, rel=0.02)


def test_a_groove_cut_lengthwise_counts_half_in_every_state():
    """Simple construction: at the upper border half of a groove along the rows is cut off; 30 µm of every 100 µm are closed."""
    mask, along = bands(0.0, [SHAPE[0] / 2.0], 20.0)
    closed = mask & (np.abs(along % 100.0 - 50.0) < 15.0)
    grooves = trace(mask & ~closed, closed, lays(0.0))
    assert grooves.open_length_um.sum() + grooves.smeared_length_um.sum() == pytest.approx(SHAPE[1] / 2, rel=0.02)
    assert grooves.continuity == pytest.approx(0.70, abs=0.03)


def test_a_groove_hidden_along_its_middle_is_one_groove_long():
    """Simple construction: of a groove 24 µm wide, a strip of 8 µm along its middle isn't assessed; either side has one rim."""
    mask, _ = bands(0.0, [0.0], 24.0)
    hidden, _ = bands(0.0, [0.0], 8.0)
    grooves = trace_grooves(mask & ~hidden, np.zeros(SHAPE, bool), lays(0.0), PIXEL_UM, ~hidden)
    assert grooves.open_length_um.sum() == pytest.approx(SHAPE[1], rel=0.02)


def test_crossing_lays_are_kept_apart_and_balanced_by_length():
    first, _ = bands(25.0, [-90.0, -30.0, 30.0, 90.0], 8.0)
    second, _ = bands(155.0, [-40.0, 60.0], 8.0)
    grooves = trace(first | second, np.zeros(SHAPE, bool), lays(25.0, 155.0))
    assert np.bincount(grooves.lay_index).tolist() == [4, 2]
    expected = sum(chord_um(155.0, p) for p in (-40.0, 60.0)) / sum(chord_um(25.0, p) for p in (-90.0, -30.0, 30.0, 90.0))
    row = figures(grooves, 25.0, 155.0)
    assert row["groove_balance"] == pytest.approx(expected, abs=0.04)
    assert row["groove_width_um"] == pytest.approx(8.0, abs=0.8)


def test_a_broad_groove_of_one_lay_is_no_groove_of_the_other():
    broad, _ = bands(25.0, [0.0], 60.0)
    grooves = trace(broad, np.zeros(SHAPE, bool), lays(25.0, 155.0))
    assert grooves.lay_index.tolist() == [0]


def test_scratches_along_the_stroke_and_flakes_are_no_grooves():
    scratches, _ = bands(90.0, [-80.0, 0.0, 80.0], 6.0)
    row, col = np.mgrid[: SHAPE[0], : SHAPE[1]]
    flakes = (((row % 90 - 45) / 6.0) ** 2 + ((col % 110 - 55) / 14.0) ** 2) < 1.0
    assert len(trace(scratches | flakes, np.zeros(SHAPE, bool), lays(25.0, 155.0))) == 0


def test_pixel_size_scales_every_length_and_width():
    mask, _ = bands(20.0, [0.0], 10.0)
    fine = trace(mask, np.zeros(SHAPE, bool), lays(20.0), 1.0)
    coarse = trace(mask, np.zeros(SHAPE, bool), lays(20.0), 2.0)
    assert coarse.open_length_um.sum() == pytest.approx(2.0 * fine.open_length_um.sum(), rel=0.02)
    assert coarse.width_um[0] == pytest.approx(2.0 * fine.width_um[0], rel=0.05)


def test_nothing_to_trace_gives_an_empty_result_of_the_same_kind():
    nothing = np.zeros(SHAPE, bool)
    for found in (lays(), lays(25.0), lays(25.0, 155.0)):
        grooves = trace(nothing, nothing, found)
        assert len(grooves) == 0
        row = figures(grooves, *found.directions_deg)
        assert np.isnan(grooves.continuity) and np.isnan(row["groove_balance"]) and np.isnan(row["groove_width_um"])
        assert grooves.length_density_per_mm == 0.0


def test_maps_that_don_t_fit_are_refused():
    with pytest.raises(ValueError, match="one grid"):
        trace_grooves(np.zeros((4, 5)), np.zeros((5, 4)), lays(), 1.0, np.ones((4, 5), bool))
    with pytest.raises(ValueError, match="positive size"):
        trace_grooves(np.zeros((4, 5)), np.zeros((4, 5)), lays(), 0.0, np.ones((4, 5), bool))


@pytest.mark.parametrize("direction", [0.0, 30.0, 90.0, 135.0])
def test_turning_puts_the_lay_along_the_rows_and_back(direction):
    mask, _ = bands(direction, [50.0], 8.0)
    turn = Turn(SHAPE, direction)
    turned = turn.turn(mask.astype(np.float32))
    rows = np.flatnonzero(turned.max(axis=1) > 0.5)
    assert rows.max() - rows.min() + 1 == pytest.approx(8, abs=2)
    # Positive positions lie towards direction + 90°, which is up on the turned canvas.
    assert rows.mean() == pytest.approx((turn.turned_shape[0] - 1) / 2 - 50.0, abs=1.0)
    assert np.mean((turn.turn_back(turned) > 0.5) != mask) < 0.01
