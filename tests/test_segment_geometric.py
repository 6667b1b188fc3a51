"""Geometric segmentation against drawn surfaces whose masks are known, whatever the polarity of the grooves."""

from types import SimpleNamespace

import cv2
import numpy as np
import pytest
from scipy import ndimage
from skimage import data
from skimage.filters import threshold_otsu

from semwear.lay import find_lays
from semwear.prepare import flattened
from semwear.segment_geometric import _along_lay, _limit, _reduce, segment_geometric
from semwear.simulate.scene import simulate_field
from semwear.terms import MaskCode

SHAPE, PIXEL_UM, STROKE_DEG = (420, 600), 1.0, 90.0  # not square


def drawn(seed=0, *, tone=-1.0, rims=0.8, rough=0.3, noise=0.4, closed_share=0.0, lays=(20.0, 152.0), marks=0.1):
    """Return a prepared field and its codes: grooves 6–16 µm wide of a tone, bright rims, flakes, marks, noise."""
    rng = np.random.default_rng(seed)
    row, col = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)
    right, up = col - SHAPE[1] / 2, -(row - SHAPE[0] / 2)
    codes, picture = np.zeros(SHAPE, np.uint8), np.zeros(SHAPE)
    for lay in lays:
        angle = np.deg2rad(lay)
        along, across = right * np.cos(angle) + up * np.sin(angle), -right * np.sin(angle) + up * np.cos(angle)
        for middle in np.arange(-375.0, 375.0, 75.0) + rng.uniform(-18, 18, 10):
            half = rng.uniform(3.0, 8.0)
            distance = np.abs(across - middle)
            shut = rng.random(40)[(np.floor(along / 50.0).astype(int)) % 40] < closed_share
            codes[(distance < half) & shut & (codes == 0)] = MaskCode.SMEARED
            codes[(distance < half) & ~shut] = MaskCode.OPEN_VALLEY
            picture[(np.abs(distance - half - 0.75) < 0.75) & ~shut] = rims
    valley = codes == MaskCode.OPEN_VALLEY
    picture[valley] = (tone + rough * rng.normal(size=SHAPE))[valley]
    picture += marks * cv2.GaussianBlur(rng.normal(0, 1, (1, SHAPE[1])), (0, 0), 1.0)
    for _ in range(40):
        centre = (int(rng.uniform(0, SHAPE[1])), int(rng.uniform(0, SHAPE[0])))
        flake = np.zeros(SHAPE, np.uint8)
        cv2.ellipse(flake, centre, (int(rng.uniform(5, 14)), 2), rng.uniform(0, 180), 0, 360, 1, -1)
        picture[(flake > 0) & ~valley] = -1.2
    picture = cv2.GaussianBlur(picture, (0, 0), 0.7) + rng.normal(0, noise, SHAPE)
    return prepared(picture), codes


def prepared(picture, assessed=None):
    picture = np.asarray(picture, np.float32)
    centred = picture - np.median(picture)
    spread = 1.4826 * np.median(np.abs(centred)) or picture.std() or 1.0
    assessed = np.ones(picture.shape, bool) if assessed is None else assessed
    return SimpleNamespace(image=centred / np.float32(spread), assessed=assessed, pixel_size_um=PIXEL_UM)


def iou(mask, truth):
    return np.count_nonzero(mask & truth) / np.count_nonzero(mask | truth)


@pytest.mark.parametrize(("tone", "rims"), [(-1.0, 0.8), (-1.0, 0.0), (1.0, 0.0), (1.2, 0.8)])
def test_valleys_are_found_whether_darker_or_brighter_than_the_plateau(tone, rims):
    field, codes = drawn(1, tone=tone, rims=rims)
    found = segment_geometric(field, stroke_deg=STROKE_DEG).codes
    truth = codes == MaskCode.OPEN_VALLEY
    assert iou(found == MaskCode.OPEN_VALLEY, truth) > 0.6
    # Bright rims, 1.5 µm wide, can't be told from a bright groove beside them.
    most = truth if tone < 0 or not rims else ndimage.binary_dilation(truth, iterations=round(1.5 / PIXEL_UM))
    assert truth.mean() - 0.05 <= np.mean(found == MaskCode.OPEN_VALLEY) <= most.mean() + 0.05


def test_valleys_are_found_better_than_by_otsus_threshold_of_scikit_image():
    field, codes = drawn(2, noise=0.9)
    truth = codes == MaskCode.OPEN_VALLEY
    smooth = cv2.GaussianBlur(field.image, (0, 0), 1.0)
    plain = smooth < threshold_otsu(smooth)
    own = segment_geometric(field, stroke_deg=STROKE_DEG).codes == MaskCode.OPEN_VALLEY
    assert iou(own, truth) > iou(plain, truth) + 0.05


def test_rough_floors_without_a_tone_of_their_own_are_valley_where_the_lay_is_known():
    field, codes = drawn(8, tone=0.0, rims=0.0, rough=1.5, noise=0.2)
    lays = find_lays(drawn(8)[0], stroke_deg=STROKE_DEG)
    found = segment_geometric(field, lays=lays).codes == MaskCode.OPEN_VALLEY
    assert iou(found, codes == MaskCode.OPEN_VALLEY) > 0.5


def test_the_limit_of_grooves_is_otsus_as_scikit_image_has_it():
    field, _ = drawn(9)
    working = _reduce(field)
    maps = [_along_lay(working, direction) for direction in (20.0, 152.0)]
    evidence = np.maximum.reduce([each.turn.turn_back(each.evidence(-1)[0]) for each in maps])
    expected = threshold_otsu(np.maximum(evidence, 0.0))
    assert _limit(maps, -1, working.share) == pytest.approx(expected, rel=0.05)


@pytest.mark.slow
def test_simulated_valleys_are_found_better_than_by_otsus_threshold_of_scikit_image():
    own, plain, own_errors, plain_errors = [], [], [], []
    for seed in range(3400, 3412):
        simulated = simulate_field(seed)
        assessed = simulated.codes != MaskCode.NOT_ASSESSED
        raw = simulated.image.astype(np.float32) / np.iinfo(simulated.image.dtype).max
        image, _ = flattened(raw, assessed, simulated.pixel_size_um)
        field = SimpleNamespace(image=image, assessed=assessed, pixel_size_um=simulated.pixel_size_um)
        found = segment_geometric(field, stroke_deg=simulated.stroke_deg)
        if not found.lays.directions_deg:
            continue  # refused, so there is no mask to judge
        truth, valley = (codes[assessed] == MaskCode.OPEN_VALLEY for codes in (simulated.codes, found.codes))
        smooth = cv2.GaussianBlur(image, (0, 0), 1.0)[assessed]
        own.append(iou(valley, truth))
        dark = smooth < threshold_otsu(smooth)
        plain.append(iou(dark, truth))
        own_errors.append(abs(valley.mean() - truth.mean()))
        plain_errors.append(abs(dark.mean() - truth.mean()))
    assert len(own) >= 6
    assert np.mean(own) > np.mean(plain) + 0.05, (own, plain)
    assert np.mean(own_errors) < 0.7 * np.mean(plain_errors), (own_errors, plain_errors)


def test_interruptions_are_smeared_and_lower_the_continuity():
    field, codes = drawn(3, closed_share=0.35)
    found = segment_geometric(field, stroke_deg=STROKE_DEG)
    smeared = found.codes == MaskCode.SMEARED
    whole = segment_geometric(drawn(3)[0], stroke_deg=STROKE_DEG)
    assert np.mean(codes[smeared] == MaskCode.SMEARED) > 0.4
    assert found.grooves.continuity < whole.grooves.continuity - 0.1
    assert whole.grooves.continuity > 0.9


@pytest.mark.parametrize("seed", [10, 11, 12])
def test_the_flanks_of_grooves_that_nothing_closed_are_not_smeared(seed):
    """Simple construction: nothing is closed. What is closed is still found, most of the found is, and in the right places."""
    assert np.mean(segment_geometric(drawn(seed)[0], stroke_deg=STROKE_DEG).codes == MaskCode.SMEARED) < 0.005
    field, codes = drawn(seed, closed_share=0.35)
    found, truth = (each == MaskCode.SMEARED for each in (segment_geometric(field, stroke_deg=STROKE_DEG).codes, codes))
    assert found[truth].mean() > 0.25
    assert truth[found].mean() > 0.6


def test_a_stroke_stated_wrongly_keeps_the_groove_length_of_both_lays():
    """Simple construction: the same picture with its stroke stated as it is, and 18° off."""
    field, _ = drawn(13)
    right, wrong = (segment_geometric(field, stroke_deg=stroke_deg) for stroke_deg in (86.0, 104.0))
    assert wrong.grooves.length_density_per_mm == pytest.approx(right.grooves.length_density_per_mm, rel=0.02)
    assert "stroke off bisector" in wrong.flags and "stroke off bisector" not in right.flags


def test_scratches_along_the_stroke_and_flakes_are_not_valley():
    rng = np.random.default_rng(4)
    field, codes = drawn(4, rims=0.0)
    scratched = field.image.copy()
    places = np.arange(40, 600, 70)
    for place in places:
        scratched[:, place : place + 3] = -6.0 + rng.normal(0, 0.5, (SHAPE[0], 3))
    found = segment_geometric(prepared(scratched), stroke_deg=STROKE_DEG).codes == MaskCode.OPEN_VALLEY
    on_scratch = np.zeros(SHAPE, bool)
    for place in places:
        on_scratch[:, place : place + 3] = True
    plateau = codes == MaskCode.PLATEAU
    assert found[on_scratch & plateau].mean() < 0.2
    assert found[codes == MaskCode.OPEN_VALLEY].mean() > 0.6


def test_torn_streaks_along_the_stroke_are_scuffed():
    field, _ = drawn(5, rims=0.0)
    rng = np.random.default_rng(5)
    image = field.image.copy()
    image[:, 260:320] = 4.0 * rng.normal(size=(SHAPE[0], 60))
    found = segment_geometric(prepared(image), stroke_deg=STROKE_DEG)
    scuffed = found.codes == MaskCode.SCUFFED
    assert scuffed[:, 270:310].mean() > 0.6
    assert scuffed[:, :230].mean() < 0.05
    assert "scuffing" in found.flags
    assert "scuffing" not in segment_geometric(field, stroke_deg=STROKE_DEG).flags


def test_a_picture_mirrored_left_to_right_gives_the_mirrored_codes():
    field, _ = drawn(6, lays=(20.0, 145.0))
    mirrored = SimpleNamespace(image=field.image[:, ::-1].copy(), assessed=field.assessed, pixel_size_um=PIXEL_UM)
    first = segment_geometric(field, stroke_deg=80.0).codes == MaskCode.OPEN_VALLEY
    second = segment_geometric(mirrored, stroke_deg=100.0).codes[:, ::-1] == MaskCode.OPEN_VALLEY
    assert iou(second, first) > 0.9


def test_what_is_not_assessed_stays_so():
    field, _ = drawn(7)
    field.assessed[300:] = False
    found = segment_geometric(field, stroke_deg=STROKE_DEG).codes
    assert np.all(found[300:] == MaskCode.NOT_ASSESSED)
    assert not np.any(found[:300] == MaskCode.NOT_ASSESSED)


@pytest.mark.parametrize("name", ["coins", "brick", "grass", "gravel", "text"])
def test_without_a_lay_nothing_is_assessed_and_the_flag_says_so(name):
    found = segment_geometric(prepared(getattr(data, name)()))
    assert np.all(found.codes == MaskCode.NOT_ASSESSED)
    assert found.flags == ("no lay found",)
    assert len(found.grooves) == 0 and np.isnan(found.grooves.continuity)
