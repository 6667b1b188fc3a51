"""The maker of stamped fields keeps its contract."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "training"))
from makers.stamped import make  # noqa: E402


@pytest.fixture(scope="module")
def fields():
    return [make(np.random.default_rng(seed), pixel_size_um=0.6, shape=(260, 300)) for seed in range(25)]


def test_the_same_seed_gives_the_same_bytes():
    for seed in range(4):
        first, second = (make(np.random.default_rng(seed), pixel_size_um=0.5, shape=(220, 240)) for _ in range(2))
        assert first.image.tobytes() == second.image.tobytes()
        assert first.codes.tobytes() == second.codes.tobytes()
        assert first.worn.tobytes() == second.worn.tobytes()


@pytest.mark.parametrize("pixel_size_um", [0.12, 0.3, 0.9, 2.2])
@pytest.mark.parametrize("shape", [(200, 200), (233, 517), (401, 207)])
def test_any_shape_and_pixel_size_gives_arrays_of_the_promised_kind(pixel_size_um, shape):
    made = make(np.random.default_rng(7), pixel_size_um=pixel_size_um, shape=shape)
    assert made.image.shape == made.codes.shape == made.worn.shape == shape
    assert (made.image.dtype, made.codes.dtype, made.worn.dtype) == (np.uint8, np.uint8, bool)
    assert np.isfinite(made.image).all() and made.image.std() > 1


def test_codes_are_mask_codes_and_every_state_and_ground_is_drawn(fields):
    codes = np.unique(np.concatenate([np.unique(made.codes) for made in fields]))
    assert set(codes) == {0, 1, 2, 3, 255}
    assert any(made.worn.all() for made in fields) and any(not made.worn.any() for made in fields)


def test_unworn_ground_bears_no_moved_metal(fields):
    for made in fields:
        assert not np.isin(made.codes[~made.worn], (2, 3)).any()


def test_open_valleys_can_be_told_from_plateau_in_most_pictures(fields):
    seen = []
    for made in fields:
        image = made.image.astype(float)
        valley, plateau = image[made.codes == 1], image[made.codes == 0]
        if min(valley.size, plateau.size) > 500:
            apart = abs(valley.mean() - plateau.mean()) / plateau.std()
            seen.append(apart > 0.3 or not 0.8 < valley.std() / plateau.std() < 1.25)
    assert len(seen) > 12 and np.mean(seen) > 0.7


def test_pictures_are_not_heavily_clipped(fields):
    clipped = [np.isin(made.image, (0, 255)).mean() for made in fields]
    assert np.median(clipped) < 0.01 and max(clipped) < 0.1
