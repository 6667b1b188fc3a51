"""Claims about the milled maker of training fields. Expected values follow from its contract, not from its code."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "training"))

from makers.milled import make  # noqa: E402

DRAWN = [
    make(np.random.default_rng([seed, number]), pixel_size_um=pixel_size_um, shape=(150, 210))
    for number, pixel_size_um in enumerate((0.2, 0.8, 2.0))
    for seed in range(8)
]


def test_the_same_seed_gives_the_same_sample():
    first, second = (make(np.random.default_rng(5), pixel_size_um=0.7, shape=(130, 170)) for _ in range(2))
    assert np.array_equal(first.image, second.image)
    assert np.array_equal(first.codes, second.codes)
    assert np.array_equal(first.worn, second.worn)
    assert first.kind == second.kind


@pytest.mark.parametrize("shape", [(97, 301), (240, 100)])
def test_any_shape_comes_back_with_the_promised_types(shape):
    made = make(np.random.default_rng(3), pixel_size_um=0.5, shape=shape)
    assert made.image.shape == made.codes.shape == made.worn.shape == shape
    assert (made.image.dtype, made.codes.dtype, made.worn.dtype) == (np.uint8, np.uint8, bool)


def test_codes_are_mask_codes_only():
    assert set(np.unique(np.concatenate([made.codes.ravel() for made in DRAWN]))) <= {0, 1, 2, 3, 255}


def test_nothing_is_smeared_or_scuffed_where_the_ring_never_ran():
    # "in-track: where the ring ran": metal moves nowhere else.
    assert any(((made.codes == 2) | (made.codes == 3)).any() for made in DRAWN)
    for made in DRAWN:
        assert not (((made.codes == 2) | (made.codes == 3)) & ~made.worn).any()


def test_every_state_and_both_unworn_and_worn_fields_are_drawn():
    for code in (0, 1, 2, 3):
        assert any((made.codes == code).mean() > 0.01 for made in DRAWN), code
    assert {True, False} <= {bool(made.worn.all()) for made in DRAWN}
    assert any(not made.worn.any() for made in DRAWN)


def test_open_valleys_differ_from_the_plateau_in_most_pictures():
    # Truth must be seeable: mean grey, or its spread, tells open ground from plateau in most pictures that have it.
    told = []
    for made in DRAWN:
        valley, plateau = made.image[made.codes == 1].astype(float), made.image[made.codes == 0].astype(float)
        if min(valley.size, plateau.size) > 400:
            told.append(abs(valley.mean() - plateau.mean()) > 0.5 * plateau.std() or valley.std() > 1.3 * plateau.std())
    assert len(told) > 8
    assert np.mean(told) > 0.75
