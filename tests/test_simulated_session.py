"""A simulated session: files, masks, plan and truth belong together, and the same seed writes the same.

Fractions are counted again here from the mask files; regions are counted by hand on a drawn mask.
"""

import csv
import hashlib
import re
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from semwear.cli import main
from semwear.errors import ResultsError, SemwearError
from semwear.plan import read_plan
from semwear.simulate.finishes import FINISHES
from semwear.simulate.session import (
    PLAN_COLUMNS,
    SAMPLE_SEED,
    TRUTH_COLUMNS,
    region_truth,
    simulate_sample_session,
    simulate_session,
)
from semwear.simulate.specimens import known_finish, narrowed_finish, plan_sample_session, plan_session

SHAPE = (260, 340)


@pytest.fixture(scope="module")
def session(tmp_path_factory):
    return simulate_session(tmp_path_factory.mktemp("session") / "out", 14, 3, shape=SHAPE)


def table(path: Path) -> list[dict]:
    with path.open(encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def pixels(path: Path) -> np.ndarray:
    return tifffile.imread(path) if path.suffix == ".tif" else np.array(Image.open(path))


def test_every_picture_has_its_mask_and_its_rows(session):
    truth, plan = table(session.folder / "truth.csv"), table(session.folder / "plan.csv")
    pictures = sorted(path.name for path in (session.folder / "pictures").iterdir() if path.suffix != ".txt")
    assert sorted(row["file"] for row in truth) == sorted(row["file"] for row in plan) == pictures
    assert tuple(truth[0]) == TRUTH_COLUMNS and tuple(plan[0]) == PLAN_COLUMNS
    for row in truth:
        picture = pixels(session.folder / "pictures" / row["file"])
        mask = pixels((session.folder / "masks" / row["file"]).with_suffix(".png"))
        assert mask.dtype == np.uint8 and mask.shape == picture.shape[:2]
        assert set(np.unique(mask)) <= {0, 1, 2, 3, 255}


def test_truth_counts_what_the_masks_hold(session):
    for row in table(session.folder / "truth.csv"):
        mask = pixels((session.folder / "masks" / row["file"]).with_suffix(".png"))
        rows = slice(int(row["first_row_px"]), int(row["last_row_px"]))
        proper = mask[rows, int(row["first_col_px"]) : int(row["last_col_px"])]
        counts = {code: int((proper == code).sum()) for code in (0, 1, 2, 3)}
        assessed = sum(counts.values())
        names = ("plateau_fraction", "valley_fraction", "smeared_fraction", "scuffed_fraction")
        assert [float(row[name]) for name in names] == pytest.approx([counts[code] / assessed for code in range(4)], abs=1e-6)
        assert float(row["not_assessed_fraction"]) == pytest.approx(1 - assessed / proper.size, abs=1e-6)
        outside = np.ones(mask.shape, bool)
        outside[rows, int(row["first_col_px"]) : int(row["last_col_px"])] = False
        assert (mask[outside] == 255).all()


def test_scale_bars_give_the_pixel_size_and_stand_on_not_assessed_pixels(session):
    micrometres = {"nm": 1e-3, "um": 1.0, "\u00b5m": 1.0, "\u03bcm": 1.0, "mm": 1e3}
    with_bar = [row for row in table(session.folder / "truth.csv") if row["with_scale"] == "1"]
    assert len(with_bar) > 9
    for row in with_bar:
        number, unit = re.fullmatch(r"([\d.]+) ?(\D+)", row["bar_label"]).groups()
        length = float(row["bar_end_px"]) - float(row["bar_start_px"])
        assert length == pytest.approx(float(row["bar_px"]), abs=1e-3)
        assert abs(float(number) * micrometres[unit] / float(row["pixel_size_um"]) - length) <= 0.51
        mask = pixels((session.folder / "masks" / row["file"]).with_suffix(".png"))
        assert mask[int(float(row["bar_row_px"])), int(float(row["bar_start_px"]))] == 255


def test_without_a_scale_neither_label_nor_file_tells_a_length(tmp_path):
    session = simulate_sample_session_fields(tmp_path)
    row = next(row for row in session.truth if not row["with_scale"])
    assert row["bar_label"] == "" and row["metadata"] == "none"
    assert not re.search(r"\d ?(nm|um|\u00b5m|\u03bcm)\b", row["texts"])


def simulate_sample_session_fields(tmp_path):
    """The first session seed whose first fields include one without a scale, made small."""
    for seed in range(200):
        planned = plan_session(4, seed)
        if any(not one.with_scale for one in planned):
            return simulate_session(tmp_path / "out", 4, seed, shape=SHAPE)
    raise AssertionError("no field without a scale in 800")


def test_fields_of_a_specimen_share_finish_scale_and_beam(session):
    rows = table(session.folder / "truth.csv")
    for specimen in {row["specimen"] for row in rows}:
        own = [row for row in rows if row["specimen"] == specimen]
        for name in ("family", "renderer", "pixel_size_um", "kv", "detector", "tilt_deg", "stroke_deg", "layout"):
            assert len({row[name] for row in own}) == 1
        assert {row["zone"] for row in own} == {"in-track", "out-of-track"}
    assert {row["worn"] for row in rows if row["zone"] == "in-track"} == {"1"}
    assert {row["worn"] for row in rows if row["zone"] == "out-of-track"} == {"0"}


def test_the_plan_is_one_that_the_package_reads(session):
    plan = read_plan(session.folder / "plan.csv")
    assert len(plan.fields) == 14
    assert plan.field(session.truth[0]["file"]).zone == "in-track"


def test_the_same_seed_writes_the_same_files_in_any_number_of_processes(session, tmp_path):
    again = simulate_session(tmp_path / "again", 4, 3, shape=SHAPE, workers=2)
    other = simulate_session(tmp_path / "other", 1, 4, shape=SHAPE)
    for row in again.truth:
        for folder, name in (("pictures", row["file"]), ("masks", Path(row["file"]).stem + ".png")):
            first, second = (hashlib.sha256((one.folder / folder / name).read_bytes()).hexdigest() for one in (session, again))
            assert first == second
    assert again.truth[0]["texts"] != other.truth[0]["texts"]


def test_every_byte_of_a_session_follows_from_its_seed_with_ome_metadata_too(tmp_path):
    """OME-XML carries a UUID, which its writer makes anew in each run where none is given."""
    seed = next(seed for seed in range(200) if plan_session(1, seed)[0].specimen.metadata == "ome")
    first, again = (simulate_session(tmp_path / name, 1, seed, shape=SHAPE).folder for name in ("first", "again"))
    files = sorted(path.relative_to(first) for path in first.rglob("*") if path.is_file())
    picture, = first.glob("pictures/*.tif")
    assert len(files) == 6 and b"urn:uuid:" in picture.read_bytes()
    for file in files:
        assert (first / file).read_bytes() == (again / file).read_bytes(), file


def test_regions_are_whole_squares_of_64_um_inside_the_picture():
    codes = np.zeros((200, 330), np.uint8)
    codes[:40] = 255
    worn = np.zeros(codes.shape, bool)
    worn[:, :150] = True
    squares = region_truth("a.png", codes, worn, (slice(40, 200), slice(0, 330)), 1.0)
    # Rows 40-104 and 104-168; columns 0-64 … 256-320; the third column (128-192) is worn on 22 of its 64 columns.
    assert [(one["row_px"], one["col_px"], one["worn"]) for one in squares] == [
        (row, col, worn) for row in (72, 136) for col, worn in ((32, 1), (96, 1), (160, 0), (224, 0), (288, 0))]
    codes[40:104, 0:64] = 255
    assert len(region_truth("a.png", codes, worn, (slice(40, 200), slice(0, 330)), 1.0)) == 9


def test_a_specimen_sits_inside_its_family():
    rng = np.random.default_rng(0)
    for family, finish in FINISHES.items():
        own = narrowed_finish(family, "one", rng)
        for name in ("coverage", "width_um", "depth_over_width", "balance", "plateau_rms_um"):
            (low, high), (inner_low, inner_high) = getattr(finish, name), getattr(own, name)
            assert low <= inner_low <= inner_high <= high
    with known_finish(own):
        assert "one" in FINISHES
        with pytest.raises(ValueError, match="exists already"), known_finish(own):
            pass
    assert "one" not in FINISHES


def test_the_sample_session_has_what_it_promises():
    planned = plan_sample_session(SAMPLE_SEED)
    assert len({one.file for one in planned}) == 12
    assert {one.specimen.family for one in planned} == {"plateaued", "single-stage"}
    assert [one.zone for one in planned].count("in-track") == 6
    assert len({one.specimen.layout for one in planned}) >= 8
    assert sum(not one.with_scale for one in planned) == 1
    assert sum(one.out_of_focus_px > 0 for one in planned) == 1


@pytest.mark.slow
def test_the_sample_session_is_small_and_keeps_its_limits(tmp_path):
    session = simulate_sample_session(tmp_path / "sample")
    assert sum(path.stat().st_size for path in session.folder.rglob("*") if path.is_file()) < 8e6
    outside = [row["valley_fraction"] for row in session.truth if row["zone"] == "out-of-track"]
    inside = [row["valley_fraction"] for row in session.truth if row["zone"] == "in-track"]
    assert np.mean(inside) < 0.7 * np.mean(outside)


def test_a_folder_with_something_in_it_is_left_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("precious")
    with pytest.raises(ResultsError, match="isn't an empty folder"):
        simulate_session(tmp_path, 1, 0, shape=SHAPE)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_a_folder_that_cannot_be_made_is_one_sentence(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(ResultsError, match="can't be written"):
        simulate_session(tmp_path / "file" / "below", 1, 0, shape=SHAPE)


@pytest.mark.parametrize("change", [{"fields": 0}, {"families": ("velvet",)}, {"renderers": ("oil paint",)}])
def test_impossible_wishes_are_refused_with_a_sentence(tmp_path, change):
    with pytest.raises(SemwearError, match="unknown|at least one"):
        simulate_session(tmp_path / "out", **{"fields": 1, "seed": 0, "shape": SHAPE, **change})
    assert not (tmp_path / "out").exists()


def test_the_command_writes_a_session_and_says_what_it_wrote(tmp_path, capsys):
    status = run_command(["simulate", str(tmp_path / "out"), "--fields", "1", "--seed", "5", "--workers", "1"])
    said = capsys.readouterr().out
    assert status == 0 and "simulated fields: 1" in said and "semwear measure" in said
    assert len(table(tmp_path / "out" / "truth.csv")) == 1
    assert run_command(["simulate", str(tmp_path / "out"), "--fields", "1", "--quiet"]) == 2


def test_a_simulation_that_is_stopped_says_that_its_folder_is_incomplete(tmp_path, monkeypatch, capsys):
    def stop(_job):
        raise KeyboardInterrupt

    monkeypatch.setattr("semwear.simulate.session._make_field", stop)
    status = run_command(["simulate", str(tmp_path / "out"), "--fields", "2", "--workers", "1"])
    said = capsys.readouterr().err.splitlines()
    assert status == 130 and len(said) == 1
    assert said[0].startswith(f"semwear: {tmp_path / 'out'}: the run was stopped") and "delete it and run the same" in said[0]


@pytest.mark.parametrize("option", [("--fields", "3"), ("--family", "plateaued"), ("--renderer", "transport")])
def test_the_sample_session_takes_no_options_that_it_would_drop(tmp_path, capsys, option):
    assert run_command(["simulate", str(tmp_path / "out"), "--sample", *option]) == 2
    assert f"leave it or {option[0]} out" in capsys.readouterr().err and not (tmp_path / "out").exists()


def run_command(arguments: list[str]) -> int:
    try:
        return main(arguments) or 0
    except SystemExit as stop:
        return int(stop.code or 0)


SAMPLES = Path(__file__).parents[1] / "sample_images"


def test_the_shipped_sample_says_that_it_is_simulated_and_agrees_with_its_masks():
    assert "Every picture here is simulated" in (SAMPLES / "README.md").read_text(encoding="utf-8")
    assert sum(path.stat().st_size for path in SAMPLES.rglob("*") if path.is_file()) < 15e6
    truth = table(SAMPLES / "truth.csv")
    assert [row["file"] for row in truth] == [one.file for one in plan_sample_session(SAMPLE_SEED)]
    assert len(read_plan(SAMPLES / "plan.csv").fields) == 12
    for row in truth:
        mask = pixels((SAMPLES / "masks" / row["file"]).with_suffix(".png"))
        assert mask.shape == pixels(SAMPLES / "pictures" / row["file"]).shape[:2]
        proper = mask[int(row["first_row_px"]) : int(row["last_row_px"]), int(row["first_col_px"]) : int(row["last_col_px"])]
        assert float(row["valley_fraction"]) == pytest.approx((proper == 1).sum() / (proper != 255).sum(), abs=1e-6)
