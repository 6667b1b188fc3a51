"""Lay directions and hone angle against drawn gratings, closed-form geometry, and scikit-image's structure tensor."""

from types import SimpleNamespace

import cv2
import numpy as np
import pytest
from skimage import data
from skimage.feature import structure_tensor

from semwear.groove_directions import GrooveDirections
from semwear.lay import angular_rose, direction_difference, find_lays, hone_angle
from semwear.rose import BINS_PER_DEGREE

SHAPE = (300, 460)  # not square, so that a swapped axis can't pass


def as_prepared(picture, pixel_size_um=1.0):
    picture = np.asarray(picture, np.float32)
    centred = picture - np.median(picture)
    spread = 1.4826 * np.median(np.abs(centred)) or picture.std() or 1.0
    assessed = np.ones(picture.shape, bool)
    return SimpleNamespace(image=centred / np.float32(spread), assessed=assessed, pixel_size_um=pixel_size_um)


def grooves_drawn(directions_deg, shape=SHAPE, seed=0, noise=0.3, tone=-1.0, spacing_px=22.0):
    """Return straight dark lines at random distances: a point (row, col) is on a line along `direction` if its
    distance across, -col·sin(direction) - row·cos(direction), is the line's (rows grow downwards)."""
    rng = np.random.default_rng(seed)
    row, col = np.mgrid[: shape[0], : shape[1]].astype(np.float64)
    picture = np.zeros(shape)
    reach = np.hypot(*shape)
    for direction in directions_deg:
        angle = np.deg2rad(direction)
        across = -(col - shape[1] / 2) * np.sin(angle) - (row - shape[0] / 2) * np.cos(angle)
        for position in rng.uniform(-reach / 2, reach / 2, int(reach / spacing_px)):
            picture += tone * (np.abs(across - position) < rng.uniform(1.5, 5.0))
    return picture + rng.normal(0, noise, shape)


def tensor_direction_deg(picture):
    """Direction of the lines in a picture by scikit-image's structure tensor summed over it (an outside yardstick)."""
    inner = slice(12, -12)  # beyond the frame scikit-image reads 0: an edge that isn't in the picture
    rr, rc, cc = (float(each[inner, inner].sum()) for each in structure_tensor(picture, sigma=1.0, order="rc"))
    gradient = 0.5 * np.arctan2(2.0 * -rc, cc - rr)  # screen angle of the gradient: rows grow downwards
    return np.rad2deg(gradient) % 180.0 + 90.0


@pytest.mark.parametrize("direction", [12.0, 35.5, 71.0, 104.3, 158.0])
def test_direction_of_drawn_lines_is_found_in_the_right_sense_to_half_a_degree(direction):
    rose = angular_rose(*(lambda p: (p.image, p.assessed, 1.0))(as_prepared(grooves_drawn([direction]))))
    found = np.argmax(rose) / BINS_PER_DEGREE
    assert abs(direction_difference(found, direction)) < 0.5


@pytest.mark.parametrize("direction", [20.0, 63.0, 117.0, 160.0])
def test_direction_agrees_with_scikit_images_structure_tensor(direction):
    picture = cv2.GaussianBlur(grooves_drawn([direction], noise=0.0), (0, 0), 2.0)  # its differences want soft edges
    rose = angular_rose(as_prepared(picture).image, np.ones(SHAPE, bool), 1.0)
    found = np.argmax(rose) / BINS_PER_DEGREE
    assert abs(direction_difference(found, tensor_direction_deg(picture))) < 1.0


def test_direction_of_scikit_images_brick_texture_agrees_with_its_structure_tensor():
    brick = data.brick().astype(float)
    stretched = cv2.warpAffine(
        brick, cv2.getRotationMatrix2D((256, 256), 25.0, 1.0), (512, 512), borderMode=cv2.BORDER_REFLECT
    )[100:380, 70:450]
    picture = as_prepared(stretched)
    found = np.argmax(angular_rose(picture.image, picture.assessed, 1.0)) / BINS_PER_DEGREE
    yardstick = tensor_direction_deg(stretched)
    assert min(abs(direction_difference(found, yardstick)), abs(direction_difference(found, yardstick + 90.0))) < 5.0


@pytest.mark.parametrize(
    ("stroke", "angle"), [(90.0, 45.0), (0.0, 30.0), (30.0, 60.0), (128.0, 50.0), (90.0, 145.0), (17.0, 140.0)]
)
def test_hone_angle_is_bisected_by_the_direction_across_the_stroke(stroke, angle):
    # Closed form: lays at (stroke + 90) ± angle/2; tan(angle/2) = axial over peripheral speed.
    lays = [(stroke + 90 + angle / 2) % 180, (stroke + 90 - angle / 2) % 180]
    found = find_lays(as_prepared(grooves_drawn(lays)), stroke_deg=stroke)
    assert len(found.directions_deg) == 2
    for lay in lays:
        assert min(abs(direction_difference(lay, each)) for each in found.directions_deg) < 0.5
    assert found.hone_angle_deg == pytest.approx(angle, abs=1.0)
    assert (found.stroke_deg, found.stroke_source, found.flags) == (stroke, "given", ())


def test_two_bisectors_give_hone_angles_that_add_up_to_180():
    for first, second in [(10.0, 50.0), (170.0, 25.0), (95.0, 130.0)]:
        middle = second + direction_difference(first, second) / 2
        assert hone_angle(first, second, middle) + hone_angle(first, second, middle + 90) == pytest.approx(180.0)


def test_without_a_stroke_the_hone_angle_is_the_acute_one_and_flagged():
    found = find_lays(as_prepared(grooves_drawn([20.0, 150.0])))
    assert found.hone_angle_deg == pytest.approx(50.0, abs=1.0)
    assert abs(direction_difference(found.stroke_deg, 85.0)) < 1.0
    assert found.stroke_source == "bisector of the lays"
    assert found.flags == ("stroke from lays",)


def test_marks_along_a_bisector_make_it_the_stroke():
    # Helical: lays 35° apart with scratches between them; without the scratches the other bisector is taken.
    lays = [62.5, 97.5]
    plain = grooves_drawn(lays, spacing_px=30.0)
    marks = grooves_drawn([80.0], seed=5, noise=0.0, tone=-0.5, spacing_px=40.0)
    assert find_lays(as_prepared(plain)).hone_angle_deg == pytest.approx(35.0, abs=1.0)
    found = find_lays(as_prepared(plain + marks))
    assert found.hone_angle_deg == pytest.approx(145.0, abs=1.0)
    assert abs(direction_difference(found.stroke_deg, 80.0)) < 1.0


def test_scratches_along_the_stroke_are_no_lay():
    found = find_lays(as_prepared(grooves_drawn([90.0])), stroke_deg=90.0)
    assert found.directions_deg == ()
    assert found.flags == ("no lay found",)


def test_one_lay_needs_a_stated_stroke():
    picture = as_prepared(grooves_drawn([25.0]))
    stated = find_lays(picture, stroke_deg=90.0)
    assert stated.directions_deg == pytest.approx((25.0,), abs=0.5)
    assert stated.flags == ("one lay only",) and np.isnan(stated.hone_angle_deg)
    assert find_lays(picture).flags == ("no lay found",)


@pytest.mark.parametrize("off_deg", [-28.0, -18.0, 13.0, 23.0])
def test_two_clear_lays_that_the_stated_stroke_does_not_bisect_stay_both_without_a_hone_angle(off_deg):
    """Simple construction: the bisectors of 20° and 152° are 86° and 176°."""
    picture = as_prepared(grooves_drawn([20.0, 152.0]))
    noise = as_prepared(np.random.default_rng(1).normal(size=SHAPE))
    grooves = GrooveDirections(lays=((20.2, 0.4), (151.8, 0.3)), rose=np.zeros(180 * BINS_PER_DEGREE))
    for found in (
        find_lays(picture, stroke_deg=86.0 + off_deg),
        find_lays(picture, stroke_deg=86.0 + off_deg, grooves=grooves),
        find_lays(noise, stroke_deg=86.0 + off_deg, grooves=grooves),
    ):
        assert sorted(found.directions_deg) == pytest.approx([20.0, 152.0], abs=0.5)
        assert np.isnan(found.hone_angle_deg)
        assert (found.stroke_deg, found.stroke_source, found.flags) == (86.0 + off_deg, "given", ("stroke off bisector",))


@pytest.mark.parametrize("off_deg", [-15.0, -8.0, 8.0, 12.0])
def test_marks_along_the_stroke_are_no_second_lay_where_the_stroke_is_stated_wrongly(off_deg):
    """Simple construction: one lay along 25° and marks along the stroke, 90°, which is stated some degrees off."""
    picture = as_prepared(grooves_drawn([25.0]) + grooves_drawn([90.0], seed=5, noise=0.0, tone=-0.7, spacing_px=20.0))
    assert len(find_lays(picture, stroke_deg=90.0 + off_deg).directions_deg) == 1


def not_honed():
    rng = np.random.default_rng(3)
    noise = rng.normal(0, 1, (300, 400))
    fibres = np.zeros((400, 520), np.float32)
    for _ in range(300):
        bent = np.cumsum(rng.normal(0, 12, (12, 2)), axis=0) + rng.uniform(0, 400, 2)
        cv2.polylines(fibres, [bent.astype(np.int32)], False, 1.0, 2)
    return {
        "coins": data.coins(), "brick": data.brick(), "grass": data.grass(), "gravel": data.gravel(),
        "text": data.text(), "page": data.page(), "camera": data.camera(), "moon": data.moon(), "cell": data.cell(),
        "checkerboard": data.checkerboard(), "noise": noise, "soft noise": cv2.GaussianBlur(noise, (0, 0), 4),
        "fibres": fibres, "line noise": rng.normal(0, 1, (300, 1)) + 0.3 * noise, "flat": np.zeros((300, 400)),
    }  # fmt: skip


@pytest.mark.parametrize(("name", "picture"), not_honed().items())
def test_pictures_that_show_no_honed_surface_have_no_lay(name, picture):
    for stroke in (None, 90.0):
        found = find_lays(as_prepared(picture), stroke_deg=stroke)
        assert found.directions_deg == (), (name, stroke)
        assert found.flags == ("no lay found",)


def test_what_is_not_assessed_does_not_make_a_lay():
    picture = as_prepared(grooves_drawn([20.0, 150.0]))
    picture.assessed[250:] = False
    picture.image[250:] = 40.0
    found = find_lays(picture, stroke_deg=85.0)
    assert sorted(found.directions_deg) == pytest.approx([20.0, 150.0], abs=0.5)
    picture.assessed[:] = False
    assert find_lays(picture).flags == ("no lay found",)


def test_a_stroke_that_is_no_number_is_refused():
    with pytest.raises(ValueError, match="direction in degrees"):
        find_lays(as_prepared(np.zeros((64, 64))), stroke_deg=float("nan"))
