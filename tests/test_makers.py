"""The contract that every maker of training fields keeps: repeatable, within the mask codes, its truth to be seen."""

import tomllib
from functools import cache
from importlib import import_module
from pathlib import Path

import cv2
import numpy as np
import pytest

SETTINGS = Path(__file__).parent.parent / "training" / "settings.toml"
STATED = tomllib.loads(SETTINGS.read_text(encoding="utf-8"))
NAMES = [*STATED["simulation"]["maker_shares"], *STATED["calibration"]["makers"]]
PIXEL_SIZES_UM = np.geomspace(0.15, 2.0, 28)
"""Of micrographs of honed ground (common practice, no source)."""


def drawn(name: str, seed: int, pixel_size_um: float, shape: tuple[int, int]):
    return import_module(f"makers.{name}").make(np.random.default_rng(seed), pixel_size_um=pixel_size_um, shape=shape)


@cache
def fields(name: str) -> list:
    return [drawn(name, seed, pixel_size_um, (260, 300)) for seed, pixel_size_um in enumerate(PIXEL_SIZES_UM)]


def test_every_maker_of_the_folder_has_a_share_in_training_or_calibrates_and_none_does_both():
    folder = Path(__file__).parent.parent / "training" / "makers"
    makers = {path.stem for path in folder.glob("*.py") if "_" not in path.stem} | {
        path.parent.name for path in folder.glob("*/__init__.py")
    }
    assert sorted(makers - {"made"}) == sorted(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_field_follows_from_its_seed(name):
    first, again, other = (drawn(name, seed, 0.5, (220, 240)) for seed in (7, 7, 8))
    assert first.image.tobytes() == again.image.tobytes()
    assert first.codes.tobytes() == again.codes.tobytes()
    assert first.worn.tobytes() == again.worn.tobytes()
    assert first.kind == again.kind
    assert first.image.tobytes() != other.image.tobytes()


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(("pixel_size_um", "shape"), [(0.12, (203, 331)), (0.9, (411, 201)), (2.2, (200, 457))])
def test_any_shape_and_pixel_size_gives_three_maps_of_that_shape(name, pixel_size_um, shape):
    for seed in range(2):
        made = drawn(name, seed, pixel_size_um, shape)
        assert made.image.shape == made.codes.shape == made.worn.shape == shape
        assert (made.image.dtype, made.codes.dtype, made.worn.dtype) == (np.uint8, np.uint8, np.bool_)
        assert made.image.std() > 1


@pytest.mark.parametrize("name", NAMES)
def test_every_state_is_drawn_and_no_other_code_than_the_masks(name):
    seen = set().union(*(np.unique(made.codes).tolist() for made in fields(name)))
    assert {0, 1, 2, 3} <= seen <= {0, 1, 2, 3, 255}


@pytest.mark.parametrize("name", NAMES)
def test_worn_and_unworn_fields_are_drawn_and_metal_moves_in_the_track_only(name):
    shares = [made.worn.mean() for made in fields(name)]
    assert min(shares) == 0 and max(shares) == 1
    assert not any(np.isin(made.codes[~made.worn], (2, 3)).any() for made in fields(name))


@pytest.mark.parametrize("name", NAMES)
def test_open_valleys_can_be_told_from_plateau_beside_them_in_most_pictures(name):
    """By mean grey, its spread, or roughness; far from all do, since real ones don't (common practice, no source)."""
    told = []
    for made in fields(name):
        valley = made.codes == 1
        beside = (made.codes == 0) & (cv2.dilate(valley.astype(np.uint8), np.ones((25, 25), np.uint8)) > 0)
        if min(valley.sum(), beside.sum()) < 500:
            continue
        grey = cv2.GaussianBlur(made.image.astype(np.float32), (0, 0), 1.0)
        rough = np.abs(grey - cv2.GaussianBlur(grey, (0, 0), 3.0))
        apart = [
            abs(map_[valley].mean() - map_[beside].mean()) / np.hypot(map_[valley].std(), map_[beside].std())
            for map_ in (grey, rough)
        ]
        told.append(max(apart) > 0.2 or not 0.8 < grey[valley].std() / grey[beside].std() < 1.25)
    assert len(told) >= 10
    assert np.mean(told) >= 0.75


@pytest.mark.parametrize("name", NAMES)
def test_pictures_are_not_heavily_clipped(name):
    clipped = [np.isin(made.image, (0, 255)).mean() for made in fields(name)]
    assert np.median(clipped) < 0.02 and max(clipped) < 0.12
