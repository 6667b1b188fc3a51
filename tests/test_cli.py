"""The command line: help with examples, exit statuses, one line an error, quiet when asked."""

import subprocess
import sys

import pytest
import tifffile
from drawn_fields import drawn_field, write_session

from semwear.cli import COMMANDS, main
from semwear.commands.error_stream import say_refused
from semwear.results import read_fields


def run(capsys, *arguments) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main([str(argument) for argument in arguments])
    seen = capsys.readouterr()
    return left.value.code or 0, seen.out, seen.err


@pytest.fixture
def scaled_pictures(tmp_path):
    folder = tmp_path / "pictures"
    folder.mkdir()
    tifffile.imwrite(folder / "a.tif", drawn_field(1, shape=(200, 260)))
    return folder


def test_help_lists_every_command_without_importing_what_measures():
    code = (
        "import sys\nfrom semwear.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit as left:\n    assert not left.code\n"
        "heavy = {'numpy', 'torch', 'cv2', 'matplotlib', 'pandas', 'scipy', 'skimage', 'rapidocr'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "measure" in done.stdout and "plan" in done.stdout


@pytest.mark.parametrize("name", COMMANDS)
def test_help_of_each_command_has_an_example_and_its_exit_statuses(name, capsys):
    status, out, _ = run(capsys, name, "--help")
    words = " ".join(out.split())
    assert status == 0 and "Example" in out and f"semwear {name}" in words
    assert "Exit status: 0 if" in words


def test_status_is_0_when_every_field_was_measured(scaled_pictures, tmp_path, capsys):
    out_folder = tmp_path / "results"
    status, out, err = run(capsys, "measure", scaled_pictures, "--out", out_folder, "--pixel-size-um", 0.8, "--geometry-only",
                           "--workers", 1)  # fmt: skip
    assert status == 0 and "1 of 1 pictures measured" in out and err == ""
    assert read_fields(out_folder)[0]["status"] == "measured"


def test_status_is_1_when_some_were_refused_and_says_which_and_why(scaled_pictures, tmp_path, capsys):
    (scaled_pictures / "b.tif").write_bytes(b"")
    status, out, _ = run(capsys, "measure", scaled_pictures, "--out", tmp_path / "r", "--pixel-size-um", 0.8,
                         "--geometry-only", "--workers", 1)  # fmt: skip
    assert status == 1 and "b.tif: the file is empty" in " ".join(out.split())


def test_status_is_2_when_nothing_could_be_measured(scaled_pictures, tmp_path, capsys):
    status, out, _ = run(capsys, "measure", scaled_pictures, "--out", tmp_path / "r", "--geometry-only", "--workers", 1)
    assert status == 2 and "0 of 1 pictures measured" in out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--pixel-size-um", "-1"], "pixel size -1: a pixel has a positive size"),
        (["--pixel-size-um", "nan"], "a pixel has a positive size"),
        (["--stroke-deg", "400"], "stroke direction 400: state one between 0 and 180"),
        (["--looks", "3"], "looks 3: state 1, 2 or 4"),
        (["--geometry-only", "--looks", "4"], "looks 4 with geometry only: no network runs there"),
        (["--geometry-only", "--model", "folder"], "model folder with geometry only: no network runs there"),
        (["--geometry-only", "--single-precision"], "single precision with geometry only: no network runs there"),
        (["--plan", "no/such/plan.csv"], "no/such/plan.csv"),
        (["--model", "no/such/model"], "no/such/model/card.json: no readable model card, as there is no such file"),
    ],
)
def test_an_error_is_one_line_without_a_traceback_and_status_2(arguments, words, scaled_pictures, tmp_path, capsys):
    status, out, err = run(capsys, "measure", scaled_pictures, "--out", tmp_path / "r", *arguments)
    assert status == 2 and words in err and "Traceback" not in err and "Errno" not in err
    assert err.startswith("semwear: ") and len(err.strip().splitlines()) == 1


def test_progress_is_drawn_at_a_terminal_only(scaled_pictures, tmp_path, capsys, monkeypatch):
    """Expected: a bar that counts one of one; in a file or a log, nothing stands before or between the errors."""
    arguments = (
        "measure",
        scaled_pictures,
        "--out",
        tmp_path / "r",
        "--pixel-size-um",
        0.8,
        "--geometry-only",
        "--workers",
        1,
    )
    assert run(capsys, *arguments)[2] == ""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    assert "1/1" in run(capsys, *arguments)[2]


def test_quiet_still_says_what_was_refused(scaled_pictures, tmp_path, capsys):
    (scaled_pictures / "b.tif").write_bytes(b"")
    status, out, err = run(capsys, "measure", scaled_pictures, "--out", tmp_path / "r", "--pixel-size-um", 0.8,
                           "--geometry-only", "--workers", 1, "--quiet")  # fmt: skip
    assert status == 1 and out == "" and len(err.splitlines()) == 1
    assert err.startswith("refused  pictures/b.tif: the file is empty")
    status, out, err = run(capsys, "scale", scaled_pictures / "b.tif", "--csv", tmp_path / "s.csv", "--quiet")
    assert status == 2 and out == "" and "b.tif: the file is empty" in err and len(err.splitlines()) == 1


def test_quiet_still_says_which_planned_pictures_are_not_there(tmp_path, capsys):
    plan = write_session(tmp_path / "session", fields=1)
    (tmp_path / "session" / "in-track" / "0.tif").unlink()
    status, out, err = run(capsys, "measure", tmp_path / "session", "--out", tmp_path / "r", "--plan", plan,
                           "--geometry-only", "--workers", 1, "--quiet")  # fmt: skip
    assert (status, out) == (0, "")
    assert err == "semwear: fields of the plan that have no picture here: in-track/0.tif\n"


def test_a_file_that_is_no_scale_table_is_not_written_over(scaled_pictures, tmp_path, capsys):
    path = tmp_path / "plan.csv"
    path.write_text("file,specimen,zone\n")
    status, _, err = run(capsys, "scale", scaled_pictures, "--csv", path)
    assert status == 2 and "plan.csv: this file is there and is no scale table" in err and len(err.splitlines()) == 1
    assert path.read_text() == "file,specimen,zone\n"
    path.write_text("")
    for _ in range(2):
        assert run(capsys, "scale", scaled_pictures, "--pixel-size-um", 0.8, "--csv", path, "--quiet")[0] == 0
    assert path.read_text().startswith("file,pixel_size_um,")


def test_a_plan_that_is_not_there_may_have_been_a_file_or_a_folder(tmp_path, capsys):
    status, _, err = run(capsys, "plan", tmp_path / "nofile.csv")
    assert status == 2 and "nofile.csv: there is no such file or folder; give the folder that holds the pictures, or a plan" in err


def test_many_refusals_are_counted_and_the_table_is_named(capsys):
    rows = [{"file": f"{number}.tif", "status": "refused", "reason": "no scale"} for number in range(23)]
    say_refused(rows, "r/fields.csv")
    lines = capsys.readouterr().err.splitlines()
    assert lines[0] == "refused  0.tif: no scale" and len(lines) == 21
    assert lines[-1] == "… and 3 more; see r/fields.csv"


def test_a_quiet_run_that_is_stopped_says_that_it_goes_on(scaled_pictures, tmp_path, capsys, monkeypatch):
    def stop(_task):
        raise KeyboardInterrupt

    monkeypatch.setattr("semwear.batch.measure_task", stop)
    status, out, err = run(
        capsys, "measure", scaled_pictures, "--out", tmp_path / "r", "--geometry-only", "--workers", 1, "-q"
    )
    assert (status, out) == (130, "") and "the same command goes on from here" in err


def test_a_table_that_cannot_be_written_names_the_option_of_its_own_command(scaled_pictures, tmp_path, capsys):
    (tmp_path / "file").write_text("")
    status, _, err = run(capsys, "scale", scaled_pictures, "--csv", tmp_path / "file" / "s.csv")
    assert status == 2 and "--csv" in err and "--out" not in err and "Errno" not in err


@pytest.mark.parametrize(
    ("results", "words"),
    [("nope", "there is no such file or folder"), ("file.csv", "a file stands where its folder should be")],
)
def test_results_that_cannot_be_read_are_refused_in_plain_words(results, words, tmp_path, capsys):
    (tmp_path / "file.csv").write_text("file\n")
    plan = write_session(tmp_path / "session", fields=1)
    status, _, err = run(capsys, "compare", tmp_path / results, "--plan", plan, "--out", tmp_path / "c")
    assert status == 2 and words in err and "Errno" not in err and len(err.splitlines()) == 1


def test_a_checked_plan_says_that_its_pictures_were_not_looked_for(tmp_path, capsys):
    # The plan names pictures below the folder that measure is given, and that folder isn't known to semwear plan.
    plan = write_session(tmp_path / "session", fields=1)
    (tmp_path / "session" / "in-track" / "0.tif").unlink()
    status, out, _ = run(capsys, "plan", plan)
    assert status == 0 and "whether its pictures exist is not checked here; semwear measure says" in out


def test_quiet_prints_nothing(scaled_pictures, tmp_path, capsys):
    status, out, err = run(capsys, "measure", scaled_pictures, "--out", tmp_path / "r", "--pixel-size-um", 0.8,
                           "--geometry-only", "--workers", 1, "--quiet")  # fmt: skip
    assert (status, out, err) == (0, "", "")


def test_options_carry_the_names_of_the_columns_that_they_fill(tmp_path, capsys):
    plan = write_session(tmp_path / "session", fields=1)
    run(capsys, "measure", tmp_path / "session", "--out", tmp_path / "r", "--plan", plan, "--stroke-deg", 90, "--workers", 1,
        "--geometry-only", "--quiet")  # fmt: skip
    rows = read_fields(tmp_path / "r")
    assert {row["stroke_deg"] for row in rows} == {90.0} and {row["stroke_source"] for row in rows} == {"option"}
    assert {row["pixel_size_um"] for row in rows} == {0.8}


def test_unknown_commands_and_options_are_usage_errors(capsys):
    assert run(capsys, "nonsense")[0] == 2
    assert run(capsys, "measure", "a.tif", "--out", "r", "--colour")[0] == 2
    status, out, _ = run(capsys, "--version")
    assert status == 0 and out.startswith("semwear ")
