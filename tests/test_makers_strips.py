"""The strip maker: repeatable, within the mask codes, every state drawn, and open valleys that can be seen."""

import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "training"))

from makers.strips import make  # noqa: E402


@pytest.fixture(scope="module")
def many():
    return [make(np.random.default_rng([7, seed]), pixel_size_um=0.7, shape=(300, 320)) for seed in range(25)]


def test_same_seed_gives_same_bytes():
    first, second = (make(np.random.default_rng(3), pixel_size_um=0.5, shape=(260, 300)) for _ in range(2))
    assert first.image.tobytes() == second.image.tobytes()
    assert first.codes.tobytes() == second.codes.tobytes()
    assert first.worn.tobytes() == second.worn.tobytes()
    assert first.kind == second.kind


@pytest.mark.parametrize("pixel_size_um", [0.12, 0.37, 1.0, 2.2])
@pytest.mark.parametrize("shape", [(200, 200), (311, 457)])
def test_any_shape_and_pixel_size_gives_three_maps_of_that_shape(pixel_size_um, shape):
    for seed in range(3):
        made = make(np.random.default_rng(seed), pixel_size_um=pixel_size_um, shape=shape)
        assert made.image.shape == made.codes.shape == made.worn.shape == shape
        assert (made.image.dtype, made.codes.dtype, made.worn.dtype) == (np.uint8, np.uint8, np.bool_)


def test_only_mask_codes_are_used_and_every_state_is_drawn(many):
    seen = set().union(*(np.unique(made.codes).tolist() for made in many))
    assert seen == {0, 1, 2, 3, 255}


def test_worn_and_unworn_ground_are_both_drawn_and_so_is_a_track_edge(many):
    shares = [made.worn.mean() for made in many]
    assert min(shares) == 0 and max(shares) == 1
    assert any(0 < share < 1 for share in shares)


def test_unworn_ground_is_neither_smeared_nor_scuffed(many):
    for made in many:
        assert not np.isin(made.codes[~made.worn], (2, 3)).any()


def test_open_valleys_differ_visibly_from_plateau_beside_them_in_most_pictures(many):
    different = []
    for made in many:
        valley = made.codes == 1
        beside = (made.codes == 0) & (cv2.dilate(valley.astype(np.uint8), np.ones((25, 25), np.uint8)) > 0)
        if valley.sum() < 500 or beside.sum() < 500:
            continue
        grey = cv2.GaussianBlur(made.image.astype(np.float32), (0, 0), 1.0)
        rough = np.abs(grey - cv2.GaussianBlur(grey, (0, 0), 3.0))
        effects = [
            abs(map_[valley].mean() - map_[beside].mean()) / np.hypot(map_[valley].std(), map_[beside].std())
            for map_ in (grey, rough)
        ]
        different.append(max(effects) > 0.25)
    assert len(different) >= 12
    assert np.mean(different) >= 0.75


def test_pictures_use_the_grey_range_without_heavy_clipping(many):
    for made in many:
        assert made.image.std() > 1.5
        assert np.mean((made.image == 0) | (made.image == 255)) < 0.02
