"""One picture through all stages: what plan, options and picture say about it, pixels that aren't square, a network."""

import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import tifffile
from drawn_fields import drawn_field

from semwear.model import FORMAT, checksum, load_model
from semwear.pipeline import Settings, lays_of, measure_file
from semwear.plan import PlannedField
from semwear.prepare import PreparedField
from semwear.terms import REGION_COLUMNS, REGION_SIZE_UM

GEOMETRY = Settings(geometry_only=True, pixel_size_um=0.8)


@pytest.fixture
def picture(tmp_path):
    """A drawn field whose lays run at 22° and 158°, so that the circumference is along the rows, the stroke at 90°."""
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, drawn_field(4))
    return path


def test_lays_and_hone_angle_are_those_that_were_drawn(picture):
    row = measure_file(picture, settings=GEOMETRY).row
    assert sorted((row["lay_1_deg"], row["lay_2_deg"])) == pytest.approx([22, 158], abs=1)
    assert row["hone_angle_deg"] == pytest.approx(44, abs=1.5)
    assert row["stroke_deg"] == pytest.approx(90, abs=1) and "stroke from lays" in row["flags"]


def test_a_file_of_several_pictures_says_so_unless_a_page_was_chosen(tmp_path):
    path = tmp_path / "a.tif"
    with tifffile.TiffWriter(path) as tiff:
        tiff.write(drawn_field(4), photometric="minisblack", metadata=None)
        tiff.write(drawn_field(5), photometric="minisblack", metadata=None)
        tiff.write(drawn_field(5)[::4, ::4], photometric="minisblack", metadata=None)
    first, second = (measure_file(path, settings=replace(GEOMETRY, page=page)).row for page in (1, 2))
    assert "more pages" in first["flags"].split(";") and "more pages" not in second["flags"].split(";")
    tifffile.imwrite(tmp_path / "b.tif", drawn_field(5))
    alone = measure_file(tmp_path / "b.tif", settings=GEOMETRY).row
    assert second["valley_fraction"] == alone["valley_fraction"] != first["valley_fraction"]


def test_plan_goes_before_option_for_stroke_and_pixel_size(picture):
    settings = Settings(geometry_only=True, pixel_size_um=0.8, stroke_deg=90)
    by_option = measure_file(picture, settings=settings).row
    planned = PlannedField(file="a.tif", stroke_deg=91.0, pixel_size_um=0.7)
    by_plan = measure_file(picture, settings=settings, planned=planned).row
    assert (by_option["stroke_deg"], by_option["stroke_source"], by_option["pixel_size_um"]) == (90, "option", 0.8)
    assert (by_plan["stroke_deg"], by_plan["stroke_source"], by_plan["pixel_size_um"]) == (91, "plan", 0.7)


def test_beam_in_the_plan_that_contradicts_the_picture_is_flagged_and_the_plan_is_kept(tmp_path):
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, drawn_field(4), description="[Beam]\nHV=10 kV\nPixelWidth=0.8 um\n", metadata=None)
    agreeing = measure_file(path, settings=GEOMETRY, planned=PlannedField(file="a.tif", kv=10.0)).row
    contradicting = measure_file(path, settings=GEOMETRY, planned=PlannedField(file="a.tif", kv=5.0)).row
    assert (agreeing["kv"], agreeing["status"]) == (10.0, "measured") and "plan disagreement" not in agreeing["flags"]
    assert contradicting["kv"] == 5.0 and "plan disagreement" in contradicting["flags"]


@pytest.mark.parametrize(("tilt_deg", "flagged"), [(0.0, False), (15.0, False), (-20.0, True)])
def test_a_tilt_that_foreshortens_by_more_than_a_few_percent_is_flagged(picture, tilt_deg, flagged):
    """1 − cos 15° = 3.4 % [D]."""
    row = measure_file(picture, settings=GEOMETRY, planned=PlannedField(file="a.tif", tilt_deg=tilt_deg)).row
    assert ("tilted" in row["flags"].split(";")) is flagged


@pytest.mark.parametrize(("pixel_size_um", "flagged"), [(0.8, False), (2.0, False), (2.4, True)])
def test_pixel_sizes_that_no_network_was_tested_at_are_flagged(picture, model_folder, pixel_size_um, flagged):
    row = measure_file(picture, settings=replace(written(*model_folder), pixel_size_um=pixel_size_um)).row
    assert ("pixel size untested" in row["flags"].split(";")) is flagged


def test_groove_share_of_a_drawn_field_is_found_within_a_few_percent(picture):
    # The drawing itself says which pixels it darkened: noise 7 against a step of 54 grey levels.
    drawn = np.mean(drawn_field(4) < 105)
    assert measure_file(picture, settings=GEOMETRY).row["valley_fraction"] == pytest.approx(drawn, abs=0.06)


def test_pixels_that_are_not_square_give_a_mask_on_their_own_grid_and_true_angles(tmp_path):
    # Every second of three rows kept: pixels 1.25 times as high as wide, stated by the file's own density tags.
    square = drawn_field(4, shape=(450, 480))
    flat = square[np.round(np.arange(0, 450, 1.25)).astype(int).clip(0, 449)]
    tifffile.imwrite(tmp_path / "flat.tif", flat, resolution=(12500, 10000), resolutionunit="CENTIMETER")
    result = measure_file(tmp_path / "flat.tif", settings=GEOMETRY)
    row = result.row
    assert row["status"] == "measured", row["reason"]
    assert result.codes.shape == result.picture.shape == result.grey.shape == (360, 480)
    assert "non-square pixels" in row["flags"]
    assert sorted((row["lay_1_deg"], row["lay_2_deg"])) == pytest.approx([22, 158], abs=1.5)
    assert (row["field_width_um"], row["field_height_um"]) == (pytest.approx(384), pytest.approx(360, rel=0.01))


@pytest.fixture
def model_folder(tmp_path):
    """A model with weights that nobody trained: its answers mean nothing, its way through the pipeline is the real one."""
    import torch

    from semwear.network import FieldNetwork, save_weights

    torch.manual_seed(3)
    folder, widths = tmp_path / "model", (8, 16, 16, 32, 32)
    folder.mkdir()
    save_weights(FieldNetwork(widths), folder / "weights.safetensors")
    card = {
        "name": "untrained", "format": FORMAT, "widths": widths, "working_pixel_sizes_um": [0.7, 1.0],
        "state_temperature": 1.0, "worn_temperature": 1.0, "valley_offsets": {"unworn": 0.0, "worn": 0.0}, "hidden_limit": 2.0,
        "distance": {"mean": 0.0, "whitening": 0.0, "mahalanobis_limit": 1.0, "kind_limit": -1000.0, "kind_scale": 10.0},
        "interval": {"valley": 2.5, "smeared": 3.0, "scuffed": 8.0},
        "weights_sha256": checksum(folder / "weights.safetensors"),
    }  # fmt: skip
    load_model.cache_clear()
    return folder, card


def written(folder, card):
    import torch

    from semwear.network import FieldNetwork

    torch.manual_seed(3)
    size = FieldNetwork(tuple(card["widths"])).eval()(torch.zeros(1, 1, 64, 64))[3].shape[1]
    card["distance"] |= {"mean": [0.0] * size, "whitening": [[0.0]] * size}
    (folder / "card.json").write_text(json.dumps(card), encoding="utf-8")
    return Settings(model=str(folder), pixel_size_um=0.8)


def test_a_network_fills_regions_worn_columns_and_intervals(picture, model_folder):
    result = measure_file(picture, settings=written(*model_folder))
    row = result.row
    assert row["status"] == "measured", row["reason"]
    assert 0 <= row["worn_fraction"] <= 1 and 0 <= row["worn_score"] <= 1 and row["training_distance"] < 0.01
    assert row["valley_fraction_low"] <= row["valley_fraction"] <= row["valley_fraction_high"]
    assert len(result.regions) == int(384 // REGION_SIZE_UM) * int(288 // REGION_SIZE_UM)
    assert set(result.regions[0]) == {column.name for column in REGION_COLUMNS}
    assert result.codes.shape == (360, 480)


def test_more_looks_change_the_figures_a_little(picture, model_folder):
    settings = written(*model_folder)
    once, several = (measure_file(picture, settings=replace(settings, looks=looks)).row for looks in (1, 4))
    assert several["status"] == once["status"] == "measured"
    assert several["worn_score"] != once["worn_score"]
    assert several["training_distance"] == once["training_distance"]


def test_single_precision_is_kept_when_asked_for(picture, model_folder, monkeypatch):
    settings = written(*model_folder)
    monkeypatch.setattr("semwear.network.reduced_precision_pays", lambda: True)
    load_model.cache_clear()
    reduced = measure_file(picture, settings=settings)
    exact = measure_file(picture, settings=replace(settings, single_precision=True))
    assert (reduced.precision, exact.precision) == ("bfloat16", "float32")
    monkeypatch.setattr("semwear.network.reduced_precision_pays", lambda: False)
    load_model.cache_clear()
    assert measure_file(picture, settings=settings).precision == "float32"
    assert measure_file(picture, settings=GEOMETRY).precision == ""


def test_a_field_unlike_the_training_has_its_verdict_withheld(picture, model_folder):
    folder, card = model_folder
    card["distance"]["kind_limit"], card["distance"]["kind_scale"] = 1000.0, 10.0
    row = measure_file(picture, settings=written(folder, card)).row
    assert row["training_distance"] > 1 and "unlike the training fields" in row["flags"].split(";")
    assert np.isnan([row["worn_score"], row["worn_fraction"]]).all()


def test_lays_hidden_in_the_picture_are_found_in_the_footprint_of_the_grooves():
    """Expected: the directions that were drawn (closed form), within 1°."""
    rng = np.random.default_rng(3)
    rows, cols = np.mgrid[:480, :640].astype(float)
    footprint = np.zeros((480, 640), np.float32)
    for direction_deg in (25.0, 150.0):
        angle = np.deg2rad(direction_deg)
        across = cols * np.sin(angle) + rows * np.cos(angle)
        for middle in rng.uniform(-500, 900, 18):
            footprint[np.abs(across - middle) < 6] = 0.9
    footprint = np.clip(footprint + rng.normal(0, 0.03, footprint.shape), 0, 1).astype(np.float32)
    hidden = rng.normal(size=(480, 640)).astype(np.float32)
    prepared = PreparedField(
        image=hidden, raw=hidden, assessed=np.ones(hidden.shape, bool), picture=np.ones(hidden.shape, bool),
        pixel_size_um=0.5, noise=0.1, contrast=1.0, sharpness_um=1.0, own_shape=hidden.shape, flags=(),
    )  # fmt: skip
    zero = np.zeros_like(footprint)

    def scores(valley):
        return SimpleNamespace(
            probabilities=np.stack([1 - valley, valley, zero, zero]), assessed_working=prepared.assessed, regions=(), distance=0.5,
            working_pixel_size_um=0.5,
        )  # fmt: skip

    assert sorted(lays_of(prepared, scores(footprint)).directions_deg) == pytest.approx([25.0, 150.0], abs=1.0)
    assert lays_of(prepared, scores(zero)).directions_deg == ()
