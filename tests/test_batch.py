"""Whole runs over folders of pictures: one row a picture, whatever the picture; resumable; nothing half-written."""

import os
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import skimage.data
import tifffile
from drawn_fields import drawn_field, write_session
from PIL import Image

from semwear import batch, results
from semwear.batch import measure_files
from semwear.copies import NEAR_BITS, is_copy, mark_copies, picture_ids, picture_print
from semwear.errors import PlanError, ResultsError
from semwear.pipeline import Settings
from semwear.plan import PlannedField
from semwear.read import read_micrograph
from semwear.results import read_fields, read_run
from semwear.terms import FIELD_COLUMNS, FLAGS

GEOMETRY = Settings(geometry_only=True)
SCALED = Settings(geometry_only=True, pixel_size_um=0.8)


def table_of(out: Path) -> str:
    """Return fields.csv of a results folder as text."""
    return (out / "fields.csv").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def finished(tmp_path_factory):
    """A finished run over a small session: folder, Batch."""
    folder = tmp_path_factory.mktemp("finished")
    plan = write_session(folder / "session")
    return folder, measure_files([folder / "session"], folder / "results", plan=plan, settings=GEOMETRY)


def test_every_picture_is_one_measured_row_with_the_plans_words(finished):
    folder, run = finished
    rows = read_fields(folder / "results")
    names = [
        "session/in-track/0.tif",
        "session/in-track/1.tif",
        "session/out-of-track/0.tif",
        "session/out-of-track/1.tif",
    ]
    assert [row["file"] for row in rows] == names
    assert {row["status"] for row in rows} == {"measured"} and run.measured == 4 and run.refused == 0
    assert [row["zone"] for row in rows] == ["in-track"] * 2 + ["out-of-track"] * 2
    assert {row["specimen"] for row in rows} == {"S1"} and {row["kv"] for row in rows} == {10.0}
    assert {row["pixel_size_source"] for row in rows} == {"given"}


def test_fractions_of_every_row_add_up_to_one_and_are_those_of_its_mask(finished):
    folder, run = finished
    for row in run.rows:
        parts = [row[f"{state}_fraction"] for state in ("plateau", "valley", "smeared", "scuffed")]
        assert sum(parts) == pytest.approx(1, abs=1e-9)
        mask = np.array(Image.open(folder / "results" / read_run(folder / "results")["files"][row["file"]]["mask"]))
        assert mask.shape == (360, 480) and mask.dtype == np.uint8
        counted = [np.mean(mask[mask < 4] == code) for code in range(4)]
        assert parts == pytest.approx(counted, abs=1e-9)


def test_retention_rests_on_the_reference_fields_of_the_specimen(finished):
    _, run = finished
    inside, outside = run.rows[:2], run.rows[2:]
    reference = np.mean([row["valley_fraction"] for row in outside])
    for row in inside:
        assert row["retention_basis"] == "reference"
        assert row["valley_retention"] == pytest.approx(row["valley_fraction"] / reference)
    assert all(row["retention_basis"] == "" for row in outside)


def test_results_folder_holds_what_is_promised_and_no_leftovers(finished):
    folder, _ = finished
    out = folder / "results"
    assert {path.name for path in out.iterdir()} == {
        "fields.csv", "regions.csv", "report.html", "run.json", "masks", "overlays", ".measured"
    }  # fmt: skip
    assert len(list(out.glob("masks/**/*.png"))) == len(list(out.glob("overlays/**/*.jpg"))) == 4
    assert not list(out.rglob("*.part"))
    header = (out / "fields.csv").read_text(encoding="utf-8").splitlines()[0]
    assert header == ",".join(column.name for column in FIELD_COLUMNS)
    run = read_run(out)
    assert run["complete"] and run["pictures"] == 4 and run["settings"]["geometry_only"] and run["packages"]["numpy"]


def test_second_run_measures_only_what_is_new_or_changed(finished, tmp_path):
    shutil.copytree(finished[0], tmp_path / "copy")
    session, out = tmp_path / "copy" / "session", tmp_path / "copy" / "results"
    plan = session / "plan.csv"
    before = table_of(out)
    same = measure_files([session], out, plan=plan, settings=GEOMETRY)
    assert same.run["taken_over"] == 4 and table_of(out) == before

    kept = []
    tifffile.imwrite(session / "in-track" / "0.tif", drawn_field(77))
    tifffile.imwrite(session / "in-track" / "new.tif", drawn_field(78))
    measure_files([session], out, plan=plan, settings=SCALED, on_field=lambda outcome, _: kept.append(outcome.kept))
    assert not any(kept), "another setting must measure everything again"
    kept.clear()
    (out / "masks" / "session" / "in-track" / "1.png").unlink()
    measure_files([session], out, plan=plan, settings=SCALED, on_field=lambda outcome, _: kept.append(outcome.kept))
    assert kept.count(False) == 1, "a mask that is gone must be made again"
    plan.write_text(plan.read_text().replace("in-track/1.tif,S1,in-track,0.8", "in-track/1.tif,S1,in-track,0.9", 1))
    kept.clear()
    changed = measure_files([session], out, plan=plan, settings=SCALED, on_field=lambda o, _: kept.append(o.kept))
    assert kept.count(False) == 1 and changed.rows[1]["pixel_size_um"] == 0.9


def test_a_run_that_is_stopped_leaves_a_folder_that_the_next_one_completes(finished, tmp_path):
    session, out = tmp_path / "session", tmp_path / "results"
    shutil.copytree(finished[0] / "session", session)

    def stop(outcome, total):
        raise KeyboardInterrupt

    stopped = measure_files([session], out, plan=session / "plan.csv", settings=GEOMETRY, on_field=stop)
    assert not stopped.complete and len(read_fields(out)) == 1 and not read_run(out)["complete"]
    assert not list(out.rglob("*.part"))
    ended = measure_files([session], out, plan=session / "plan.csv", settings=GEOMETRY)
    assert ended.complete and ended.run["taken_over"] == 1
    assert table_of(out) == table_of(finished[0] / "results")


def write_bad_pictures(folder: Path) -> list[str]:
    """Write every kind of picture that must be refused; return the names."""
    good = drawn_field(3)
    whole = folder / "whole.tif"
    tifffile.imwrite(whole, good)
    content = whole.read_bytes()
    whole.unlink()
    (folder / "zero.tif").write_bytes(b"")
    (folder / "truncated.tif").write_bytes(content[: len(content) // 2])
    (folder / "text.tif").write_text("not a picture at all\n" * 50)
    Image.fromarray(good[:1, :1]).save(folder / "dot.png")
    Image.fromarray(np.tile(good[:1], (1, 42))[:, :20000]).save(folder / "line.png")
    Image.fromarray(np.zeros((200, 300), np.uint8)).save(folder / "black.png")
    Image.fromarray(np.full((200, 300), 255, np.uint8)).save(folder / "white.png")
    tifffile.imwrite(folder / "nan.tif", np.full((200, 300), np.nan, np.float32))
    Image.fromarray(skimage.data.astronaut()).save(folder / "colour.png")
    return sorted(path.name for path in folder.iterdir())


def test_copies_and_what_an_earlier_run_left_are_told_of(tmp_path):
    """A copy is no second field (the field is the unit of replication, ASTM E562); a mask without a row is nobody's."""
    folder, out = tmp_path / "in", tmp_path / "results"
    folder.mkdir()
    for name, seed in (("a.tif", 1), ("b.tif", 2)):
        tifffile.imwrite(folder / name, drawn_field(seed, shape=(240, 320)))
    shutil.copy(folder / "a.tif", folder / "c.tif")
    copied = measure_files([folder], out, settings=SCALED)
    assert ["same picture twice" in row["flags"].split(";") for row in copied.rows] == [False, False, True]
    assert copied.remarks == ("copies of other pictures, which count in no mean: in/c.tif",)
    (folder / "c.tif").unlink()
    left = measure_files([folder], out, settings=SCALED)
    assert len(left.remarks) == 1 and left.remarks[0].startswith("masks of an earlier run that no row stands for: masks/in/c.png;")
    assert (out / "masks/in/c.png").exists()


def test_a_picture_in_two_formats_is_one_field(tmp_path):
    """Expected: equal pixels, 8 bits written as 16, and what JPEG lost are no further field; another field always is."""
    folder = tmp_path / "in"
    folder.mkdir()
    one, other = drawn_field(1, shape=(240, 320)), drawn_field(2, shape=(240, 320))
    Image.fromarray(one).save(folder / "a.png")
    tifffile.imwrite(folder / "b.tif", one)
    tifffile.imwrite(folder / "c.tif", one.astype(np.uint16) * 256)
    Image.fromarray(one).save(folder / "d.jpg", quality=80)
    Image.fromarray(other).save(folder / "e.png")
    for _ in range(2):
        run = measure_files([folder], tmp_path / "results", settings=SCALED)
        assert [is_copy(row) for row in run.rows] == [False, True, True, True, False]
        assert [is_copy(row) for row in mark_copies(read_fields(tmp_path / "results"))] == [is_copy(row) for row in run.rows]
    assert run.run["taken_over"] == 5


def test_another_exposure_of_a_place_is_no_copy(tmp_path):
    """The noise of an exposure, here 7 levels a pixel and 0.9 over a block of 8 × 8, is its own; JPEG leaves 0.5 at most."""
    one = drawn_field(1, shape=(240, 320))
    again = np.clip(one + np.random.default_rng(2).normal(0, 7, one.shape), 0, 255).astype(np.uint8)
    paths = {name: tmp_path / f"{name}.png" for name in ("one", "again")}
    for picture, path in zip((one, again), paths.values(), strict=True):
        Image.fromarray(picture).save(path)
    prints = {name: picture_print(read_micrograph(path)) for name, path in paths.items()}
    marks = [int(own.fingerprint, 16) for own in prints.values()]
    assert (marks[0] ^ marks[1]).bit_count() <= NEAR_BITS, "the two must be compared block by block"
    assert len(set(picture_ids(prints, paths).values())) == 2


def test_of_a_picture_and_its_copy_the_planned_one_stands(tmp_path):
    """A field that the plan names must not lose its figures to a file that it doesn't name, whichever comes first."""
    folder, plan = tmp_path / "in", tmp_path / "plan.csv"
    folder.mkdir()
    tifffile.imwrite(folder / "a.tif", drawn_field(1, shape=(240, 320)))
    shutil.copy(folder / "a.tif", folder / "a - copy.tif")
    plan.write_text("file,specimen,zone\na.tif,S1,in-track\n")
    run = measure_files([folder], tmp_path / "results", plan=plan, settings=SCALED)
    assert {row["file"]: is_copy(row) for row in run.rows} == {"in/a - copy.tif": True, "in/a.tif": False}


def test_bad_pictures_are_refused_with_a_sentence_and_the_rest_is_measured(tmp_path):
    folder = tmp_path / "pictures"
    folder.mkdir()
    bad = write_bad_pictures(folder)
    tifffile.imwrite(folder / "good.tif", drawn_field(3))
    paths = [folder, folder / "vanished" / "gone.tif"]
    run = measure_files(paths, tmp_path / "results", settings=SCALED)
    rows = {Path(row["file"]).name: row for row in read_fields(tmp_path / "results")}
    assert set(rows) == {*bad, "good.tif", "gone.tif"}
    assert rows["good.tif"]["status"] == "measured" and rows["good.tif"]["reason"] == ""
    for name in (*bad, "gone.tif"):
        reason = rows[name]["reason"]
        assert rows[name]["status"] == "refused", name
        assert name in reason and len(reason) > 30 and "\n" not in reason and "unexpected failure" not in reason, reason
        assert np.isnan(rows[name]["valley_fraction"]) and rows[name]["flags"] == ""
    assert run.measured == 1 and len(list((tmp_path / "results").glob("masks/**/*.png"))) == 1


def test_a_picture_without_a_scale_is_refused_and_never_gets_a_pixel_of_one_micrometre(tmp_path):
    tifffile.imwrite(tmp_path / "a.tif", drawn_field(1))
    row = measure_files([tmp_path / "a.tif"], tmp_path / "results", settings=GEOMETRY).rows[0]
    assert row["status"] == "refused" and "scale" in row["reason"] and np.isnan(row["pixel_size_um"])


def test_names_are_kept_apart_whatever_they_are(tmp_path):
    content = drawn_field(1, shape=(240, 320))
    long = "n" * 240
    names = ["one/a.tif", "two/a.tif", "two/A.png", "δοκίμιο 試料/ü µm.tif", f"{long}.tif", f"{long}.png"]
    for name in names:
        path = tmp_path / "in" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        Image.fromarray(content).save(path)
    odd = os.path.join(os.fsencode(tmp_path / "in"), b"byte\xff.tif")
    shutil.copy(tmp_path / "in" / "one" / "a.tif", odd)
    run = measure_files([tmp_path / "in"], tmp_path / "results", settings=SCALED)
    assert run.measured == len(names) + 1
    files = [row["file"] for row in read_fields(tmp_path / "results")]
    assert {f"in/{name}" for name in names} <= set(files) and len(set(files)) == len(names) + 1
    masks = list((tmp_path / "results").glob("masks/**/*.png"))
    assert len(masks) == len({str(path).casefold() for path in masks}) == len(names) + 1
    assert measure_files([tmp_path / "in"], tmp_path / "results", settings=SCALED).run["taken_over"] == len(names) + 1


@pytest.mark.parametrize("name", ["coins", "brick", "grass", "gravel"])
def test_pictures_of_other_things_are_refused_or_flagged_and_never_get_a_retention(name, tmp_path):
    # scikit-image's own pictures, given a pixel size; with whatever model is shipped, and by geometry alone.
    Image.fromarray(getattr(skimage.data, name)()).save(tmp_path / f"{name}.png")
    for settings in (Settings(pixel_size_um=0.8), SCALED):
        batch = measure_files([tmp_path / f"{name}.png"], tmp_path / "results", settings=settings)
        row = batch.rows[0]
        assert np.isnan(row["valley_retention"]) and row["retention_basis"] == ""
        if row["status"] == "refused":
            assert row["reason"]
        else:
            assert row["flags"] and set(row["flags"].split(";")) <= set(FLAGS)
        if not settings.geometry_only and row["status"] == "measured":
            assert len(batch.run["model"]["precision"]) == 1
            assert batch.run["model"]["precision"][0] in {"float32", "bfloat16"}


def test_two_processes_give_what_one_gives(finished, tmp_path):
    session = finished[0] / "session"
    measure_files([session], tmp_path / "results", plan=session / "plan.csv", settings=GEOMETRY, workers=2)
    assert table_of(tmp_path / "results") == table_of(finished[0] / "results")


@pytest.mark.slow
def test_ctrl_c_ends_the_command_with_status_130_and_the_next_run_completes_it(tmp_path):
    (tmp_path / "in").mkdir()
    for number in range(60):
        tifffile.imwrite(tmp_path / "in" / f"{number}.tif", drawn_field(number, shape=(240, 320)))
    out = tmp_path / "out"
    command = [sys.executable, "-c", "from semwear.cli import main; main()", "measure", str(tmp_path / "in"), "--out", str(out),
               "--pixel-size-um", "0.8", "--geometry-only", "--workers", "2"]  # fmt: skip
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # it is ignored in what a shell runs behind
    )  # fmt: skip
    while process.poll() is None and len(list(out.glob(".measured/**/*.json"))) < 4:
        time.sleep(0.05)
    os.killpg(process.pid, signal.SIGINT)  # what a terminal does: every process of the group gets it
    said, complained = process.communicate(timeout=120)
    assert process.returncode == 130 and "Traceback" not in complained
    assert "the same command goes on from here" in " ".join(said.split())
    done = len(list(out.glob(".measured/**/*.json")))
    assert 4 <= done < 60 and not list(out.rglob("*.part"))
    again = subprocess.run([*command, "--quiet"], capture_output=True, text=True, check=False)
    assert again.returncode == 0 and len(read_fields(out)) == 60
    assert read_run(out)["taken_over"] == done


class Deadly:
    """Settings that kill the process which unpickles them."""

    def __reduce__(self):
        return os._exit, (9,)


@pytest.mark.slow
def test_a_process_that_is_killed_costs_one_row_and_not_the_run(tmp_path):
    tasks = []
    for number in range(2):
        path = tmp_path / f"{number}.tif"
        tifffile.imwrite(path, drawn_field(number, shape=(240, 320)))
        files = results.field_files([path.name])[path.name]
        planned = PlannedField(file=path.name)
        tasks.append(
            batch.Task(path=path, file=path.name, out=tmp_path / "out", files=files, settings=SCALED, planned=planned,
                       model_sha256="")
        )  # fmt: skip
    tasks[0] = replace(tasks[0], settings=Deadly())
    outcomes = {outcome.row["file"]: outcome.row for outcome in batch._outcomes(tasks, 2)}
    assert outcomes["1.tif"]["status"] == "measured"
    assert outcomes["0.tif"]["status"] == "refused" and "killed" in outcomes["0.tif"]["reason"]


def test_a_full_disk_is_one_clear_error_and_leaves_nothing_half_written(tmp_path):
    # /dev/full answers every write with "no space left on device"; the name under which the mask is written leads there.
    tifffile.imwrite(tmp_path / "a.tif", drawn_field(1, shape=(240, 320)))
    mask = tmp_path / "results" / "masks" / "a.png"
    mask.parent.mkdir(parents=True)
    results.part_of(mask).symlink_to("/dev/full")
    with pytest.raises(ResultsError, match="the disk is full; free some space") as caught:
        measure_files([tmp_path / "a.tif"], tmp_path / "results", settings=SCALED)
    assert "\n" not in str(caught.value)
    assert not mask.exists() and not list((tmp_path / "results").rglob("*.part"))
    assert not (tmp_path / "results" / "fields.csv").exists()
    run = measure_files([tmp_path / "a.tif"], tmp_path / "results", settings=SCALED)
    assert run.measured == 1 and run.run["taken_over"] == 0


def test_results_folder_is_refused_where_it_would_do_harm(tmp_path):
    plan = write_session(tmp_path / "session", fields=1)
    shutil.copy(plan, tmp_path / "session" / "fields.csv")
    with pytest.raises(ResultsError, match="holds the pictures"):
        measure_files([tmp_path / "session"], tmp_path / "session")
    with pytest.raises(ResultsError, match="didn't write"):
        measure_files([tmp_path / "session" / "in-track" / "0.tif"], tmp_path / "session")
    with pytest.raises(ResultsError, match="file of that name"):
        measure_files([tmp_path / "session"], plan)
    (tmp_path / "empty").mkdir()
    with pytest.raises(ResultsError, match="no picture found"):
        measure_files([tmp_path / "empty"], tmp_path / "results")
    assert (tmp_path / "session" / "fields.csv").read_bytes() == plan.read_bytes()


@pytest.mark.parametrize("name", ["fields.csv", "regions.csv", "report.html", "run.json"])
def test_files_that_measure_did_not_write_are_never_written_over(name, tmp_path):
    tifffile.imwrite(tmp_path / "a.tif", drawn_field(1, shape=(240, 320)))
    out = tmp_path / "results"
    out.mkdir()
    (out / "notes.txt").write_text("unrelated")
    (out / name).write_text('{"mine": 1}')
    with pytest.raises(ResultsError, match=f"{name} that semwear measure didn't write; choose another"):
        measure_files([tmp_path / "a.tif"], out, settings=SCALED)
    assert (out / name).read_text() == '{"mine": 1}'
    (out / name).unlink()
    assert measure_files([tmp_path / "a.tif"], out, settings=SCALED).measured == 1
    (out / "run.json").unlink()  # as a run leaves it that was killed between its tables and its end
    assert measure_files([tmp_path / "a.tif"], out, settings=SCALED).run["taken_over"] == 1


def test_a_picture_named_inside_the_results_folder_is_told_of(tmp_path):
    tifffile.imwrite(tmp_path / "a.tif", drawn_field(1, shape=(240, 320)))
    with pytest.raises(ResultsError, match="a.tif: it lies inside the results folder"):
        measure_files([tmp_path / "a.tif"], tmp_path, settings=SCALED)


def test_results_inside_the_walked_folder_are_not_measured_in_turn(tmp_path):
    tifffile.imwrite(tmp_path / "a.tif", drawn_field(1, shape=(240, 320)))
    for _ in range(2):
        run = measure_files([tmp_path], tmp_path / "results", settings=SCALED)
        assert [Path(row["file"]).name for row in run.rows] == ["a.tif"]


def test_a_plan_that_fits_a_picture_twice_stops_before_anything_is_measured(tmp_path):
    plan = write_session(tmp_path / "session", fields=1)
    tifffile.imwrite(tmp_path / "0.tif", drawn_field(1, shape=(240, 320)))
    with pytest.raises(PlanError, match="rows"):
        measure_files([tmp_path / "0.tif"], tmp_path / "results", plan=plan)


def test_pictures_and_plan_rows_without_a_partner_are_said(tmp_path):
    plan = write_session(tmp_path / "session", fields=1)
    tifffile.imwrite(tmp_path / "session" / "stranger.tif", drawn_field(1, shape=(240, 320)))
    (tmp_path / "session" / "in-track" / "0.tif").unlink()
    run = measure_files([tmp_path / "session"], tmp_path / "out", plan=plan, settings=SCALED)
    remarks = " ".join(run.remarks)
    assert "in-track/0.tif" in remarks and "stranger.tif" in remarks
    assert read_run(tmp_path / "out")["remarks"] == list(run.remarks) and run.absent in run.remarks


def test_names_that_differ_from_the_plans_in_capitals_are_said_and_run_json_names_all(tmp_path):
    folder, plan = tmp_path / "in", tmp_path / "plan.csv"
    folder.mkdir()
    for number in range(5):
        (folder / f"a{number}.tif").write_bytes(b"")
    plan.write_text("file,specimen,zone\n" + "".join(f"A{number}.TIF,S1,in-track\n" for number in range(5)))
    run = measure_files([folder], tmp_path / "results", plan=plan, settings=SCALED)
    assert "no picture here: A0.TIF, A1.TIF, A2.TIF … (5 in all); there are pictures" in run.absent
    assert "capitals alone: in/a0.tif for A0.TIF" in run.absent
    written = " ".join(read_run(tmp_path / "results")["remarks"])
    assert "in/a4.tif for A4.TIF" in written and "in all" not in written
