"""Claims of the painted maker of training fields: seeded, truth of the agreed codes, wear only where the ring ran."""

import sys
from pathlib import Path

import numpy as np
import pytest

TRAINING = Path(__file__).resolve().parent.parent / "training"


@pytest.fixture(scope="module")
def make():
    """The maker, imported as the training scripts do: with training/ on the path."""
    sys.path.insert(0, str(TRAINING))
    try:
        from makers.painted import make
    finally:
        sys.path.remove(str(TRAINING))
    return make


@pytest.fixture(scope="module")
def fields(make):
    """Forty small fields over the range of pixel sizes."""
    sizes_um = np.geomspace(0.12, 2.2, 40)
    return [make(np.random.default_rng(n), pixel_size_um=size, shape=(190, 230)) for n, size in enumerate(sizes_um)]


def test_the_same_seed_gives_the_same_field_and_another_seed_another(make, fields):
    for n in (3, 17):
        again = make(np.random.default_rng(n), pixel_size_um=np.geomspace(0.12, 2.2, 40)[n], shape=(190, 230))
        for name in ("image", "codes", "worn"):
            assert np.array_equal(getattr(again, name), getattr(fields[n], name))
        assert again.kind == fields[n].kind
    assert not np.array_equal(fields[3].image, fields[17].image)


def test_pictures_and_truth_share_one_grid_and_hold_only_mask_codes(fields):
    for field in fields:
        assert field.image.shape == field.codes.shape == field.worn.shape == (190, 230)
        assert field.image.dtype == field.codes.dtype == np.uint8
        assert field.worn.dtype == bool
        assert set(np.unique(field.codes)) <= {0, 1, 2, 3, 255}
        assert field.image.std() > 1


def test_metal_is_smeared_or_scuffed_only_where_the_ring_ran(fields):
    for field in fields:
        assert not np.isin(field.codes[~field.worn], (2, 3)).any()


def test_every_state_and_both_kinds_of_zone_are_drawn(fields):
    drawn = np.unique(np.concatenate([np.unique(field.codes) for field in fields]))
    assert {0, 1, 2, 3, 255} <= set(drawn)
    shares = np.array([field.worn.mean() for field in fields])
    assert (shares == 0).any()
    assert (shares == 1).any()
    assert ((shares > 0) & (shares < 1)).any()


def test_open_valleys_differ_from_the_plateau_beside_them(fields):
    """In most fields with valleys the mean grey of valley and plateau differs by over a tenth of the picture's spread."""
    told_apart = []
    for field in fields:
        valley, plateau = field.image[field.codes == 1], field.image[field.codes == 0]
        if valley.size > 400:
            told_apart.append(abs(float(valley.mean()) - float(plateau.mean())) > 0.1 * field.image.std())
    assert len(told_apart) > 15
    assert np.mean(told_apart) > 0.7
