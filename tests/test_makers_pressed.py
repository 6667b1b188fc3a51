"""The maker that presses and drags metal: what a training loop may rely on."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "training"))

from makers.pressed import make  # noqa: E402


@pytest.fixture(scope="module")
def fields():
    """25 small fields at pixel sizes over the whole range."""
    sizes = np.geomspace(0.15, 2.0, 25)
    return [make(np.random.default_rng(s), pixel_size_um=p, shape=(300, 320)) for s, p in enumerate(sizes)]


def test_the_same_seed_gives_the_same_bytes():
    first, second = (make(np.random.default_rng(11), pixel_size_um=0.8, shape=(240, 260)) for _ in range(2))
    assert first.image.tobytes() == second.image.tobytes()
    assert first.codes.tobytes() == second.codes.tobytes()
    assert first.worn.tobytes() == second.worn.tobytes()


@pytest.mark.parametrize(
    ("pixel", "shape"), [(0.12, (201, 333)), (0.31, (257, 200)), (0.9, (222, 410)), (2.2, (407, 231))]
)
def test_odd_shapes_and_pixel_sizes_give_whole_fields(pixel, shape):
    for seed in range(3):
        made = make(np.random.default_rng(seed), pixel_size_um=pixel, shape=shape)
        assert made.image.shape == made.codes.shape == made.worn.shape == shape
        assert (made.image.dtype, made.codes.dtype, made.worn.dtype) == (np.uint8, np.uint8, np.bool_)
        assert set(np.unique(made.codes)) <= {0, 1, 2, 3, 255}


def test_every_state_and_both_zones_are_drawn(fields):
    seen = set().union(*(np.unique(made.codes).tolist() for made in fields))
    assert seen == {0, 1, 2, 3, 255}
    assert any(made.worn.all() for made in fields)
    assert any(not made.worn.any() for made in fields)
    assert any(made.worn.any() and not made.worn.all() for made in fields)


def test_only_worn_ground_is_smeared_or_scuffed(fields):
    for made in fields:
        assert not np.isin(made.codes[~made.worn], (2, 3)).any()


def test_no_picture_is_clipped_or_flat(fields):
    for made in fields:
        assert np.mean((made.image == 0) | (made.image == 255)) < 0.02
        assert made.image.std() > 2


def test_open_valleys_look_unlike_plateau_in_most_pictures(fields):
    told = []
    for made in fields:
        grey = made.image.astype(float)
        rough = np.abs(grey - np.roll(grey, 2, 1))
        valley, plateau = made.codes == 1, made.codes == 0
        if min(valley.sum(), plateau.sum()) < 500:
            continue
        tone = abs(grey[valley].mean() - grey[plateau].mean()) / grey[plateau].std()
        told.append(tone > 0.3 or not 0.8 < rough[valley].mean() / rough[plateau].mean() < 1.25)
    assert len(told) >= 10
    assert np.mean(told) >= 0.75
