"""The command line: help with examples, exit statuses, one line an error, quiet when asked."""

import subprocess
import sys

import pytest
import tifffile
from drawn_fields import drawn_field, write_session

from semwear.cli import COMMANDS, main
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
def test_help_of_each_command_has_an_example(name, capsys):
    status, out, _ = run(capsys, name, "--help")
    assert status == 0 and "Example" in out and f"semwear {name}" in " ".join(out.split())


def test_status_is_0_when_every_field_was_measured(scaled_pictures, tmp_path, capsys):
    out_folder = tmp_path / "results"
    status, out, err = run(capsys, "measure", scaled_pictures, "--out", out_folder, "--pixel-size-um", 0.8, "--geometry-only",
                           "--workers", 1)  # fmt: skip
    assert status == 0 and "1 of 1 pictures measured" in out and "1/1" in err
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
        (["--plan", "no/such/plan.csv"], "no/such/plan.csv"),
        (["--model", "no/such/model"], "no/such/model"),
    ],
)
def test_an_error_is_one_line_without_a_traceback_and_status_2(arguments, words, scaled_pictures, tmp_path, capsys):
    status, out, err = run(capsys, "measure", scaled_pictures, "--out", tmp_path / "r", "--quiet", *arguments)
    assert status == 2 and words in err and "Traceback" not in err
    assert err.startswith("semwear: ") and len(err.strip().splitlines()) == 1


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
