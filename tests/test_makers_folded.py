"""The maker `folded`: its geometry and physics against definitions, formulas and handbook values."""

from functools import cache

import cv2
import numpy as np
import pytest
from makers.folded import closures, finishing_marks, grooves, make, picture, states, track
from makers.folded.ground import Frame, frame

PIXEL_SIZES_UM = np.geomspace(0.25, 1.6, 30)


@cache
def fields() -> list:
    return [make(np.random.default_rng(100 + n), pixel_size_um=p, shape=(260, 260)) for n, p in enumerate(PIXEL_SIZES_UM)]


def test_lays_follow_from_axial_and_peripheral_speed_and_the_circumference_bisects_them():
    """semwear.terms: tan(angle/2) = axial speed / peripheral speed; the angle is bisected by the direction across the stroke."""
    for stroke, axial, peripheral in ((0.0, 10.0, 30.0), (np.pi / 2, 20.0, 20.0), (0.4, 30.0, 10.0)):
        around = np.array([-np.sin(stroke), np.cos(stroke)]) * peripheral
        up = np.array([np.cos(stroke), np.sin(stroke)]) * axial
        lays = grooves.lays_of(stroke, 2 * np.arctan(axial / peripheral))
        for lay, path in zip(lays, (around + up, around - up), strict=True):
            drawn = np.array([np.cos(lay), np.sin(lay)])
            assert abs(drawn @ path) / np.linalg.norm(path) == pytest.approx(1, abs=1e-6)


def test_a_valley_is_as_wide_at_half_a_micrometre_as_its_walls_say():
    """Triangle: below 0.5 um a groove of width w has lost 0.5/tan(slope) at each bank (formula). Slopes: tests/SOURCES.md, 6-27 deg."""
    distance = np.linspace(-20, 20, 40001)
    slopes = np.radians([8.0, 20.0])
    depth = grooves.section(distance, 12.0, np.float32(1.4), tuple(slopes))
    width = (depth >= 0.5).mean() * 40
    assert width == pytest.approx(24 - 0.5 / np.tan(slopes[0]) - 0.5 / np.tan(slopes[1]), abs=0.01)
    assert depth.max() == pytest.approx(1.4)
    assert np.degrees(np.arctan(np.abs(np.diff(depth)).max() / 0.001)) == pytest.approx(20, abs=1.5)


@pytest.mark.parametrize(
    ("honed", "truncation", "cover", "recut", "code"),
    [
        (2.0, 0.0, np.inf, 0.0, 1),
        (0.49, 0.0, np.inf, 0.0, 0),
        (2.0, 1.6, np.inf, 0.0, 0),  # mere truncation makes plateau, not smear
        (2.0, 1.6, 0.1, 0.0, 0),
        (2.0, 0.3, 0.1, 0.0, 2),
        (2.0, 0.3, -0.2, 0.0, 2),  # a flake that stands proud closes too
        (2.0, 0.3, 0.7, 0.0, 1),  # metal sunk more than 0.5 um leaves the valley open
        (2.0, 0.3, 0.1, 1.0, 1),  # a later grit opens the groove again
        (0.4, 0.0, 0.1, 0.0, 0),
    ],
)
def test_states_are_those_of_the_definitions(honed, truncation, cover, recut, code):
    """semwear.terms, pixel states: 0.5 um below the local plateau; smeared only where moved metal closed a groove."""
    given = (np.full((1, 1), value, np.float32) for value in (honed, truncation, cover, recut))
    assert states(*given)[0][0, 0] == code


def test_tilt_alone_gives_half_a_percent_to_twelve_percent_of_contrast():
    """tests/SOURCES.md: yield grows as sec(theta) (from memory there); walls of 6-27 deg, so 0.5-12 % contrast."""
    gain = picture.secant_yield(np.tan(np.radians([6.0, 27.0]))) - 1
    assert gain == pytest.approx([0.0055, 0.122], abs=0.001)


def test_shot_noise_is_that_of_counted_electrons():
    """tests/SOURCES.md: 100 pA for 10 us is 6,242 electrons a pixel; Poisson statistics give a relative noise of 1/sqrt(N)."""
    electrons = 100e-12 * 10e-6 / 1.602e-19
    assert electrons == pytest.approx(6242, rel=0.001)
    level = np.ones((300, 300), np.float32)
    assert picture.shot(np.random.default_rng(1), level, electrons).std() == pytest.approx(electrons**-0.5, rel=0.02)
    half = picture.shot(np.random.default_rng(2), level / 2, electrons)
    assert half.std() / half.mean() == pytest.approx((electrons / 2) ** -0.5, rel=0.02)


def test_the_wall_that_falls_towards_the_detector_is_the_brighter_one():
    """tests/SOURCES.md: contrast comes from the detector's side (common practice, no source, for the sign)."""
    down, right = np.mgrid[:120, :120].astype(np.float32)
    field = Frame(right - 60, down - 60, 1.0, 0.0)
    ridge = -0.2 * np.abs(field.right)
    flat = np.zeros_like(ridge)
    relief = picture.Relief(ridge, flat, flat + 1, flat, flat, flat)
    for seed in range(4):
        seen = picture.signal(np.random.default_rng(seed), field, relief, detector=0.0)
        assert seen[30:90, 70:90].mean() > 1.01 * seen[30:90, 30:50].mean()


def test_folds_close_the_deep_grooves_most_and_only_where_the_ring_ran():
    """tests/SOURCES.md, Dimkovski, Ohlsson, Rosen, Wear 271 (2011) 548: folds interrupt grooves, the deep ones most."""
    closed, deepest = [], []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        field = frame(rng, 0.8, (200, 200))
        bands = grooves.draw(rng, field)
        allowed = field.right > 0
        moved = closures.draw(rng, field, bands, np.zeros(field.shape, np.float32), allowed)
        covered = np.isfinite(moved.cover)
        assert not covered[~allowed].any()
        for groove in (groove for band in bands.grooves for groove in band):
            ground = groove.pixels[(groove.depth > 0.5) & allowed.ravel()[groove.pixels]]
            if ground.size > 50:
                closed.append(covered.ravel()[ground].mean() > 0.05)
                deepest.append(groove.deepest_um)
    deep = np.array(deepest) > 2
    assert deep.sum() > 40 and (~deep).sum() > 40
    assert np.mean(np.array(closed)[deep]) > 1.1 * np.mean(np.array(closed)[~deep])


def test_finishing_and_running_in_marks_stay_shallower_than_a_valley():
    """semwear.terms: the plateau includes finishing and running-in marks, all within 0.5 um of its level."""
    highest = 0.0
    for seed in range(12):
        rng = np.random.default_rng(seed)
        field = frame(rng, 0.3 + 0.12 * seed, (200, 200))
        marks = (finishing_marks(rng, field, (0.5, 2.0)), track.draw(rng, field).marks)
        assert all(np.abs(mark).max() < 0.5 for mark in marks)
        highest = max(highest, *(np.abs(mark).max() for mark in marks))
    assert highest > 0.05


def test_closed_metal_can_be_told_from_the_open_valley_in_most_pictures():
    """By mean grey or roughness (common practice, no source): a reader of the micrograph must see what closed."""
    told = []
    for made in fields():
        smear, valley = made.codes == 2, made.codes == 1
        if min(smear.sum(), valley.sum()) < 200:
            continue
        grey = cv2.GaussianBlur(made.image.astype(np.float32), (0, 0), 1.0)
        rough = np.abs(grey - cv2.GaussianBlur(grey, (0, 0), 3.0))
        apart = [abs(m[smear].mean() - m[valley].mean()) / np.hypot(m[smear].std(), m[valley].std()) for m in (grey, rough)]
        told.append(max(apart) > 0.15)
    assert len(told) >= 6
    assert np.mean(told) >= 0.7
