"""The collage of training fields: same seed same bytes, codes that keep to the words, valleys that can be seen."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "training"))
from makers.collaged import make  # noqa: E402

SHAPES = [((203, 317), 0.12), ((200, 200), 2.2), ((411, 230), 0.6)]


@pytest.fixture(scope="module")
def fields():
    """Pixel sizes in µm, common practice, no source."""
    sizes = (0.2, 0.5, 1.0, 2.0)
    return [make(np.random.default_rng(seed), pixel_size_um=sizes[seed % 4], shape=(260, 280)) for seed in range(40)]


def test_the_same_seed_gives_the_same_bytes():
    one, two = (make(np.random.default_rng(7), pixel_size_um=0.4, shape=(220, 240)) for _ in range(2))
    assert one.image.tobytes() == two.image.tobytes()
    assert one.codes.tobytes() == two.codes.tobytes()
    assert one.worn.tobytes() == two.worn.tobytes()
    assert one.kind == two.kind


@pytest.mark.parametrize(("shape", "pixel"), SHAPES)
def test_odd_shapes_and_pixel_sizes_give_whole_fields(shape, pixel):
    for seed in range(4):
        made = make(np.random.default_rng(seed), pixel_size_um=pixel, shape=shape)
        assert made.image.shape == made.codes.shape == made.worn.shape == shape
        assert (made.image.dtype, made.codes.dtype, made.worn.dtype) == (np.uint8, np.uint8, bool)


def test_codes_keep_to_the_words_and_every_state_is_drawn(fields):
    seen = set()
    for made in fields:
        seen |= set(np.unique(made.codes).tolist())
    assert seen <= {0, 1, 2, 3, 255}
    assert {0, 1, 2, 3} <= seen


def test_worn_and_unworn_ground_are_both_drawn(fields):
    assert any(made.worn.all() for made in fields)
    assert any(not made.worn.any() for made in fields)


def test_unworn_ground_bears_no_smear_and_no_scuffing(fields):
    assert not any(np.isin(made.codes[~made.worn], (2, 3)).any() for made in fields)


def test_most_pictures_tell_open_valley_from_plateau(fields):
    told = []
    for made in fields:
        valley, plateau = made.image[made.codes == 1], made.image[made.codes == 0]
        if min(valley.size, plateau.size) < 500:
            continue
        gap = abs(valley.mean() - plateau.mean()) / (0.5 * (valley.std() + plateau.std()) + 1)
        told.append(gap > 0.4 or not 0.75 < (valley.std() + 1) / (plateau.std() + 1) < 1.33)
    assert np.mean(told) > 0.75


def test_few_pixels_are_clipped(fields):
    assert all(np.isin(made.image, (0, 255)).mean() < 0.03 for made in fields)
