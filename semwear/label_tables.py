"""The tables beside labelled pictures: plan, truth and regions, read cell by cell as the plan of a study is.

A row means the picture whose path it states, or the one where one path is the end of the other (``pictures/a.png`` and
``a.png``). Whatever is wrong is added to a list of sentences that name table, row and column; nothing is passed over.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from math import inf, isnan, nan
from pathlib import Path

from semwear.errors import PlanError
from semwear.plan.cells import Row
from semwear.plan.problems import Problem
from semwear.plan.sheets import FIELDS, read_sheets
from semwear.plan.tables import STAGES, ZONES, Plan, PlannedField, normal_path

PLAN_NAMES = ("plan.csv", "plan.xlsx")
"""Names that the plan may have; the first that is there is read."""
WORN_WORDS = {
    "1": True, "1.0": True, "yes": True, "true": True, "0": False, "0.0": False, "no": False, "false": False,
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Stated:
    """What plan and truth say of one picture; words that they don't state are empty, numbers nan, ``worn`` None."""

    specimen: str = ""
    zone: str = ""
    stage: str = ""
    pixel_size_um: float = nan
    stroke_deg: float = nan
    worn: bool | None = None
    sheet_row: int = 0


@dataclass(frozen=True, kw_only=True)
class Region:
    """One place that is worn or not: its centre in the picture's own pixels, and its row in the table."""

    row_px: float
    col_px: float
    worn: bool
    sheet_row: int


def picture_list(names: Iterable[str]) -> Plan:
    """Return the pictures of a folder as a plan that lists them, so that they are found by path as a plan's are."""
    fields = tuple(PlannedField(file=name, sheet_row=number) for number, name in enumerate(names, start=1))
    return Plan(path="", fields=fields, specimens=())


def picture_named(file: str, pictures: Plan) -> str:
    """Return the picture that a path means, empty where it means none; raises PlanError where it fits several.

    >>> picture_named("pictures/a.png", picture_list(["a.png", "b.png"]))
    'a.png'
    """
    try:
        found = pictures.field(file)
    except PlanError:
        raise PlanError(f"{file} fits several pictures; write more of its folder path") from None
    return found.file if found.sheet_row else ""


def read_stated(folder: Path, pictures: Plan, told: list[str]) -> dict[str, Stated]:
    """Return what plan and truth say of the pictures that they list.

    Where both state a specimen, zone or stage they must agree; the truth's pixel size and ``worn`` go before the plan's.
    """
    plan_path = next((folder / name for name in PLAN_NAMES if (folder / name).is_file()), folder / PLAN_NAMES[0])
    truth_path = folder / "truth.csv"
    stated = _read(plan_path, ("file",), _stated, pictures, told)
    for name, true in _read(truth_path, ("file",), _stated, pictures, told).items():
        planned = stated.get(name, Stated())
        words = {column: getattr(true, column) for column in ("specimen", "zone", "stage") if getattr(true, column)}
        for column, word in words.items():
            other = getattr(planned, column)
            if other and other != word:
                told.append(
                    f"{truth_path}, row {true.sheet_row}, column {column}: {word!r} for {name}, and row {planned.sheet_row} "
                    f"of {plan_path.name} says {other!r}; correct one of them"
                )
        size_um = planned.pixel_size_um if isnan(true.pixel_size_um) else true.pixel_size_um
        worn = planned.worn if true.worn is None else true.worn
        stated[name] = replace(planned, **words, pixel_size_um=size_um, worn=worn)
    return stated


def read_regions(folder: Path, pictures: Plan, told: list[str]) -> dict[str, list[Region]]:
    """Return the places that regions.csv states, by picture."""
    return _read(folder / "regions.csv", ("file", "row_px", "col_px", "worn"), _regions, pictures, told)


def _read(path: Path, needed: tuple[str, ...], take: Callable, pictures: Plan, told: list[str]) -> dict:
    """Return what ``take`` makes of a table's rows; an absent table says nothing."""
    if not path.is_file():
        return {}
    try:
        sheet = read_sheets([path])[FIELDS]
    except PlanError as error:
        told.append(str(error))
        return {}
    problems, taken = list(sheet.problems), {}
    titles = [title.lower() for title in sheet.titles]
    faults = [(title, "the column is missing", "add it") for title in needed if title not in titles]
    used = {*needed, *Stated.__dataclass_fields__}
    for title in sorted({title for title in titles if title in used and titles.count(title) > 1}):
        faults.append((title, "the column stands there twice", "rename or delete one of them"))
    problems += [Problem(sheet=FIELDS, row=1, column=title, found=found, remedy=what) for title, found, what in faults]
    if not faults:
        cells = ((number, {title.lower(): cell for title, cell in row.items()}) for number, row in sheet.rows)
        taken = take([Row(FIELDS, number, row, problems) for number, row in cells], pictures, problems)
    for problem in sorted(problems, key=lambda problem: problem.row):
        row = f", row {problem.row}" if problem.row else ""
        column = f", column {problem.column}" if problem.column else ""
        told.append(f"{path}{row}{column}: {problem.found}; {problem.remedy}")
    return taken


def _stated(rows: list[Row], pictures: Plan, problems: list[Problem]) -> dict[str, Stated]:
    found: dict[str, Stated] = {}
    seen: dict[str, int] = {}
    for row in rows:
        one = Stated(
            specimen=row.word("specimen"),
            zone=row.choice("zone", ZONES),
            stage=row.choice("stage", STAGES),
            pixel_size_um=row.number_in("pixel_size_um", 0, 1000, unit="µm", open_low=True),
            stroke_deg=row.number_in("stroke_deg", 0, 180, unit="degrees"),
            worn=_worn(row),
            sheet_row=row.number,
        )
        if "specimen" in row.cells and not one.specimen:
            row.complain("specimen", "the cell is empty", "write which specimen the picture shows")
        picture, file = _picture(row, pictures), row.word("file")
        path = picture or normal_path(file)
        if path and path in seen:
            row.complain("file", f"{file} stands in row {seen[path]} too", "delete one of the two rows")
        seen.setdefault(path, row.number)
        if picture:
            found.setdefault(picture, one)
    if pictures.fields and not found and not problems:
        remedy = "write the pictures' names as they stand in the folder into column file, or delete the table"
        problems.append(Problem(sheet=FIELDS, row=0, column="", found="no row means a picture of the folder", remedy=remedy))
    return found


def _regions(rows: list[Row], pictures: Plan, problems: list[Problem]) -> dict[str, list[Region]]:
    found: dict[str, list[Region]] = {}
    absent: set[str] = set()
    for row in rows:
        before = len(problems)
        picture, file = _picture(row, pictures), row.word("file")
        if not picture and len(problems) == before and file not in absent:
            absent.add(file)
            row.complain("file", f"{file} isn't among the pictures", "add the picture or delete its rows")
        row_px, col_px = (row.number_in(column, 0, inf, unit="px") for column in ("row_px", "col_px"))
        worn = _worn(row)
        for column in ("row_px", "col_px", "worn"):
            if not row.word(column):
                row.complain(column, "the cell is empty", "fill it in or delete the row")
        if picture and len(problems) == before:
            region = Region(row_px=row_px, col_px=col_px, worn=worn, sheet_row=row.number)
            found.setdefault(picture, []).append(region)
    return found


def _picture(row: Row, pictures: Plan) -> str:
    """Return the picture that a row means, empty where it means none; a cell that is empty or fits several is a problem."""
    file = row.word("file")
    if not file:
        row.complain("file", "the cell is empty", "write the picture's path, or delete the row")
        return ""
    try:
        return picture_named(file, pictures)
    except PlanError as error:
        found, _, remedy = str(error).rpartition("; ")
        row.complain("file", found, remedy)
        return ""


def _worn(row: Row) -> bool | None:
    text = row.word("worn")
    if text and text.lower() not in WORN_WORDS:
        row.complain("worn", f"{text!r} is neither worn nor not", "write 1 or 0")
    return WORN_WORDS.get(text.lower())
