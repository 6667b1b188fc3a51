"""Claims about the maker that draws states first and textures after."""

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "training"))

from makers.made import Made  # noqa: E402
from makers.spectral import make  # noqa: E402

SEEDS = range(25)


@pytest.fixture(scope="module")
def drawn() -> list[Made]:
    def some() -> Iterator[Made]:
        for seed in SEEDS:
            px = [0.3, 0.6, 1.0, 1.6][seed % 4]
            yield make(np.random.default_rng(seed), pixel_size_um=px, shape=(240, 260))

    return list(some())


def test_the_same_seed_draws_the_same_bytes():
    one, two = (make(np.random.default_rng(7), pixel_size_um=0.5, shape=(200, 210)) for _ in range(2))
    assert one.image.tobytes() == two.image.tobytes()
    assert one.codes.tobytes() == two.codes.tobytes()
    assert one.worn.tobytes() == two.worn.tobytes()


@pytest.mark.parametrize(("shape", "px"), [((203, 331), 0.12), ((411, 201), 2.2), ((257, 255), 0.7)])
def test_any_shape_and_pixel_size_is_drawn_whole(shape, px):
    for seed in range(3):
        made = make(np.random.default_rng(100 + seed), pixel_size_um=px, shape=shape)
        assert made.image.shape == made.codes.shape == made.worn.shape == shape
        assert made.image.dtype == np.uint8
        assert made.codes.dtype == np.uint8
        assert made.worn.dtype == bool


def test_only_the_contracts_codes_occur(drawn):
    assert {int(c) for made in drawn for c in np.unique(made.codes)} <= {0, 1, 2, 3, 255}


def test_every_state_and_both_zones_are_drawn(drawn):
    assert {0, 1, 2, 3} <= {int(c) for made in drawn for c in np.unique(made.codes)}
    assert any(made.worn.all() for made in drawn)
    assert any(not made.worn.any() for made in drawn)


def test_nothing_smeared_or_scuffed_lies_outside_the_track(drawn):
    for made in drawn:
        assert not np.isin(made.codes[~made.worn], [2, 3]).any()


def test_open_valleys_differ_visibly_from_plateau_in_most_pictures(drawn):
    """Mean grey, spread, or both differ by a fifth of the plateau's spread."""
    seen = []
    for made in drawn:
        valley, plateau = made.image[made.codes == 1].astype(float), made.image[made.codes == 0].astype(float)
        if valley.size < 300 or plateau.size < 300:
            continue
        spread = plateau.std() + 1.0
        ratio = valley.std() / spread
        seen.append(abs(valley.mean() - plateau.mean()) > 0.2 * spread or not 0.8 < ratio < 1.25)
    assert len(seen) >= 10
    assert np.mean(seen) >= 0.8


def test_pictures_are_not_clipped_heavily(drawn):
    for made in drawn:
        assert np.mean((made.image == 0) | (made.image == 255)) < 0.03
