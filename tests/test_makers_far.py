"""Claims about the far maker: its truth belongs to its pictures, and it keeps the contract of states and tables."""

import csv

import cv2
import numpy as np
import pytest
import tifffile
from makers.far.chance import turned
from makers.far.ground import draw_ground
from makers.far.layouts import LAYOUTS, Note
from makers.far.recipe import draw_specimen
from makers.far.session import shares, write_session


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    out = tmp_path_factory.mktemp("far")
    write_session(out, 4, seed=7)
    return out


def rows(path):
    with path.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def opened(out, file):
    path = out / file
    picture = tifffile.imread(path) if path.suffix == ".tif" else cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
    return picture, cv2.imread(str(out / "masks" / f"{path.stem}.png"), cv2.IMREAD_UNCHANGED)


def small(seed, scuffs=False, pixel=0.6):
    specimen = draw_specimen(np.random.default_rng(seed), "L", scuffs)
    specimen.shape, specimen.pixel = (260, 340), pixel
    return specimen


def test_the_same_seed_writes_the_same_files(written, tmp_path):
    write_session(tmp_path, 1, seed=7)
    pictures = [p for p in tmp_path.rglob("l001_1.*") if p.is_file()]
    assert len(pictures) == 2
    for path in pictures:
        assert path.read_bytes() == (written / path.relative_to(tmp_path)).read_bytes()
    assert rows(tmp_path / "truth.csv") == rows(written / "truth.csv")[:1]


def test_masks_lie_on_their_pictures_and_give_the_written_shares(written):
    for row in rows(written / "truth.csv"):
        picture, states = opened(written, row["file"])
        assert states.shape == picture.shape[:2]
        assert set(np.unique(states)) <= {0, 1, 2, 3, 255}
        named = [float(row[f"{key}_fraction"]) for key in ("valley", "smeared", "scuffed", "plateau")]
        assert named == pytest.approx(shares(states), abs=1e-6)
        assert sum(named) == pytest.approx(1, abs=1e-5)


def test_a_specimen_has_two_fields_in_either_zone_and_retention_is_a_ratio_of_means(written):
    truth = rows(written / "truth.csv")
    assert [row["zone"] for row in truth] == ["out-of-track", "in-track"] * 2
    assert [row["zone"] for row in rows(written / "plan.csv")] == [row["zone"] for row in truth]
    means = [np.mean([float(r["valley_fraction"]) for r in truth if r["worn"] == worn]) for worn in "01"]
    (given,) = rows(written / "retention.csv")
    assert float(given["retention"]) == pytest.approx(means[1] / means[0], abs=1e-4)


def test_ground_that_was_not_run_has_no_smear_and_no_scuff():
    for seed in range(3):
        states = draw_ground(np.random.default_rng(seed), small(seed, True), 90.0, 0.0, False).states
        assert not np.isin(states, (2, 3)).any()
        assert (states == 1).any()


def test_run_ground_smears_and_scuffs_where_the_recipe_says_so():
    found = [draw_ground(np.random.default_rng(s), small(s, s % 2 == 0), 90.0, 0.0, True).states for s in range(8)]
    assert np.mean([np.mean(states == 2) for states in found]) > 0.02
    assert all((states == 3).any() for states in found[::2])
    assert not any((states == 3).any() for states in found[1::2])


def test_open_valleys_are_at_least_half_a_micrometre_deep_and_covers_are_not():
    ground = draw_ground(np.random.default_rng(3), small(4), 90.0, 0.0, True)
    assert ground.depth[ground.states == 1].min() >= 0.5
    assert ground.depth[ground.states == 2].max() < 0.5


def test_lay_directions_run_anticlockwise_on_the_screen():
    canvas = np.zeros((300, 300), np.float32)
    canvas[148:152] = 1
    field = turned(canvas, 30.0, (101, 101))
    right = int(np.argmax(field[:, 90]))
    assert right == pytest.approx(50 - 40 * np.tan(np.radians(30)), abs=1.5)


def test_grooves_show_in_the_picture_at_the_boundary_of_the_truth(written):
    row = rows(written / "truth.csv")[0]
    picture, states = opened(written, row["file"])
    valley = (states == 1).astype(np.uint8)
    inner = cv2.distanceTransform(valley, cv2.DIST_L2, 3)
    outer = cv2.distanceTransform(1 - valley, cv2.DIST_L2, 3)
    steep = np.hypot(*np.gradient(cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 0.7)))
    near = (np.maximum(inner, outer) <= 1 + max(1, 0.5 / float(row["pixel_size_um"]))) & (states != 255)
    assert steep[near].mean() > 1.3 * steep[(outer > 6) & (states == 0)].mean()


@pytest.mark.parametrize("name", LAYOUTS)
def test_every_layout_draws_a_bar_of_the_length_it_states(name):
    specimen = draw_specimen(np.random.default_rng(2), "L001", False)
    note = Note(np.random.default_rng(1), specimen, "L001-1", 960)
    picture, states = np.full((620, 960), 0.45, np.float32), np.zeros((620, 960), np.uint8)
    drawn, marked = LAYOUTS[name](np.random.default_rng(1), picture, states, note)
    assert drawn.shape == marked.shape
    assert np.allclose(drawn[marked == 0], 0.45)
    inks, counts = np.unique(drawn[marked == 255], return_counts=True)
    lengths = set()
    for ink in inks[np.argsort(counts)[-3:]]:
        runs = np.pad((drawn == ink) & (marked == 255), ((0, 0), (1, 1)))
        edges = np.flatnonzero(np.diff(runs.ravel()))
        lengths.update((edges[1::2] - edges[::2]).tolist())
    assert note.pixels in lengths
    assert note.value / note.pixels == pytest.approx(specimen.pixel, rel=0.5 / note.pixels + 1e-9)
