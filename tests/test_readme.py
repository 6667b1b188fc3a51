"""README.md: its pictures exist, its commands exist with these options, and what can run here runs as written."""

import csv
import re
import shlex
from pathlib import Path

import numpy as np
import pytest
import tifffile
from drawn_fields import drawn_field
from PIL import Image

from semwear.cli import COMMANDS, load_command, main
from semwear.compare.study import compare_study
from semwear.plan import read_plan
from semwear.profile.height_table import HEIGHT_COLUMNS
from semwear.profile.track import locate_band
from semwear.results import read_fields, read_table
from semwear.simulate.heights import heights_across_track

ROOT = Path(__file__).parent.parent
STUDY_FOLDER = ROOT / "sample_images" / "study"
FIRST_OF_V7 = ("V7_in-track_1.jpg", "V7_out-of-track_1.jpg")
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL)


def semwear_commands() -> list[list[str]]:
    """Return every semwear command of the README, split as a shell does."""
    lines = [part.strip() for block in blocks("sh") for line in block.splitlines() for part in line.split("&&")]
    return [shlex.split(line)[1:] for line in lines if line.startswith("semwear ")]


def run(arguments) -> int:
    with pytest.raises(SystemExit) as left:
        main(arguments)
    return left.value.code or 0


def test_pictures_and_files_that_are_named_exist():
    named = re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README) + ["DEVELOPERS.md", "sample_images/plan.csv"]
    assert named[0] == "sample_images/overlay.jpg"
    for name in named:
        assert (ROOT / name).is_file(), name


def test_every_command_is_shown_with_options_that_it_has():
    shown = semwear_commands()
    assert {arguments[0] for arguments in shown} == set(COMMANDS)
    for name, *arguments in shown:
        known = {option for parameter in load_command(name).params for option in parameter.opts}
        used = {word for word in arguments if word.startswith("--")}
        assert used <= known, f"semwear {name} has no {used - known}"


def test_the_two_commands_at_the_top_are_those_that_the_whole_check_runs():
    first, second = blocks("sh")[:2]
    assert first.startswith("python -m pip install . && semwear measure sample_images")
    whole_check = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    for part in second.strip().split(" && "):
        assert part.removeprefix("python -m pip install ") in whole_check, part


def test_the_sample_session_is_measured_as_the_readme_says(tmp_path, monkeypatch):
    monkeypatch.chdir(ROOT)
    arguments = next(arguments for arguments in semwear_commands() if arguments[0] == "measure")
    arguments = [str(tmp_path / "results") if word == "results" else word for word in arguments]
    assert run([*arguments, "--quiet"]) == 1
    rows = {Path(row["file"]).name: row for row in read_fields(tmp_path / "results")}
    with open(ROOT / "sample_images" / "truth.csv", encoding="utf-8", newline="") as stream:
        truth = {row["file"]: row for row in csv.DictReader(stream)}
    assert set(rows) == set(truth)
    unscaled = {file for file, row in rows.items() if np.isnan(row["pixel_size_um"])}
    assert unscaled == {file for file, row in truth.items() if not float(row["with_scale"])}
    assert all(rows[file]["status"] == "refused" and "scale" in rows[file]["reason"] for file in unscaled)
    for file in set(rows) - unscaled:
        assert rows[file]["pixel_size_um"] == pytest.approx(float(truth[file]["pixel_size_um"]), rel=0.01), file
    hidden = {file: hidden_pixels(tmp_path / "results", file) for file in set(rows) - unscaled}
    truly, found, both = np.sum(list(hidden.values()), axis=0)
    assert truly > 20_000 and both > 0.7 * truly and both > 0.9 * found  # debris, against the true masks


def hidden_pixels(results: Path, file: str) -> tuple[int, int, int]:
    """Return how many pixels of a picture are truly hidden, found to be, and both; rows of the data bar don't count."""
    found = next((results / "masks").rglob(f"{Path(file).stem}*.png"))
    truth = ROOT / "sample_images" / "masks" / f"{Path(file).stem}.png"
    found, truth = (np.asarray(Image.open(path)) == 255 for path in (found, truth))
    picture = ~found.all(axis=1)
    return int(truth[picture].sum()), int(found[picture].sum()), int((truth & found)[picture].sum())


def study_command(name: str, folder: Path) -> list[str]:
    """Return a command of the section on the study, with its results put into a folder."""
    found = next(arguments for arguments in semwear_commands() if arguments[0] == name and "study" in " ".join(arguments))
    return [str(folder / word.removeprefix("study/")) if word.startswith("study/") else word for word in found]


def test_height_maps_of_the_study_are_measured_as_the_readme_says(tmp_path, monkeypatch):
    monkeypatch.chdir(ROOT)
    assert run([*study_command("profile", tmp_path), "--quiet"]) == 0
    rows = {row["zone"]: row for row in read_table(tmp_path / "heights" / "heights.csv", HEIGHT_COLUMNS)}
    with open(STUDY_FOLDER / "truth.csv", encoding="utf-8", newline="") as stream:
        truth = {row["zone"]: float(row["valley_fraction"]) for row in csv.DictReader(stream) if row["file"] in FIRST_OF_V7}
    for zone, row in rows.items():  # the maps show the surfaces of pictures 1: the true masks are the independent figure
        assert row["specimen"] == "V7" and row["status"] == "measured"
        assert row["below_plateau_fraction"] == pytest.approx(truth[zone], abs=0.04), zone
    assert set(rows) == {"in-track", "out-of-track"}


@pytest.mark.slow
def test_a_track_seems_to_lie_in_as_many_unworn_maps_as_the_readme_says():
    """160 of the maps that were counted for the page, those with points 5 µm apart: within three standard errors (binomial)."""
    maps, seemed = map(int, re.search(r"of (\d+) simulated maps without any track, (\d+)\s+seemed", README).groups())
    found = 0
    for seed in range(160):
        unworn = heights_across_track(seed, depth_um=0.0, shape=(200, 400), pixel_size_um=5.0)
        found += locate_band(unworn.heights_um, 5.0, 5.0, 90.0) is not None
    share = seemed / maps
    assert found / 160 == pytest.approx(share, abs=3 * np.sqrt(share * (1 - share) / 160))


@pytest.mark.slow
def test_the_study_is_read_as_the_readme_says(tmp_path, monkeypatch):
    monkeypatch.chdir(ROOT)
    for name in ("measure", "profile", "compare"):
        assert run([*study_command(name, tmp_path), "--quiet"]) == 0, name
    assert (tmp_path / "comparison" / "report.html").is_file()
    with open(STUDY_FOLDER / "truth.csv", encoding="utf-8", newline="") as stream:
        truth = [row for row in csv.DictReader(stream) if row["stage"] == "after"]
    found = compare_study(tmp_path / "results", read_plan(STUDY_FOLDER / "plan.xlsx"))
    held = given = 0
    for own in found.figures:
        run_share, reference = (
            np.mean([float(row["valley_fraction"]) for row in truth if (row["specimen"], row["zone"]) == (own.specimen, zone)])
            for zone in ("in-track", "out-of-track")
        )
        given += bool(np.isfinite(own.retention.low))
        held += own.retention.low <= run_share / reference <= own.retention.high
    assert (held, given) == (8, 8)  # as the page says


def write_own_session(folder: Path) -> None:
    """Write pictures with a scale in their metadata, named as the README names them."""
    folder.mkdir()
    for zone, closed in (("in-track", 0.5), ("out-of-track", 0.0)):
        for number in (1, 2):
            tifffile.imwrite(
                folder / f"A1_{zone}_{number}.tif", drawn_field(number, closed_share=closed), ome=True,
                metadata={"PhysicalSizeX": 0.8, "PhysicalSizeXUnit": "µm", "PhysicalSizeY": 0.8, "PhysicalSizeYUnit": "µm"},
            )  # fmt: skip


def test_own_pictures_go_through_plan_scale_and_measure_as_written(tmp_path, monkeypatch):
    write_own_session(tmp_path / "session")
    monkeypatch.chdir(tmp_path)
    by_name = {arguments[0]: arguments for arguments in semwear_commands()}
    assert run(by_name["plan"]) == 0 and Path("plan.xlsx").is_file()
    assert run([*by_name["scale"], "--quiet"]) == 0 and Path("scale.csv").is_file()
    assert run([*by_name["measure"], "--quiet", "--workers", "1"]) == 0
    rows = read_fields(Path("results"))
    assert {row["zone"] for row in rows} == {"in-track", "out-of-track"}
    assert {row["specimen"] for row in rows} == {"A1"} and {row["stroke_deg"] for row in rows} == {90.0}
    assert np.allclose([row["pixel_size_um"] for row in rows], 0.8)


def test_the_python_example_runs(tmp_path, monkeypatch):
    write_own_session(tmp_path / "session")
    monkeypatch.chdir(tmp_path)
    (code,) = blocks("python")
    code = code.replace("pixel_size_um=0.25", "pixel_size_um=0.8")
    body, last = code.strip().rsplit("\n", 1)
    names: dict = {}
    exec(compile(body, "README.md", "exec"), names)
    valley, flags = eval(last, names)
    assert 0 < valley < 1 and isinstance(flags, str)
