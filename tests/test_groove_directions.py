"""Directions of grooves against drawn ones (closed form) and scikit-image's structure tensor; what is no lay."""

import cv2
import numpy as np
import pytest
from skimage.feature import structure_tensor
from test_lay import SHAPE, as_prepared, grooves_drawn

from semwear.groove_directions import groove_directions
from semwear.lay import direction_difference, find_lays


def footprint(directions_deg, *, seed=0, shape=SHAPE, spacing_px=60.0):
    """Probability of a groove: 0.9 on drawn lines of 3 to 10 px, as far as they cover a pixel, and a little noise, (rows, cols)
    float32. A point is on a line along a direction if its distance across is the line's (rows grow downwards)."""
    rng = np.random.default_rng(seed)
    row, col = np.mgrid[: shape[0], : shape[1]].astype(np.float64)
    covered, reach = np.zeros(shape), np.hypot(*shape)
    for angle in np.deg2rad(directions_deg):
        across = -(col - shape[1] / 2) * np.sin(angle) - (row - shape[0] / 2) * np.cos(angle)
        for position in rng.uniform(-reach / 2, reach / 2, int(reach / spacing_px)):
            covered = np.maximum(covered, np.clip(rng.uniform(1.5, 5.0) - np.abs(across - position) + 0.5, 0, 1))
    return np.clip(0.9 * covered + rng.normal(0, 0.02, shape), 0, 1).astype(np.float32)


def directions(probability, *, pixel_size_um=1.0, assessed=None):
    assessed = np.ones(probability.shape, bool) if assessed is None else assessed
    return groove_directions(probability, assessed, pixel_size_um)


@pytest.mark.parametrize("lays", [(25.0, 150.0), (12.5, 167.0), (68.0, 108.0), (3.0, 48.0)])
@pytest.mark.parametrize("pixel_size_um", [0.7, 2.0])
def test_the_lays_of_drawn_grooves_are_found_to_a_degree(lays, pixel_size_um):
    found = directions(footprint(lays), pixel_size_um=pixel_size_um)
    assert sorted(lay for lay, _ in found.lays) == pytest.approx(sorted(lays), abs=1.0)
    assert 0.8 < sum(share for _, share in found.lays) <= 1


@pytest.mark.parametrize("lay", [20.0, 63.0, 117.0, 160.0])
def test_a_direction_agrees_with_scikit_images_structure_tensor(lay):
    drawn = cv2.GaussianBlur(footprint([lay]), (0, 0), 2.0)  # its differences want soft edges
    ((found, _),) = directions(drawn).lays
    inner = slice(12, -12)
    rr, rc, cc = (float(part[inner, inner].sum()) for part in structure_tensor(drawn, sigma=1.0, order="rc"))
    gradient = np.rad2deg(0.5 * np.arctan2(2.0 * -rc, cc - rr))
    assert abs(direction_difference(found, gradient + 90.0)) < 1.0


def test_no_grooves_noise_and_round_spots_have_no_lay():
    rng = np.random.default_rng(2)
    rows, cols = np.mgrid[: SHAPE[0], : SHAPE[1]]
    spots = np.zeros(SHAPE, np.float32)
    for row, col in rng.uniform((0, 0), SHAPE, (60, 2)):
        spots[np.hypot(rows - row, cols - col) < 6] = 0.9
    for drawn in (np.zeros(SHAPE, np.float32), rng.uniform(0, 0.6, SHAPE).astype(np.float32), spots):
        assert directions(drawn).lays == ()


def test_one_piece_of_a_groove_is_no_lay():
    drawn = np.zeros(SHAPE, np.float32)
    drawn[40:60, 20:180] = 0.9
    assert directions(drawn).lays == ()


def test_the_edge_of_what_was_assessed_is_no_groove():
    """A strip of data bar below, and a groove only along 30°."""
    assessed = np.ones(SHAPE, bool)
    assessed[240:] = False
    drawn = footprint([30.0])
    drawn[240:] = 0
    found = directions(drawn, assessed=assessed)
    assert [lay for lay, _ in found.lays] == pytest.approx([30.0], abs=1.0)
    assert not found.backs(0.0)


def marked(lays, marks):
    """A picture of grooves along some directions, with fine marks along another, stronger than the second lay."""
    picture = grooves_drawn(lays[:1], spacing_px=30.0) + grooves_drawn(lays[1:], seed=4, noise=0.0, tone=-0.25, spacing_px=90.0)
    return as_prepared(picture + grooves_drawn([marks], seed=5, noise=0.0, tone=-0.7, spacing_px=12.0))


def test_grooves_tell_a_lay_from_marks_along_the_stroke():
    """The picture alone takes the marks along 90° for the second lay; the grooves run along 28° and 150°."""
    picture = marked([150.0, 28.0], 90.0)
    alone = find_lays(picture)
    assert min(abs(direction_difference(lay, 90.0)) for lay in alone.directions_deg) < 2
    grooves = directions(np.maximum(footprint([150.0], spacing_px=50.0), footprint([28.0], seed=4, spacing_px=120.0)))
    found = find_lays(picture, grooves=grooves)
    assert sorted(found.directions_deg) == pytest.approx([28.0, 150.0], abs=1.0)
    assert abs(direction_difference(found.stroke_deg, 89.0)) < 1.5


def test_a_second_lay_of_the_picture_counts_if_grooves_back_it_or_the_ring_never_ran():
    picture = as_prepared(grooves_drawn([150.0, 28.0]))
    one_lay = directions(footprint([150.0]))
    assert not one_lay.backs(28.0) and one_lay.backs(150.0)
    assert find_lays(picture, grooves=one_lay).flags == ("no lay found",)
    assert sorted(find_lays(picture, grooves=one_lay, run=False).directions_deg) == pytest.approx([28.0, 150.0], abs=0.5)
    stated = find_lays(picture, grooves=one_lay, stroke_deg=89.0)
    assert stated.directions_deg == pytest.approx((150.0,), abs=1.0) and stated.flags == ("one lay only",)


def test_grooves_about_a_stated_stroke_make_the_hone_angle():
    """Closed form: lays at (stroke + 90°) ± half of the angle. Streaks along the stroke in the footprint are no lay."""
    grooves = directions(footprint([20.0, 160.0, 90.0]))
    found = find_lays(as_prepared(np.random.default_rng(1).normal(size=SHAPE)), stroke_deg=90.0, grooves=grooves)
    assert found.hone_angle_deg == pytest.approx(40.0, abs=1.5)
    assert (found.stroke_deg, found.stroke_source, found.flags) == (90.0, "given", ())


def test_without_grooves_the_picture_decides():
    picture = as_prepared(grooves_drawn([20.0, 150.0]))
    assert find_lays(picture, grooves=directions(np.zeros(SHAPE, np.float32))) == find_lays(picture)
