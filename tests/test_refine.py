"""States refined along the lays, on drawn grooves and flakes whose directions, lengths and widths are known."""

from types import SimpleNamespace

import numpy as np
import pytest

from semwear.pieces import measure_pieces
from semwear.refine import refine_states

SHAPE = (420, 560)  # not square, so that a swapped axis can't pass
PIXEL_UM = 0.8
LAYS = SimpleNamespace(directions_deg=(25.0, 150.0), stroke_source="")


def band(direction_deg, *, middle_um=(0.0, 0.0), length_um=np.inf, width_um=8.0, shape=SHAPE, pixel_um=PIXEL_UM):
    """Return a straight band, (rows, cols) bool; middle is (right, up) from the picture's centre, angles anticlockwise."""
    row, col = np.mgrid[: shape[0], : shape[1]].astype(float)
    right = (col - (shape[1] - 1) / 2) * pixel_um - middle_um[0]
    up = -(row - (shape[0] - 1) / 2) * pixel_um - middle_um[1]
    angle = np.deg2rad(direction_deg)
    along, across = right * np.cos(angle) + up * np.sin(angle), -right * np.sin(angle) + up * np.cos(angle)
    return (np.abs(across) < width_um / 2) & (np.abs(along) < length_um / 2)


def crossed_grooves():
    """Return codes with three grooves of 8 µm along each lay of LAYS."""
    codes = np.zeros(SHAPE, np.uint8)
    for lay_deg in LAYS.directions_deg:
        for up_um in (-110.0, 0.0, 110.0):
            codes[band(lay_deg, middle_um=(0.0, up_um))] = 1
    return codes


def refined(codes, smear=None, lays=LAYS, pixel_um=PIXEL_UM):
    smear = np.zeros(codes.shape, np.float32) if smear is None else smear.astype(np.float32)
    probabilities = np.zeros((4, *smear.shape), np.float32)
    probabilities[2] = smear
    return refine_states(codes, probabilities, lays, pixel_um)


FREE_UM = (-120.0, 20.0)
"""A place (right, up) on the plateau between the drawn grooves."""


@pytest.mark.parametrize("direction_deg", [0.0, 55.0, 87.5, 115.0, 175.0])
def test_a_flake_along_neither_lay_becomes_plateau_and_the_grooves_stay(direction_deg):
    codes = crossed_grooves()
    flake = band(direction_deg, middle_um=FREE_UM, length_um=30.0, width_um=4.0) & (codes == 0)
    found = refined(np.where(flake, 1, codes).astype(np.uint8))
    assert flake.sum() > 100 and not found[flake].any()
    assert np.mean(found[codes == 1] == 1) > 0.99


@pytest.mark.parametrize("lay_deg", LAYS.directions_deg)
def test_a_short_remnant_along_a_lay_stays(lay_deg):
    codes = np.zeros(SHAPE, np.uint8)
    remnant = band(lay_deg, length_um=22.0, width_um=5.0)
    codes[remnant] = 1
    assert (refined(codes)[remnant] == 1).all()
    # The sense of angles: on the mirrored picture the same lays leave it without a groove.
    assert not refined(
        np.ascontiguousarray(codes[:, ::-1]), lays=SimpleNamespace(directions_deg=(25.0, 140.0), stroke_source="")
    ).any() or (lay_deg == 150.0)


def test_a_piece_broader_than_a_flake_stays():
    codes = np.zeros(SHAPE, np.uint8)
    codes[band(88.0, length_um=24.0, width_um=20.0)] = 1
    assert np.array_equal(refined(codes), codes)


def test_a_flake_hanging_on_a_groove_is_cut_off_it():
    groove = band(25.0)
    flake = band(90.0, middle_um=(0.0, 20.0), length_um=34.0, width_um=4.0) & ~groove
    found = refined((groove | flake).astype(np.uint8))
    assert np.mean(found[groove] == 1) > 0.99
    assert np.mean(found[flake] == 0) > 0.7


def test_grooves_of_a_lay_that_was_not_found_are_left_alone():
    # Where a mark was taken for a lay, the grooves of the true one are long and have no support.
    codes = np.zeros(SHAPE, np.uint8)
    for up_um in (-100.0, 0.0, 100.0):
        codes[band(25.0, middle_um=(0.0, up_um))] = 1
        codes[band(80.0, middle_um=(up_um, 0.0))] = 1
    codes[band(0.0, middle_um=(50.0, 50.0), length_um=30.0, width_um=4.0)] = 1
    assert np.array_equal(refined(codes), codes)


@pytest.mark.parametrize("lay_deg", LAYS.directions_deg)
def test_a_gap_that_the_network_half_saw_as_smear_is_smeared_at_the_groove_s_own_width(lay_deg):
    groove = band(lay_deg, width_um=10.0)
    gap = groove & band(lay_deg, length_um=36.0, width_um=30.0)
    codes = (groove & ~gap).astype(np.uint8)
    found = refined(codes, np.full(SHAPE, 0.3))
    # 36 µm × 10 µm by geometry; the reduced grid blurs rims by about one of its pixels.
    assert np.count_nonzero(found == 2) * PIXEL_UM**2 == pytest.approx(360.0, rel=0.15)
    assert np.mean(found[gap] == 2) > 0.85 and np.mean(found[codes == 1] == 1) > 0.99


def test_a_gap_without_smear_seen_a_long_gap_and_a_gap_beside_a_groove_stay_plateau():
    groove = band(25.0, width_um=10.0)
    short = (groove & ~band(25.0, length_um=36.0, width_um=30.0)).astype(np.uint8)
    assert not (refined(short, np.full(SHAPE, 0.05)) == 2).any()
    specks = np.where(band(25.0, length_um=10.0, width_um=4.0), 0.6, 0.05)
    assert not (refined(short, specks) == 2).any()
    long = (groove & ~band(25.0, length_um=100.0, width_um=30.0)).astype(np.uint8)
    assert not (refined(long, np.full(SHAPE, 0.3)) == 2).any()
    assert not (refined(groove.astype(np.uint8), np.full(SHAPE, 0.3)) == 2).any()


def test_smeared_scuffed_and_not_assessed_pixels_are_never_changed():
    codes = crossed_grooves()
    codes[:, 200:210], codes[300:, 400:], codes[:40, :60] = 3, 255, 2
    found = refined(codes, np.random.default_rng(1).uniform(0, 0.5, SHAPE))
    kept = codes >= 2
    assert np.array_equal(found[kept], codes[kept])


@pytest.mark.parametrize("directions_deg", [(), (25.0,)])
def test_with_fewer_than_two_lays_nothing_changes(directions_deg):
    codes = band(25.0).astype(np.uint8)
    codes[band(90.0, middle_um=FREE_UM, length_um=30.0, width_um=4.0)] = 1
    assert not np.array_equal(refined(codes), codes)
    found = refined(codes, np.full(SHAPE, 0.4), lays=SimpleNamespace(directions_deg=directions_deg, stroke_source=""))
    assert np.array_equal(found, codes)


@pytest.mark.parametrize("code", [0, 1, 2, 3, 255])
@pytest.mark.parametrize("shape", [(32, 32), (3, 90), (64, 200)])
def test_fields_of_one_state_and_small_fields_come_back_whole(code, shape):
    found = refined(np.full(shape, code, np.uint8), np.full(shape, 0.1))
    assert found.shape == shape and found.dtype == np.uint8 and (found == code).all()


def test_the_smear_map_may_lie_on_another_grid():
    groove = band(150.0, width_um=10.0)
    gap = groove & band(150.0, length_um=36.0, width_um=30.0)
    codes = (groove & ~gap).astype(np.uint8)
    found = refined(codes, np.full((150, 200), 0.3))
    assert np.array_equal(found, refined(codes, np.full(SHAPE, 0.3)))


def test_moments_of_a_piece_are_those_of_the_drawn_rectangle():
    # A rectangle's standard deviation along a side is side / √12 (closed form); four of them are 1.1547 sides.
    piece = measure_pieces(band(62.0, length_um=60.0, width_um=12.0), PIXEL_UM)
    assert piece.area_um2.size == 1
    assert piece.direction_deg[0] == pytest.approx(62.0, abs=0.5)
    assert piece.length_um[0] == pytest.approx(60.0 * 4 / np.sqrt(12), rel=0.03)
    assert piece.width_um[0] == pytest.approx(12.0 * 4 / np.sqrt(12), rel=0.06)
    assert piece.area_um2[0] == pytest.approx(720.0, rel=0.05)


def test_a_pixel_size_that_is_not_positive_is_refused():
    with pytest.raises(ValueError, match="pixel_size_um is 0"):
        refined(crossed_grooves(), pixel_um=0.0)
