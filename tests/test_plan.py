"""Plans: read as written, every inconsistency listed at once, nothing guessed.

Expected values are the plans written in the tests themselves; the row numbers are those a spreadsheet shows.
"""

import csv
import datetime
import math

import openpyxl
import pytest

from semwear.errors import PlanError
from semwear.plan import NamePattern, plan_from_names, read_plan, starting_plan, write_starting_plan
from semwear.plan.reading import read_response_title
from semwear.results import part_of

FIELD_TITLES = ["file", "specimen", "zone", "stage", "kv", "detector", "pixel_size_um", "stroke_deg", "tilt_deg"]
GOOD_FIELDS = [
    ["A1/in_1.tif", "A1", "in-track", "after", 5, "SE", 0.5, 90, 0],
    ["A1/out_1.tif", "A1", "out-of-track", "after", 5, "SE", 0.5, 90, 0],
    ["B1/in_1.tif", "B1", "in-track", "", 5, "SE", None, None, None],
    ["B1/pre_1.tif", "B1", "", "before", None, None, None, None, None],
]
SPECIMEN_TITLES = [
    "specimen",
    "finish",
    "oil",
    "friction",
    "iron_ppm",
    "wear_depth [µm] (lower is better)",
    "reference",
]
GOOD_SPECIMENS = [
    ["A1", "plateau", "base", 0.12, 61, 0.4, "yes"],
    ["B1", "single", "rich", 0.15, 88, None, None],
]


def write_workbook(path, fields, specimens=None, *, merge=None):
    book = openpyxl.Workbook()
    book.active.title = "fields"
    for row in fields:
        book["fields"].append(row)
    if specimens is not None:
        sheet = book.create_sheet("specimens")
        for row in specimens:
            sheet.append(row)
    if merge:
        book[merge[0]].merge_cells(merge[1])
    book.save(path)
    return path


def write_csv(path, rows, *, separator=","):
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, delimiter=separator).writerows(
            [["" if cell is None else cell for cell in row] for row in rows]
        )
    return path


def problems_of(path) -> list[str]:
    with pytest.raises(PlanError) as caught:
        read_plan(path)
    return str(caught.value).splitlines()[1:]


def test_workbook_folder_and_pair_of_csv_give_the_same_plan(tmp_path):
    fields, specimens = [FIELD_TITLES, *GOOD_FIELDS], [SPECIMEN_TITLES, *GOOD_SPECIMENS]
    workbook = write_workbook(tmp_path / "plan.xlsx", fields, specimens)
    first, second = write_csv(tmp_path / "fields.csv", fields), write_csv(tmp_path / "specimens.csv", specimens)
    plans = [
        read_plan(workbook),
        read_plan(tmp_path),
        read_plan([second, first]),
        read_plan(f"{first},{second}"),
    ]
    for plan in plans:
        assert [planned.file for planned in plan.fields] == [row[0] for row in GOOD_FIELDS]
        assert plan.factors == ("finish", "oil")
        assert [response.name for response in plan.responses] == ["friction", "iron_ppm", "wear_depth"]
        assert plan.specimen("A1").levels == {"finish": "plateau", "oil": "base"}
        assert plan.specimen("A1").values == {"friction": 0.12, "iron_ppm": 61.0, "wear_depth": 0.4}
        assert math.isnan(plan.specimen("B1").values["wear_depth"])
        assert plan.specimen("A1").is_reference and not plan.specimen("B1").is_reference
        assert plan.field("A1/in_1.tif").kv == 5 and plan.field("A1/in_1.tif").pixel_size_um == 0.5
        assert plan.field("B1/in_1.tif").stage == "after" and plan.field("B1/in_1.tif").is_run
        assert plan.field("B1/pre_1.tif").is_reference and not plan.field("B1/pre_1.tif").is_run


def test_one_csv_holds_fields_only_and_semicolons_are_understood(tmp_path):
    path = write_csv(tmp_path / "only.csv", [FIELD_TITLES, *GOOD_FIELDS], separator=";")
    plan = read_plan(path)
    assert [planned.specimen for planned in plan.specimens] == ["A1", "B1"]
    assert plan.factors == () and plan.responses == ()


@pytest.mark.parametrize("first", ["sep=;", '"sep=;"', "SEP=;;;"])
def test_a_first_line_that_states_the_separator_is_understood(tmp_path, first):
    path = tmp_path / "fields.csv"
    path.write_text(f"{first}\r\nfile;specimen;zone;spot\r\na.tif;A,B;in-track;\r\n", encoding="utf-8", newline="")
    planned = read_plan(path).field("a.tif")
    assert (planned.specimen, planned.sheet_row) == ("A,B", 2)  # a spreadsheet hides that line and counts from the header


def test_a_number_without_a_unit_is_asked_for_without_one(tmp_path):
    specimens = [["specimen", "friction"], ["A1", -0.1], ["B1", 0.1]]
    listed = problems_of(write_workbook(tmp_path / "plan.xlsx", [FIELD_TITLES, *GOOD_FIELDS], specimens))
    assert any("write a number above 0, or leave" in line for line in listed), listed


def test_pictures_are_found_by_the_end_of_their_path_only_when_it_is_unambiguous(tmp_path):
    rows = [FIELD_TITLES[:3], ["a/x.tif", "A", "in-track"], ["b/x.tif", "A", "out-of-track"]]
    plan = read_plan(write_csv(tmp_path / "fields.csv", rows))
    assert plan.field("study/a/x.tif").zone == "in-track"
    assert plan.field(".\\b\\x.tif").zone == "out-of-track"
    assert plan.field("c/x.tif").sheet_row == 0 and plan.field("c/x.tif").specimen == ""
    with pytest.raises(PlanError, match=r"rows 2, 3 of the plan's fields fit"):
        plan.field("x.tif")


def test_one_row_is_never_given_to_two_pictures(tmp_path):
    """One row a picture, as the plan's own notes say; a picture that nobody planned must not enter a specimen's means."""
    plan = read_plan(write_csv(tmp_path / "fields.csv", [FIELD_TITLES[:3], ["x.tif", "A", "in-track"]]))
    with pytest.raises(PlanError, match=r"row 2 of the plan's fields \(x.tif\) fits 2 pictures \(a/x.tif, b/x.tif\)"):
        plan.fields_for(["a/x.tif", "b/x.tif", "c.tif"])
    listed = plan.fields_for(["x.tif", "b/x.tif"])
    assert listed["x.tif"].specimen == "A" and listed["b/x.tif"].sheet_row == 0


def test_a_name_is_one_name_however_its_letters_are_composed(tmp_path):
    # Unicode NFC writes ü as one character, NFD as u and U+0308; file systems differ in which they hand out.
    composed, apart = "Z\u00fcrich_in_1.tif", "Zu\u0308rich_in_1.tif"
    plan = read_plan(write_csv(tmp_path / "fields.csv", [FIELD_TITLES[:3], [composed, "A", "in-track"]]))
    assert plan.field(f"session/{apart}").specimen == plan.field(composed).specimen == "A"
    both = plan.fields_for([apart, composed])
    assert both[composed].sheet_row == 2 and both[apart].sheet_row == 0
    back = read_plan(write_csv(tmp_path / "other.csv", [FIELD_TITLES[:3], [apart, "A", "in-track"]]))
    assert back.field(composed).specimen == "A"


def test_every_problem_is_listed_at_once_with_sheet_row_and_remedy(tmp_path):
    fields = [
        FIELD_TITLES,
        ["a.tif", "A1", "in-track", "after", "5,0", "SE", 0.5, 90, 0],
        ["b.tif", "A1", "between", "after", 5, "SE", "about 0.5", 90, 0],
        ["a.tif", "A1", "out-of-track", "after", 5, "SE", 0.5, 400, 0],
        ["d.tif", "Z9", "in-track", "later", True, "SE", 0.5, 90, 0],
        [None, "A1", "in-track", "after", 5, "SE", 0.5, 90, 0],
    ]
    specimens = [
        ["specimen", "finish", "friction", "iron_ppm", "depth [µm]"],
        ["A1", "plateau", datetime.datetime(2024, 2, 1), -3, 1],
        ["A1", None, 0.1, 50, 2],
    ]
    listed = problems_of(write_workbook(tmp_path / "plan.xlsx", fields, specimens))
    expected = [
        ("sheet fields, row 2, column kv", "decimal comma", "write 5.0"),
        ("sheet fields, row 3, column zone", "'between' isn't a zone", "in-track or out-of-track"),
        ("sheet fields, row 3, column pixel_size_um", "text where a number is wanted", "number alone"),
        ("sheet fields, row 4, column file", "stands in row 2 too", "delete one"),
        ("sheet fields, row 4, column stroke_deg", "400 is out of range", "between 0 and 180 degrees"),
        ("sheet fields, row 5, column specimen", "'Z9' isn't in the sheet specimens", "add it there"),
        ("sheet fields, row 5, column stage", "'later' isn't a stage", "before or after"),
        ("sheet fields, row 5, column kv", "holds True", "write a number"),
        ("sheet fields, row 6, column file", "the cell is empty", "write the picture's path"),
        ("sheet specimens, row 2, column friction", "holds the date 2024-02-01", "turned the number into a date"),
        ("sheet specimens, row 2, column iron_ppm", "-3 is out of range", "above 0 ppm"),
        ("sheet specimens, row 3, column specimen", "A1 stands in row 2 too", "one row"),
        ("sheet specimens, row 3, column finish", "the level is empty", "write the level"),
        ("sheet specimens, row 1, column depth [µm]", "isn't understood", "(lower is better)"),
    ]
    for where, found, remedy in expected:
        fitting = [line for line in listed if where in line and found in line and remedy in line]
        assert len(fitting) == 1, (where, found, remedy, listed)
    assert len([line for line in listed if not line.startswith("caution")]) == len(expected)


def test_merged_cells_and_formulas_without_result_are_problems(tmp_path):
    fields = [
        FIELD_TITLES[:3],
        ["a.tif", "A1", "in-track"],
        ["b.tif", "A1", "out-of-track"],
        ["c.tif", "=1+1", "in-track"],
    ]
    listed = problems_of(write_workbook(tmp_path / "plan.xlsx", fields, merge=("fields", "B2:B3")))
    assert any("row 2" in line and "B2:B3 are merged" in line and "unmerge" in line for line in listed)
    assert any("row 4, column specimen" in line and "formula has no stored result" in line for line in listed)


@pytest.mark.parametrize("missing", ["file", "specimen", "zone"])
def test_a_missing_column_is_named(tmp_path, missing):
    keep = [place for place, title in enumerate(FIELD_TITLES) if title != missing]
    rows = [[row[place] for place in keep] for row in [FIELD_TITLES, *GOOD_FIELDS]]
    listed = problems_of(write_csv(tmp_path / "fields.csv", rows))
    assert any(f"the column {missing!r} is missing" in line and "row 1" in line for line in listed)


def test_cautions_leave_the_plan_usable(tmp_path):
    fields = [
        ["file", "specimen", "zone", "comment"],
        ["a.tif", "A1", "in-track", "nice"],
        ["b.tif", "B1", "out-of-track", ""],
    ]
    specimens = [
        ["specimen", "finish", "oil"],
        ["A1", "plateau", None],
        ["B1", "plateau", None],
        ["C1", "plateau", None],
    ]
    plan = read_plan(write_workbook(tmp_path / "plan.xlsx", fields, specimens))
    listed = [str(caution) for caution in plan.cautions]
    for words in [
        "A1 has no reference",
        "B1 has no field in-track",
        "C1 has no picture",
        "the factor has one level (plateau)",
        "column oil: the column is empty",
        "column comment: unknown column",
        "there is no response column",
    ]:
        assert any(words in line for line in listed), (words, listed)
    assert plan.factors == ()


def test_levels_that_differ_only_in_spelling_are_a_problem(tmp_path):
    specimens = [["specimen", "oil"], ["A1", "Rich oil"], ["B1", "rich_oil"], ["C1", "lean"]]
    listed = problems_of(write_workbook(tmp_path / "plan.xlsx", [FIELD_TITLES, *GOOD_FIELDS], specimens))
    assert any("differ only in spelling" in line for line in listed)


def test_unitless_measurements_are_not_taken_for_a_factor(tmp_path):
    names = ["A", "B", "C", "D"]
    fields = [["file", "specimen", "zone"], *[[f"{name}.tif", name, "in-track"] for name in names]]
    specimens = [["specimen", "depth"], *[[name, 0.1 + place / 7] for place, name in enumerate(names)]]
    listed = problems_of(write_workbook(tmp_path / "plan.xlsx", fields, specimens))
    assert any("column depth" in line and "depth [unit] (lower is better)" in line for line in listed)


def test_a_decimal_comma_that_splits_a_csv_row_is_explained(tmp_path):
    path = tmp_path / "fields.csv"
    path.write_text("file,specimen,zone,kv\na.tif,A1,in-track,5,0\n", encoding="utf-8")
    listed = problems_of(path)
    assert any("row 2" in line and "5 cells for 4 columns" in line and "decimal comma" in line for line in listed)


@pytest.mark.parametrize("kind", ["absent", "text.xlsx", "notes.txt", "empty.csv", "latin.csv", "folder"])
def test_files_that_are_no_plan_get_one_sentence(tmp_path, kind):
    path = tmp_path / kind
    if kind == "text.xlsx":
        path.write_text("not a workbook")
    elif kind == "notes.txt":
        path.write_text("file,specimen,zone")
    elif kind == "empty.csv":
        path.write_text("")
    elif kind == "latin.csv":
        path.write_bytes("file,specimen,zone\nü.tif,A,in-track\n".encode("latin-1"))
    elif kind == "folder":
        path.mkdir()
    with pytest.raises(PlanError) as caught:
        read_plan(path)
    assert "\n" not in str(caught.value) and str(path) in str(caught.value)


def test_a_workbook_without_sheet_fields_names_its_sheets(tmp_path):
    book = openpyxl.Workbook()
    book.active.title = "Tabelle1"
    book.save(tmp_path / "plan.xlsx")
    with pytest.raises(PlanError, match="no sheet 'fields'.*Tabelle1"):
        read_plan(tmp_path / "plan.xlsx")


def test_two_pictures_of_one_spot_at_one_stage_are_a_problem(tmp_path):
    rows = [
        ["file", "specimen", "zone", "stage", "spot"],
        ["a.tif", "A1", "in-track", "after", "p1"],
        ["b.tif", "A1", "in-track", "after", "p1"],
        ["c.tif", "A1", "in-track", "before", "p1"],
    ]
    listed = problems_of(write_csv(tmp_path / "fields.csv", rows))
    assert any("spot p1 of A1 has two pictures after" in line and "row 3" in line for line in listed)


def test_response_titles_state_unit_and_sense():
    assert read_response_title("friction").unit == "1"
    assert read_response_title("Iron_ppm [mg/kg]").unit == "mg/kg"
    assert read_response_title("hardness [HV] (higher is better)").better == "higher"
    assert read_response_title("ring_coating") is None
    assert "which way is better" in read_response_title("depth [µm]")
    assert "reads like" in read_response_title("[µm] depth")


def test_patterns_read_names_and_folders():
    assert NamePattern("{specimen}_{zone}_{n}").read("x/L7_out_03.tif").words == {
        "specimen": "L7",
        "zone": "out-of-track",
    }
    folders = NamePattern("{oil}/{specimen}/{zone} {stage} {n}")
    assert folders.read("s/rich/L7/in-track before 2.png").words == {
        "oil": "rich",
        "specimen": "L7",
        "zone": "in-track",
        "stage": "before",
    }
    assert "2 folders above" in folders.read("in-track before 2.png").reason
    assert "doesn't fit" in NamePattern("{specimen}_{zone}_{n}").read("overview.tif").reason
    assert "two ways" in NamePattern("{specimen}_{oil}_{zone}").read("A_B_C_in.tif").reason
    before = NamePattern("{specimen}_{zone}_{n}").read("L7_before_1.tif").words
    assert before == {"specimen": "L7", "stage": "before"}
    own = NamePattern("{specimen}-{zone}", zone_words={"worn": "in-track"})
    assert own.read("A1-worn.tif").words["zone"] == "in-track"


@pytest.mark.parametrize("pattern", ["{zone}_{n}", "{specimen}_{specimen}", "{specimen}_{zone", "{specimen}_{}"])
def test_bad_patterns_are_refused(pattern):
    with pytest.raises(PlanError, match="pattern"):
        NamePattern(pattern)


def test_plan_from_names_lists_what_it_did_not_understand():
    pattern = NamePattern("{specimen}_{oil}_{zone}_{n}")
    plan = plan_from_names(["A1_rich_in_1.tif", "A1_rich_out_1.tif", "B1_lean_in_1.tif", "B1_lean_out_1.tif"], pattern)
    assert plan.specimen("B1").levels == {"oil": "lean"} and plan.factors == ("oil",)
    with pytest.raises(PlanError) as caught:
        plan_from_names(["A1_rich_in_1.tif", "A1_lean_out_1.tif", "overview.tif"], pattern)
    assert "overview" in str(caught.value) and "rich" in str(caught.value) and "lean" in str(caught.value)


@pytest.mark.parametrize("out", ["start.xlsx", "start"])
def test_a_starting_plan_is_written_once_and_reads_back(tmp_path, out):
    pictures = tmp_path / "pictures"
    for name in ["A1_in_1.tif", "A1_out_1.tif", "B1_in_1.tif", "B1_out_1.tif", "notes.txt"]:
        pictures.mkdir(exist_ok=True)
        (pictures / name).write_bytes(b"x")
    start = starting_plan(pictures, NamePattern("{specimen}_{zone}_{n}"))
    path = write_starting_plan(start, tmp_path / out)
    plan = read_plan(path)
    assert {planned.file: planned.zone for planned in plan.fields} == {
        "A1_in_1.tif": "in-track",
        "A1_out_1.tif": "out-of-track",
        "B1_in_1.tif": "in-track",
        "B1_out_1.tif": "out-of-track",
    }
    assert [planned.specimen for planned in plan.specimens] == ["A1", "B1"]
    with pytest.raises(PlanError, match="exists already"):
        write_starting_plan(start, tmp_path / out)


@pytest.mark.parametrize("out", ["start.xlsx", "start"])
def test_a_starting_plan_for_which_there_is_no_room_is_not_half_written(tmp_path, out):
    # /dev/full answers every write with "no space left on device"; the name under which the plan is written leads there.
    (tmp_path / "A1.tif").write_bytes(b"x")
    start = starting_plan(tmp_path)
    path = tmp_path / out if out.endswith(".xlsx") else tmp_path / out / "fields.csv"
    path.parent.mkdir(exist_ok=True)
    part_of(path).symlink_to("/dev/full")
    with pytest.raises(PlanError, match="the disk is full"):
        write_starting_plan(start, tmp_path / out)
    assert not path.exists() and [each.name for each in tmp_path.rglob("*") if each.is_file()] == ["A1.tif"]


def test_a_starting_plan_lists_what_measure_would_find(tmp_path):
    for name in ("b/one.tif", "a.png", "b/masks/one.png", "b/overlays/one.jpg", "results/x.png", ".hidden/y.png"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(b"x")
    for name in ("fields.csv", "run.json"):
        (tmp_path / "results" / name).write_text("")
    assert [reading.file for reading in starting_plan(tmp_path).readings] == ["a.png", "b/one.tif"]


def test_a_starting_plan_without_pattern_asks_for_the_rest(tmp_path):
    (tmp_path / "one.tif").write_bytes(b"x")
    path = write_starting_plan(starting_plan(tmp_path), tmp_path / "plan.xlsx")
    listed = problems_of(path)
    assert any("row 2, column specimen: the cell is empty" in line for line in listed)
    assert any("row 2, column zone: the cell is empty" in line for line in listed)


def test_thousands_of_specimens_are_read_in_seconds(tmp_path):
    fields, specimens = [["file", "specimen", "zone"]], [["specimen", "oil"]]
    for number in range(3000):
        specimens.append([f"S{number}", "rich" if number % 2 else "lean"])
        fields += [[f"S{number}_{zone}.tif", f"S{number}", zone] for zone in ("in-track", "out-of-track")]
    write_csv(tmp_path / "fields.csv", fields)
    write_csv(tmp_path / "specimens.csv", specimens)
    plan = read_plan(tmp_path)
    assert len(plan.fields) == 6000 and len(plan.specimens) == 3000
    assert plan.field("somewhere/S2999_in-track.tif").sheet_row == 6000
