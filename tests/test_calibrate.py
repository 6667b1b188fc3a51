"""One pixel size out of several sources: order, agreement and refusal. Expected numbers are quotients done by hand."""

import csv
import math
from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile
from typer.testing import CliRunner

from semwear.calibrate import calibrate, combine
from semwear.cli import app
from semwear.data_bar import DataBar
from semwear.errors import ScaleError
from semwear.metadata_scale import facts_from_metadata
from semwear.read import Micrograph, read_micrograph
from semwear.scale_table import SCALE_COLUMNS, scale_table

ROWS, COLS = 96, 128
PIXELS = np.random.default_rng(2).integers(0, 256, (ROWS, COLS), dtype=np.uint8)


def micrograph(text="", *, aspect=None) -> Micrograph:
    return Micrograph(path=Path("field.tif"), file="field.tif", sha256="", pixels=PIXELS, white_level=255.0,
                      metadata={"tag 50123": text} if text else {}, pixel_aspect=aspect)


def bar(um=math.nan, px=math.nan, u_px=0.3, *, reason="", **printed) -> DataBar:
    return DataBar(marks=np.zeros((ROWS, COLS), bool), picture=(slice(0, ROWS), slice(0, COLS)),
                   bar_label="" if math.isnan(um) else f"{um:g} µm", bar_um=um, bar_px=px, bar_u_px=u_px,
                   reason=reason or ("no scale bar was found" if math.isnan(um) else ""), **printed)


def combined(text="", data_bar=None, *, given=None, aspect=None):
    picture = micrograph(text, aspect=aspect)
    return combine(picture, facts_from_metadata(picture), data_bar or bar(), given_pixel_size_um=given)


def test_given_goes_before_metadata_and_metadata_before_the_bar():
    text, drawn = "Pixel Size = 250.0 nm", bar(10.0, 40.1)
    assert combined(text, drawn, given=0.2505).pixel_size_source == "given"
    assert combined(text, drawn, given=0.2505).pixel_size_um == 0.2505
    assert combined(text, drawn).pixel_size_source == "file metadata"
    assert combined(text, drawn).pixel_size_um == pytest.approx(0.25)
    by_bar = combined("", drawn)
    assert by_bar.pixel_size_source == "scale bar"
    assert by_bar.pixel_size_um == pytest.approx(10.0 / 40.1)
    assert by_bar.pixel_size_u_um == pytest.approx(10.0 / 40.1 * 0.3 / 40.1)
    assert (by_bar.bar_label, by_bar.bar_px) == ("10 µm", 40.1)


def test_unknown_scale_is_refused_and_never_one():
    with pytest.raises(ScaleError, match="scale is unknown.*no scale bar was found.*--pixel-size-um"):
        combined()


@pytest.mark.parametrize(("text", "drawn", "given"), [
    ("Pixel Size = 250.0 nm", bar(10.0, 37.0), None),  # 0.270: 8 %
    ("Pixel Size = 250.0 nm", None, 0.27),
    ("", bar(10.0, 40.0), 0.27),
    ("Pixel Size = 250.0 nm", bar(10.0, 42.5), None),  # 0.235: -6 %
    ("Pixel Size = 250.0 nm", bar(10.0, 40.0), 250.0),  # nm given for µm
])
def test_sources_more_than_five_percent_apart_are_refused(text, drawn, given):
    with pytest.raises(ScaleError, match="contradict"):
        combined(text, drawn, given=given)


def test_sources_within_five_percent_are_flagged_only_beyond_their_uncertainties():
    # Bar: 0.3 px of 400 px is 0.075 %; metadata 0.25 %: two combined standard uncertainties are 0.52 %.
    assert combined("Pixel Size = 250.0 nm", bar(100.0, 401.0)).flags == ()
    assert combined("Pixel Size = 250.0 nm", bar(100.0, 404.0)).flags == ("scale disagreement",)
    assert combined("Pixel Size = 250.0 nm", bar(100.0, 404.0, 4.0)).flags == ()  # a bar read less surely
    assert combined("", bar(100.0, 404.0), given=0.25).flags == ("scale disagreement",)


def test_metadata_that_contradict_themselves_need_a_bar_that_bears_one_out():
    text = "Pixel Size = 250.0 nm\nHFW = 40.00 um"  # 0.25 and 0.3125
    with pytest.raises(ScaleError, match="contradict themselves"):
        combined(text)
    borne_out = combined(text, bar(10.0, 40.0))
    assert (borne_out.pixel_size_um, borne_out.flags) == (pytest.approx(0.25), ("scale disagreement",))
    with pytest.raises(ScaleError, match="no statement in the file agrees"):
        combined(text, bar(10.0, 25.0))


@pytest.mark.parametrize(("text", "given"), [("Pixel Size = 250.0 nm", None), ("", 0.25)])
def test_a_bar_that_another_contradicts_is_no_scale_and_is_still_held_against_the_others(text, given):
    """A second bar must not keep the first one from contradicting metadata, or what the user gave."""
    def contradicted(um: float) -> DataBar:
        return bar(reason="two scale bars contradict each other", contradicted_um=um)

    with pytest.raises(ScaleError, match="scale is unknown.*two scale bars contradict"):
        combined("", contradicted(0.25))
    assert combined(text, contradicted(0.252), given=given).flags == ("scale disagreement",)
    with pytest.raises(ScaleError, match="the scale bar doesn't agree: two scale bars contradict"):
        combined(text, contradicted(0.27), given=given)


def test_cropped_or_rescaled_is_settled_by_the_bar_or_refused():
    text = "Store resolution = 256 * 96\nPixel Size = 250.0 nm"
    with pytest.raises(ScaleError, match="256 px wide"):
        combined(text)
    assert combined(text, bar(10.0, 40.0)).pixel_size_um == pytest.approx(0.25)  # cropped
    assert combined(text, bar(10.0, 20.0)).pixel_size_um == pytest.approx(0.5)  # rescaled by two
    with pytest.raises(ScaleError):
        combined(text, bar(10.0, 30.0))
    assert combined("Store resolution = 256 * 192\nPixel Size = 250.0 nm").flags == ("rescaled picture",)


@pytest.mark.parametrize("given", [0.0, -1.0, math.nan, math.inf])
def test_impossible_given_sizes_are_refused(given):
    with pytest.raises(ScaleError, match="give a positive number"):
        calibrate(micrograph(), given_pixel_size_um=given)


def test_implausible_scale_is_refused():
    with pytest.raises(ScaleError, match="outside 0.0001 to 20"):
        combined("", bar(1e4, 40.0))


def test_non_square_pixels_are_taken_from_metadata_or_density_and_never_ignored():
    stated = combined("PixelSizeX = 250.0 nm\nPixelSizeY = 275.0 nm")
    assert stated.pixel_height_um == pytest.approx(0.275)
    assert stated.flags == ("non-square pixels",)
    assert not stated.is_square
    by_density = combined("", bar(10.0, 40.0), aspect=75 / 68)
    assert by_density.pixel_height_um == pytest.approx(0.25 * 75 / 68)
    assert by_density.flags == ("non-square pixels",)
    nearly = combined("PixelSizeX = 250.0 nm\nPixelSizeY = 250.5 nm", aspect=1.001)
    assert (nearly.pixel_height_um, nearly.flags) == (nearly.pixel_size_um, ())
    with pytest.raises(ScaleError, match="square pixels"):
        combined("", bar(10.0, 40.0), aspect=1.9)


def test_voltage_and_magnification_of_metadata_and_data_bar_are_compared():
    text = "Pixel Size = 250.0 nm\nHV = 15.00 kV\nMag = 1500 x"
    assert combined(text, bar(10.0, 40.0, kv=15.0, magnification=1500.0)).flags == ()
    assert combined(text, bar(10.0, 40.0, kv=5.0)).flags == ("data bar disagreement",)
    assert combined(text, bar(10.0, 40.0, magnification=3000.0)).flags == ("data bar disagreement",)
    assert combined(text, bar(10.0, 40.0, printed_field_width_um=40.0)).flags == ("data bar disagreement",)
    assert combined("Pixel Size = 250.0 nm", bar(10.0, 40.0, kv=5.0, detector="SE")).kv == 5.0
    assert combined("Pixel Size = 250.0 nm", bar(10.0, 40.0, kv=5.0, detector="SE")).detector == "SE"


def drawn_picture(path, *, description=None, bar_px=200, label="50 um"):
    """A grey texture over a black strip with a white bar and its label, in a font of OpenCV."""
    rng = np.random.default_rng(4)
    picture = np.clip(cv2.GaussianBlur(rng.normal(120, 90, (600, 800)), (0, 0), 2.0), 0, 255).astype(np.uint8)
    picture[540:] = 0
    cv2.rectangle(picture, (100, 575), (100 + bar_px - 1, 580), 255, -1)
    cv2.putText(picture, label, (330, 582), cv2.FONT_HERSHEY_SIMPLEX, 0.9, 255, 2, cv2.LINE_AA)
    tifffile.imwrite(path, picture, description=description, metadata=None)


def test_command_scale_writes_one_row_a_picture(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "session").mkdir()
    drawn_picture("session/a.tif", description="Pixel Size = 250.0 nm")
    drawn_picture("session/b.tif", description="Pixel Size = 300.0 nm")
    drawn_picture("session/c.tif")
    Path("session/d.tif").write_text("no picture")
    result = CliRunner().invoke(app, ["scale", "session", "--csv", "scale.csv", "--quiet"])
    assert result.exit_code == 1, result.output
    with open("scale.csv", encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    assert list(rows[0]) == [column.name for column in SCALE_COLUMNS] == [
        "file", "pixel_size_um", "pixel_size_u_um", "pixel_size_source", "bar_label", "bar_px", "status", "reason"]
    assert [row["file"] for row in rows] == [f"session/{name}.tif" for name in "abcd"]
    assert [row["status"] for row in rows] == ["measured", "refused", "measured", "refused"]
    assert [row["pixel_size_source"] for row in rows] == ["file metadata", "", "scale bar", ""]
    assert float(rows[2]["bar_px"]) == pytest.approx(200, abs=0.5)
    assert float(rows[2]["pixel_size_um"]) == pytest.approx(0.25, rel=0.003)
    assert "contradict" in rows[1]["reason"]
    assert "no picture" in rows[3]["reason"]


def test_command_scale_says_when_nothing_could_be_done(tmp_path):
    assert CliRunner().invoke(app, ["scale", str(tmp_path / "no.tif"), "--csv", str(tmp_path / "s.csv"), "-q"]
                              ).exit_code == 2
    empty = tmp_path / "empty"
    empty.mkdir()
    result = CliRunner().invoke(app, ["scale", str(empty), "--csv", str(tmp_path / "s.csv")])
    assert "no pictures" in str(result.exception)


def test_one_failing_picture_does_not_end_the_table(tmp_path, monkeypatch):
    drawn_picture(tmp_path / "a.tif", description="Pixel Size = 250.0 nm")

    def fail(_micrograph, **_options):
        raise RuntimeError("boom\nsecond line")

    monkeypatch.setattr("semwear.calibrate.calibrate", fail)
    row, = scale_table([tmp_path / "a.tif"])
    assert row["status"] == "refused"
    assert "boom second line" in row["reason"]


def test_scale_of_a_file_is_found_from_start_to_end(tmp_path):
    drawn_picture(tmp_path / "a.tif", description="Pixel Size = 250.0 nm")
    found = calibrate(read_micrograph(tmp_path / "a.tif"))
    assert (found.pixel_size_source, found.pixel_size_um, found.flags) == ("file metadata", pytest.approx(0.25), ())
    assert found.data_bar.marks[560, 50]
    assert not found.data_bar.marks[300, 400]
