"""semwear profile: one table, pictures in one colour scale, one line an error."""

import math
import re

import numpy as np
import pytest
import x3pio

from semwear.cli import main
from semwear.profile.height_pictures import height_maps_svg, reduced, shared_range_um
from semwear.profile.height_table import (
    HEIGHT_COLUMNS,
    HEIGHT_FLAGS,
    HeightSettings,
    check_settings,
    measure_height_file,
)
from semwear.results import read_table
from semwear.simulate.heights import SimulatedHeights, write_heights


def run(capsys, *arguments) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main([str(argument) for argument in arguments])
    seen = capsys.readouterr()
    return left.value.code or 0, seen.out, seen.err


def drawn_map(depth_um=1.0, seed=0, shape=(120, 200)) -> np.ndarray:
    rng = np.random.default_rng(seed)
    rows, cols = np.mgrid[: shape[0], : shape[1]]
    grooves = ((rows + 0.4 * cols) % 30 < 4) | ((rows - 0.4 * cols) % 30 < 3)
    worn = depth_um * ((cols >= 60) & (cols < 140))
    return rng.normal(0, 0.05, shape) - 2.0 * grooves - worn


def write(path, heights):
    write_heights(path, SimulatedHeights(heights_um=heights, pixel_size_um=2.0, worn_volume_mm3=math.nan, valley_fraction=math.nan))


def test_maps_of_zones_become_rows_with_specimen_and_zone(tmp_path, capsys):
    maps = tmp_path / "maps"
    maps.mkdir()
    for zone in ("in-track", "out-of-track"):
        write(maps / f"B1_{zone}.x3p", drawn_map(0.0))
    status, out, err = run(capsys, "profile", maps, "--pattern", "{specimen}_{zone}", "--out", tmp_path / "heights")
    rows = read_table(tmp_path / "heights" / "heights.csv", HEIGHT_COLUMNS)
    assert status == 0 and not err and "valley share" in out
    assert [(row["specimen"], row["zone"]) for row in rows] == [("B1", "in-track"), ("B1", "out-of-track")]
    expected = np.mean(drawn_map(0.0) < -1)
    assert rows[0]["below_plateau_fraction"] == pytest.approx(expected, abs=0.01)
    assert (tmp_path / "heights" / "height_maps.svg").read_text(encoding="utf-8").startswith("<svg")


def test_a_map_with_a_stated_track_gives_both_zones_depth_and_volume(tmp_path, capsys):
    # Closed form: 80 columns of 120 points, 1 µm deep, points 2 µm apart: 38,400 µm³; section 160 µm² times 10 mm is 0.0016 mm³.
    write(tmp_path / "B1.x3p", drawn_map(1.0))
    status, *_ = run(capsys, "profile", tmp_path / "B1.x3p", "--pattern", "{specimen}", "--track-columns", "60:139",
                     "--track-length-mm", 10, "--out", tmp_path / "h", "--quiet")  # fmt: skip
    worn, side = read_table(tmp_path / "h" / "heights.csv", HEIGHT_COLUMNS)
    assert status == 0 and (worn["zone"], side["zone"]) == ("in-track", "out-of-track")
    assert worn["track_depth_um"] == pytest.approx(1.0, abs=0.1)
    assert worn["volume_in_map_mm3"] == pytest.approx(38_400e-9, rel=0.1)
    assert worn["worn_volume_mm3"] == pytest.approx(0.0016, rel=0.1)
    assert math.isnan(side["track_depth_um"]) and worn["specimen"] == "B1"
    assert (tmp_path / "h" / "across_the_track.svg").exists()


def test_a_track_that_is_looked_for_says_so(tmp_path, capsys):
    write(tmp_path / "B1.x3p", drawn_map(1.5))
    status, out, _ = run(capsys, "profile", tmp_path / "B1.x3p", "--stroke-deg", 90, "--find-track", "--out", tmp_path / "h")
    assert status == 0 and "track located" in out
    row = read_table(tmp_path / "h" / "heights.csv", HEIGHT_COLUMNS)[0]
    assert row["track_width_um"] == pytest.approx(160, rel=0.12) and "track located" in row["flags"]


def test_the_meaning_of_every_flag_that_came_up_is_printed_once(tmp_path, capsys):
    """Expected: two maps of 1600 lost points in 24 000, 6.7 %, whose names say no zone; nothing else is wrong with them."""
    heights = drawn_map()
    heights[20:60, 20:60] = np.nan
    for name in "ab":
        write(tmp_path / f"{name}.x3p", heights)
    _, out, _ = run(capsys, "profile", tmp_path, "--out", tmp_path / "h")
    for flag in ("missing points", "no zone"):
        assert out.count(f"{flag}: {HEIGHT_FLAGS[flag]}") == 1
    assert sum(meaning in out for meaning in HEIGHT_FLAGS.values()) == 2


def test_one_bad_map_is_one_refused_row(tmp_path, capsys):
    write(tmp_path / "a.x3p", drawn_map())
    (tmp_path / "b.x3p").write_bytes(b"")
    status, out, _ = run(capsys, "profile", tmp_path, "--out", tmp_path / "h")
    assert status == 1 and "the file is empty" in out
    assert [row["status"] for row in read_table(tmp_path / "h" / "heights.csv", HEIGHT_COLUMNS)] == ["measured", "refused"]


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--track-rows", "1-5"], "write the first and the last"),
        (["--track-rows", "1:5", "--track-columns", "1:5"], "not by both"),
        (["--find-track"], "state it by --stroke-deg"),
        (["--form-order", "9"], "state 0"),
        (["--track-rows", "1:5", "--track-length-mm", "-1"], "positive length"),
        (["--track-rows", "1:5", "--stroke-deg", "90"], "--stroke-deg 90 contradicts --track-rows"),
        (["--track-columns", "1:5", "--stroke-deg", "0"], "--stroke-deg 0 contradicts --track-columns"),
        (["--track-rows", "1:5", "--stroke-deg", "0", "--find-track"], "--find-track has nothing to look for"),
        (["--track-length-mm", "5"], "--track-length-mm does nothing without a track"),
        (["--word", "worn=in-track"], "--word worn=in-track does nothing without --pattern"),
        (["--pattern", "{specimen}_{zone}"], "doesn't fit every name"),
    ],
)  # fmt: skip
def test_contradicting_options_are_one_line(tmp_path, capsys, options, says):
    write(tmp_path / "a.x3p", drawn_map())
    status, _, err = run(capsys, "profile", tmp_path / "a.x3p", *options, "--out", tmp_path / "h")
    assert status == 2 and says in err and "Traceback" not in err and not (tmp_path / "h").exists()


def test_a_track_that_no_map_would_be_searched_for_is_refused(tmp_path, capsys):
    # A zone in the name goes before a track: where every name has one, options for the track would do nothing.
    write(tmp_path / "B1_in-track.x3p", drawn_map())
    status, _, err = run(capsys, "profile", tmp_path / "B1_in-track.x3p", "--pattern", "{specimen}_{zone}",
                         "--track-columns", "60:139", "--out", tmp_path / "h")  # fmt: skip
    assert status == 2 and "a track does nothing" in err


def test_a_stroke_that_agrees_with_the_stated_track_is_taken(tmp_path):
    # 0 and 180 degrees are one direction, that of the rows.
    for stroke_deg in (0.0, 180.0):
        check_settings(HeightSettings(track_rows=(1, 5), stroke_deg=stroke_deg))


@pytest.mark.parametrize("options", [[], ["--pattern", "{specimen}_{n}"]])
def test_a_wrong_name_is_one_refused_row_and_the_others_are_measured(tmp_path, capsys, options):
    """Expected: as ``semwear measure`` does, exit status 1; a pattern isn't held against a file that isn't there."""
    write(tmp_path / "B1_1.x3p", drawn_map())
    status, *_ = run(capsys, "profile", tmp_path / "B1_1.x3p", tmp_path / "nope.x3p", *options, "--out", tmp_path / "h")
    good, wrong = read_table(tmp_path / "h" / "heights.csv", HEIGHT_COLUMNS)
    assert status == 1 and (good["status"], wrong["status"]) == ("measured", "refused")
    assert wrong["reason"] == f"{tmp_path / 'nope.x3p'}: there is no such file or folder; check the name"


def test_pictures_of_an_earlier_run_go_with_its_table(tmp_path, capsys):
    """Expected: no picture beside a table whose maps it doesn't show."""
    write(tmp_path / "a.x3p", drawn_map())
    (tmp_path / "bad.x3p").write_bytes(b"")
    out = tmp_path / "h"
    run(capsys, "profile", tmp_path / "a.x3p", "--track-columns", "60:139", "--out", out)
    assert {path.name for path in out.iterdir()} == {"heights.csv", "height_maps.svg", "across_the_track.svg"}
    run(capsys, "profile", tmp_path / "a.x3p", "--out", out)
    assert {path.name for path in out.iterdir()} == {"heights.csv", "height_maps.svg"}
    status, printed, err = run(capsys, "profile", tmp_path / "bad.x3p", "--out", out, "--quiet")
    assert [path.name for path in out.iterdir()] == ["heights.csv"]
    assert (status, printed) == (2, "") and err.startswith(f"refused  {tmp_path / 'bad.x3p'}: the file is empty")


def test_a_stated_track_outside_the_map_is_refused(tmp_path):
    write(tmp_path / "a.x3p", drawn_map())
    found = measure_height_file(tmp_path / "a.x3p", HeightSettings(track_cols=(100, 400)))
    assert not found.is_measured and "columns run from 0 to 199" in found.rows[0]["reason"]


@pytest.mark.parametrize("unit", ["m", "mm"])
def test_a_wrong_unit_or_a_number_for_lost_points_is_refused(tmp_path, unit):
    np.save(tmp_path / "a.npy", drawn_map())
    found = measure_height_file(tmp_path / "a.npy", HeightSettings(pixel_size_um=2.0, height_unit=unit))
    assert not found.is_measured and "check --height-unit" in found.rows[0]["reason"]
    np.save(tmp_path / "b.npy", np.where(np.random.default_rng(0).random((120, 200)) < 0.02, -9999.0, drawn_map()))
    found = measure_height_file(tmp_path / "b.npy", HeightSettings(pixel_size_um=2.0, height_unit="um"))
    assert not found.is_measured and "lost points as NaN" in found.rows[0]["reason"]


def test_missing_points_are_flagged_and_flags_are_on_the_list(tmp_path):
    heights = drawn_map()
    heights[20:60, 20:60] = np.nan
    write(tmp_path / "a.x3p", heights)
    flags = measure_height_file(tmp_path / "a.x3p", HeightSettings()).rows[0]["flags"].split(";")
    assert "missing points" in flags and set(flags) <= set(HEIGHT_FLAGS)


def test_every_map_has_the_same_colour_for_the_same_height(tmp_path):
    shallow, deep = drawn_map(0.0), 3 * drawn_map(0.0, seed=1)
    results = []
    for name, heights in (("a", shallow), ("b", deep)):
        write(tmp_path / f"{name}.x3p", heights)
        results.append(measure_height_file(tmp_path / f"{name}.x3p", HeightSettings()))
    low, high = shared_range_um(results)
    assert low == pytest.approx(np.percentile(deep, 1), rel=0.1) and high > 0
    svg = height_maps_svg(results, (low, high))
    assert len(re.findall("<image", svg)) >= 2 and "µm" in svg
    assert svg.count("100 µm") == 2  # one scale bar a map


def test_reducing_a_map_keeps_its_mean_and_its_gaps():
    heights = np.random.default_rng(0).normal(size=(600, 900))
    heights[:, :300] = np.nan
    small = reduced(heights, 300)
    assert small.shape == (200, 300) and np.isnan(small[:, :99]).all() and np.isfinite(small[:, 101:]).all()
    assert small[:, 101:].mean() == pytest.approx(np.nanmean(heights), abs=0.01)


def test_a_map_with_oblong_points_is_measured_by_its_area(tmp_path):
    x3pio.write(tmp_path / "a.x3p", drawn_map() * 1e-6, x_scale=1e-6, y_scale=3e-6)
    row = measure_height_file(tmp_path / "a.x3p", HeightSettings()).rows[0]
    assert row["area_mm2"] == pytest.approx(120 * 200 * 3e-6, rel=1e-6)
