"""The sketched maker's own claims: shapes of known area, closures on grooves only, angles and scuffing as published."""

from functools import cache

import numpy as np
import pytest
from makers import sketched
from makers.sketched import grooves, moved
from makers.sketched.frames import Frame

SIDE = 400


def straight(width_px: float, depth_um: float, power: float) -> grooves.Groove:
    full = np.full(SIDE, 1.0, np.float32)
    return grooves.Groove(row=full * SIDE / 2, width_px=full * width_px, depth_um=full * depth_um, power=power)


def codes_of(one: grooves.Groove, boards: moved.Closed, worn_off_um: float = 0.0) -> np.ndarray:
    depth = grooves.cut([one], SIDE, worn_off_um)
    return moved.truth(depth, boards.cover, boards.sag_um, np.zeros(depth.shape, bool))[0]


@cache
def fields() -> list:
    sizes = np.geomspace(0.12, 2.2, 40)
    return [
        sketched.make(np.random.default_rng(i), pixel_size_um=sizes[i * 17 % 40], shape=(240, 240)) for i in range(40)
    ]


@pytest.mark.parametrize(("width", "depth", "power"), [(40, 2.0, 2.0), (60, 1.0, 1.2), (25, 5.0, 5.0)])
def test_valley_area_is_the_cross_sections_width_at_half_a_micrometre(width, depth, power):
    """1 − |q|^p = 0.5/d, so the valley is w·(1 − 0.5/d)^(1/p) wide (follows from the formula)."""
    found = (codes_of(straight(width, depth, power), moved.empty(SIDE)) == 1).sum(0).mean()
    assert found == pytest.approx(width * (1 - 0.5 / depth) ** (1 / power), abs=1)


@pytest.mark.parametrize("shear", [0.0, 0.6, -1.5])
def test_a_cap_of_known_length_closes_that_length_of_groove_and_no_more(shear):
    """A parallelogram's area is its length along the groove times the valley's width, whatever way its ends lean."""
    one, boards = straight(40, 3.0, 3.0), moved.empty(SIDE)
    rng = np.random.default_rng(0)
    moved.close(rng, boards, one, "cap", SIDE / 2, 100, shear=shear, ragged=0.0, contrast=1.0)
    closed, whole = codes_of(one, boards), codes_of(one, moved.empty(SIDE))
    assert (closed == 2).sum() == pytest.approx(100 * one.valley_width_px().mean(), rel=0.05)
    assert np.array_equal(closed > 0, whole == 1)  # open and smeared parts make up the groove, without overlap


def test_a_lip_narrows_its_groove_from_one_rim():
    one, boards = straight(40, 3.0, 3.0), moved.empty(SIDE)
    moved.close(np.random.default_rng(3), boards, one, "lip", SIDE / 2, 200, shear=0.3, ragged=0.2, contrast=1.0)
    rows = np.nonzero(codes_of(one, boards) == 2)[0]
    assert abs(rows.mean() - SIDE / 2) > 3


def test_truncation_alone_makes_plateau_and_never_smear():
    """A groove 0.8 µm deep after 0.4 µm of wear is plateau (semwear.terms)."""
    codes = codes_of(straight(40, 0.8, 3.0), moved.empty(SIDE), worn_off_um=0.4)
    assert not codes.any()


def test_closures_lie_on_grooves_deeper_than_half_a_micrometre():
    rng = np.random.default_rng(5)
    family = grooves.population(rng, SIDE, 0.5, 1)[0][0]
    boards = moved.smear(rng, SIDE, family, 0.8, np.full(5, 0.2), 0.4, 0.8)
    depth = grooves.cut(family, SIDE)
    codes, left = moved.truth(depth, boards.cover, boards.sag_um, np.zeros(depth.shape, bool))
    assert (codes == 2).mean() > 0.02
    assert depth[codes == 2].min() >= 0.5 and left[codes == 2].max() < 0.5 and left[codes == 1].min() >= 0.5


def test_hone_angles_are_of_the_usual_ranges_and_bisected_across_the_stroke():
    """30–60° usual, 140–150° helical slide honing (from memory); bisected by the circumference (semwear.terms)."""
    angles = np.array([grooves.hone_angle_deg(np.random.default_rng(i)) for i in range(300)])
    assert (((angles >= 30) & (angles <= 60)) | ((angles >= 140) & (angles <= 150))).all()
    assert 0.03 < (angles > 100).mean() < 0.3
    first, second = grooves.lay_angles(0.7, 50.0)
    assert (first + second) / 2 == pytest.approx(0.7 + np.pi / 2)
    assert np.degrees(second - first) == pytest.approx(50.0)


@pytest.mark.parametrize("angle_deg", [0, 35, 90, 150])
def test_scuffing_runs_along_the_stroke(angle_deg):
    frame = Frame(shape=(300, 300), angle=np.radians(angle_deg))
    mask = frame.show(moved.scuff(np.random.default_rng(2), frame, 0.1, 0.5)) > 0.5
    down, right = np.gradient(mask.astype(float))
    turned = np.arctan2(2 * (down * right).sum(), (right**2 - down**2).sum()) / 2  # the edges' normal
    off = (np.degrees(turned) + 90 - angle_deg + 90) % 180 - 90
    assert abs(off) < 8


def test_finishing_and_stroke_scratches_stay_shallower_than_half_a_micrometre():
    frame = Frame(shape=(300, 300), angle=0.4)
    marks = grooves.scratches(np.random.default_rng(1), frame, 120, 0.45, 2.5)
    assert 0.05 < marks.max() < grooves.VALLEY_DEPTH_UM


def test_states_keep_to_the_shares_that_are_drawn():
    shares = {code: np.array([(made.codes == code).mean() for made in fields()]) for code in (1, 2, 3)}
    assert 0.05 < np.median(shares[1]) < 0.4
    assert shares[2].max() > 0.08 and shares[3].max() < 0.45
    worn = np.array([made.worn.mean() > 0.5 for made in fields()])
    assert 0.35 < worn.mean() < 0.85
    assert 0.1 < (shares[3][worn] > 0.005).mean() < 0.6


def test_closures_differ_in_grey_from_open_valley_in_most_fields():
    apart = []
    for made in fields():
        image, smeared, valley = made.image.astype(float), made.codes == 2, made.codes == 1
        if min(smeared.sum(), valley.sum()) > 400:
            apart.append(abs(image[smeared].mean() - image[valley].mean()) / image[made.codes == 0].std())
    assert len(apart) >= 6
    assert np.mean(np.array(apart) > 0.3) > 0.7
