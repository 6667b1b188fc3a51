"""A plan read and checked: every inconsistency is found before anything is said, and nothing is guessed."""

import math
import re

from semwear.errors import PlanError
from semwear.plan.cells import Row
from semwear.plan.problems import Problem, listing
from semwear.plan.sheets import FIELDS, SPECIMENS, Sheet, read_sheets
from semwear.plan.tables import (
    DEFAULT_RESPONSES,
    STAGES,
    ZONES,
    Plan,
    PlannedField,
    PlannedSpecimen,
    Response,
    normal_path,
)

FIELD_TITLES = (
    "file",
    "specimen",
    "zone",
    "stage",
    "spot",
    "stroke_deg",
    "tilt_deg",
    "pixel_size_um",
    "kv",
    "detector",
)
REQUIRED_FIELD_TITLES = ("file", "specimen", "zone")
REFERENCE_TITLE = "reference"
_RESPONSE_TITLE = re.compile(r"(?P<name>[^\[\]()]+?)\s*\[(?P<unit>[^\[\]]*)\]\s*(\((?P<better>[^()]*)\))?")
_SENSES = {"lower is better": "lower", "higher is better": "higher", "neither is better": "neither"}


def read_plan(path) -> Plan:
    """Return the plan of a study, checked.

    ``path`` is an .xlsx with the sheets ``fields`` and ``specimens``, a folder with fields.csv and specimens.csv, a pair
    of .csv (two paths, or joined by a comma), or one .csv with the fields.

    Sheet ``fields``: file, specimen, zone (needed), stage (empty means after the test), spot, stroke_deg, tilt_deg,
    pixel_size_um, kv, detector. Sheet ``specimens``: specimen; ``reference`` (yes for the specimens that friction and
    iron are judged against); a response is a column with its unit in brackets and its sense in parentheses, as in
    ``wear_depth [µm] (lower is better)``, where only ``friction`` and ``iron_ppm`` need neither; every other column is a
    factor.

    Raises PlanError, which lists every problem at once, one a line, with sheet, row and what to do. Points that leave
    the plan usable (no reference, a factor with one level) come back as ``Plan.cautions``.
    """
    sheets = read_sheets(path)
    problems: list[Problem] = []
    for sheet in sheets.values():
        problems += sheet.problems
    fields = _fields(sheets[FIELDS], problems)
    specimens, factors, responses = (), (), ()
    if SPECIMENS in sheets:
        specimens, factors, responses = _specimens(sheets[SPECIMENS], problems)
    else:
        names = dict.fromkeys(planned.specimen for planned in fields if planned.specimen)
        specimens = tuple(PlannedSpecimen(specimen=name) for name in names)
    name = path if isinstance(path, str) else str(path)
    return checked_plan(
        path=name,
        fields=fields,
        specimens=specimens,
        factors=factors,
        responses=responses,
        problems=problems,
        has_specimens=SPECIMENS in sheets,
    )


def checked_plan(*, path, fields, specimens, factors, responses, problems, has_specimens=True) -> Plan:
    """Return a plan whose sheets agree with each other; raises PlanError with every problem, found before or here."""
    problems = list(problems)
    _check_fields_against_specimens(fields, specimens, has_specimens, problems)
    factors = _check_factors(factors, specimens, problems)
    if has_specimens:
        _check_responses(responses, specimens, problems)
    if any(problem.stops for problem in problems):
        count = sum(problem.stops for problem in problems)
        noun = "problem" if count == 1 else "problems"
        raise PlanError(f"{path}: {count} {noun} to mend in the plan\n{listing(problems)}")
    return Plan(
        path=path,
        fields=tuple(fields),
        specimens=tuple(specimens),
        factors=tuple(factors),
        responses=tuple(responses),
        cautions=tuple(problems),
    )


def _titles(sheet: Sheet, problems: list[Problem], *, known: tuple[str, ...] = ()) -> dict[str, str]:
    """Return {plain title: title as written}; known titles may be spelt in any case; double ones are a problem."""
    titles: dict[str, str] = {}
    for title in sheet.titles:
        plain = title.lower() if title.lower() in known else title
        if plain in titles:
            remedy = "rename or delete one of them"
            problems.append(
                Problem(sheet=sheet.name, row=1, column=title, found="the column stands there twice", remedy=remedy)
            )
        titles[plain] = title
    return titles


def _fields(sheet: Sheet, problems: list[Problem]) -> list[PlannedField]:
    titles = _titles(sheet, problems, known=FIELD_TITLES)
    for title in REQUIRED_FIELD_TITLES:
        if title not in titles:
            listed = ", ".join(sheet.titles) or "none"
            found = f"the column {title!r} is missing (columns: {listed})"
            remedy = f"add it; the columns are {', '.join(FIELD_TITLES)}"
            problems.append(Problem(sheet=FIELDS, row=1, column=title, found=found, remedy=remedy))
    for plain, title in titles.items():
        if plain not in FIELD_TITLES and not title.startswith("(untitled"):
            remedy = f"it isn't used; the columns are {', '.join(FIELD_TITLES)}"
            problems.append(
                Problem(sheet=FIELDS, row=1, column=title, found="unknown column", remedy=remedy, stops=False)
            )
    if not sheet.rows and sheet.titles:
        remedy = "write one row a picture"
        problems.append(Problem(sheet=FIELDS, row=0, column="", found="no picture is listed", remedy=remedy))
    fields, seen = [], {}
    for number, cells in sheet.rows:
        row = Row(FIELDS, number, {plain: cells.get(title, "") for plain, title in titles.items()}, problems)
        planned = _field(row)
        path = normal_path(planned.file)
        if path and path in seen:
            row.complain("file", f"{planned.file} stands in row {seen[path]} too", "delete one of the two rows")
        seen.setdefault(path, number)
        fields.append(planned)
    return fields


def _field(row: Row) -> PlannedField:
    file, specimen = row.word("file"), row.word("specimen")
    before = len(row.problems)
    zone, stage = row.choice("zone", ZONES), row.choice("stage", STAGES) or "after"
    is_clear = len(row.problems) == before
    if not file and "file" in row.cells:
        row.complain("file", "the cell is empty", "write the picture's path, or delete the row")
    if not specimen and "specimen" in row.cells:
        row.complain("specimen", "the cell is empty", "write which specimen the picture shows")
    if not zone and stage == "after" and "zone" in row.cells and is_clear:
        row.complain("zone", "the cell is empty", f"write {' or '.join(ZONES)}")
    stroke_deg = row.number_in("stroke_deg", 0, 180, unit="degrees")
    return PlannedField(
        file=file,
        specimen=specimen,
        zone=zone,
        stage=stage,
        spot=row.word("spot"),
        stroke_deg=stroke_deg % 180,
        tilt_deg=row.number_in("tilt_deg", -90, 90, unit="degrees"),
        pixel_size_um=row.number_in("pixel_size_um", 0, 1000, unit="µm", open_low=True),
        kv=row.number_in("kv", 0, 300, unit="kV", open_low=True),
        detector=row.word("detector"),
        sheet_row=row.number,
    )


def read_response_title(title: str) -> Response | str | None:
    """Return the response that a column title states, a sentence on what is wrong with it, or None for no response.

    >>> read_response_title("wear_depth [µm] (lower is better)")
    Response(name='wear_depth', unit='µm', better='lower')
    >>> read_response_title("finish") is None
    True
    """
    if title.lower() in DEFAULT_RESPONSES:
        return DEFAULT_RESPONSES[title.lower()]
    if "[" not in title and "]" not in title:
        return None
    match = _RESPONSE_TITLE.fullmatch(title.strip())
    if match is None:
        return "the title of a response reads like: wear_depth [µm] (lower is better)"
    name = match["name"].strip()
    if name.lower() in DEFAULT_RESPONSES:
        name = name.lower()
    unit, sense = match["unit"].strip() or "1", (match["better"] or "").strip().lower()
    if not sense and name in DEFAULT_RESPONSES:
        return Response(name=name, unit=unit, better=DEFAULT_RESPONSES[name].better)
    if sense not in _SENSES:
        return f"add which way is better behind the unit: {', '.join(f'({each})' for each in _SENSES)}"
    return Response(name=name, unit=unit, better=_SENSES[sense])


def _specimens(sheet: Sheet, problems: list[Problem]):
    titles = _titles(sheet, problems, known=("specimen", REFERENCE_TITLE, *DEFAULT_RESPONSES))
    if "specimen" not in titles:
        listed = ", ".join(sheet.titles) or "none"
        found = f"the column 'specimen' is missing (columns: {listed})"
        problems.append(Problem(sheet=SPECIMENS, row=1, column="specimen", found=found, remedy="add it"))
    responses: dict[str, Response] = {}
    factors: dict[str, str] = {}
    for plain, title in titles.items():
        if plain in ("specimen", REFERENCE_TITLE) or title.startswith("(untitled"):
            continue
        stated = read_response_title(plain)
        if isinstance(stated, str):
            problems.append(
                Problem(sheet=SPECIMENS, row=1, column=title, found="the title isn't understood", remedy=stated)
            )
        elif stated is None:
            factors[plain] = title
        else:
            if stated.name in {each.name for each in responses.values()}:
                remedy = "rename or delete one of them"
                found = f"response {stated.name} stands there twice"
                problems.append(Problem(sheet=SPECIMENS, row=1, column=title, found=found, remedy=remedy))
            responses[title] = stated
    for plain, title in list(factors.items()):
        if not any(str(cells.get(title, "")).strip() for _, cells in sheet.rows):
            found, remedy = "the column is empty", "it is left out; write a level for every specimen to use it"
            problems.append(Problem(sheet=SPECIMENS, row=1, column=title, found=found, remedy=remedy, stops=False))
            del factors[plain]
    specimens, seen = [], {}
    for number, cells in sheet.rows:
        row = Row(
            SPECIMENS, number, {**cells, **{plain: cells.get(title, "") for plain, title in titles.items()}}, problems
        )
        name = row.word("specimen")
        if not name and "specimen" in titles:
            row.complain("specimen", "the cell is empty", "write the specimen's name, or delete the row")
        if name and name in seen:
            row.complain("specimen", f"{name} stands in row {seen[name]} too", "give each specimen one row")
        seen.setdefault(name, number)
        specimens.append(_specimen(row, name, factors, responses))
    for plain, title in factors.items():
        _check_response_without_unit(title, [cells.get(title, "") for _, cells in sheet.rows], plain, problems)
    return tuple(specimens), tuple(factors), tuple(responses.values())


def _specimen(row: Row, name: str, factors: dict[str, str], responses: dict[str, Response]) -> PlannedSpecimen:
    levels = {}
    for factor in factors:
        already = len(row.problems)
        levels[factor] = row.word(factor)
        if not levels[factor] and len(row.problems) == already:
            row.complain(factor, "the level is empty", "write the level, or the word none where there was none")
    values = {}
    for title, response in responses.items():
        low = 0.0 if response.name in DEFAULT_RESPONSES else -math.inf
        values[response.name] = row.number_in(
            title, low, math.inf, unit=response.unit, open_low=response.name == "friction"
        )
    marked = row.choice(REFERENCE_TITLE, ("yes", "no"))
    return PlannedSpecimen(
        specimen=name, levels=levels, values=values, is_reference=marked == "yes", sheet_row=row.number
    )


def _check_response_without_unit(title: str, cells: list, plain: str, problems: list[Problem]) -> None:
    written = [cell for cell in cells if str(cell).strip()]
    numbers = []
    for cell in written:
        try:
            numbers.append(float(str(cell).replace(",", ".")))
        except ValueError:
            return
    if len(numbers) >= 4 and len(set(numbers)) == len(numbers) and not all(number.is_integer() for number in numbers):
        remedy = f"if it was measured, title it like: {plain} [unit] (lower is better); if it is a factor, write words"
        problems.append(
            Problem(
                sheet=SPECIMENS,
                row=1,
                column=title,
                found="holds numbers, all different, without a unit",
                remedy=remedy,
            )
        )


def _check_fields_against_specimens(fields, specimens, has_specimens: bool, problems: list[Problem]) -> None:
    known = {planned.specimen for planned in specimens}
    pictured: dict[str, list[PlannedField]] = {}
    for planned in fields:
        if not planned.specimen:
            continue
        pictured.setdefault(planned.specimen, []).append(planned)
        if has_specimens and planned.specimen not in known:
            found = f"specimen {planned.specimen!r} isn't in the sheet specimens"
            remedy = "add it there, or correct the name (capitals and blanks count)"
            problems.append(Problem(sheet=FIELDS, row=planned.sheet_row, column="specimen", found=found, remedy=remedy))
    for specimen in specimens:
        shown = pictured.get(specimen.specimen, [])
        where = {"sheet": SPECIMENS, "row": specimen.sheet_row, "column": "specimen", "stops": False}
        if not has_specimens and shown:
            where |= {"sheet": FIELDS, "row": shown[0].sheet_row}
        if not shown:
            found, remedy = f"{specimen.specimen} has no picture", "list its pictures in the sheet fields, or leave it"
            problems.append(Problem(**where, found=found, remedy=remedy))
        elif not any(planned.is_reference for planned in shown):
            found = f"{specimen.specimen} has no reference"
            remedy = "add fields out-of-track or before the test; until then only continuity, an upper bound, is given"
            problems.append(Problem(**where, found=found, remedy=remedy))
        elif not any(planned.is_run for planned in shown):
            found = f"{specimen.specimen} has no field in-track after the test"
            problems.append(Problem(**where, found=found, remedy="add one; until then there is no retention to give"))
    _check_spots(pictured, problems)


def _check_spots(pictured: dict[str, list[PlannedField]], problems: list[Problem]) -> None:
    for name, shown in pictured.items():
        spots: dict[tuple[str, str], PlannedField] = {}
        for planned in shown:
            key = (planned.spot, planned.stage)
            if planned.spot and key in spots:
                found = f"spot {planned.spot} of {name} has two pictures {planned.stage} the test (row {spots[key].sheet_row})"
                remedy = "give one picture a stage, or the places different names"
                problems.append(Problem(sheet=FIELDS, row=planned.sheet_row, column="spot", found=found, remedy=remedy))
            spots[key] = planned


def _check_factors(factors, specimens, problems: list[Problem]) -> list[str]:
    usable = []
    for factor in factors:
        levels = [specimen.levels.get(factor, "") for specimen in specimens]
        distinct = {level for level in levels if level}
        where = {"sheet": SPECIMENS, "row": 1, "column": factor, "stops": False}
        if len(distinct) < 2:
            found = f"the factor has one level ({', '.join(distinct) or 'empty'})"
            problems.append(Problem(**where, found=found, remedy="it can have no effect here and is left out"))
            continue
        spellings: dict[str, set[str]] = {}
        for level in distinct:
            spellings.setdefault(" ".join(level.lower().replace("_", " ").replace("-", " ").split()), set()).add(level)
        for alike in spellings.values():
            if len(alike) > 1:
                found = f"levels {', '.join(repr(level) for level in sorted(alike))} differ only in spelling"
                problems.append(
                    Problem(**where | {"stops": True}, found=found, remedy="write the same level the same way")
                )
        if len(distinct) == len(specimens) and len(specimens) > 2:
            found = "every specimen has a level of its own"
            remedy = "its effect can't be told from the specimen's; repeat levels on more specimens"
            problems.append(Problem(**where, found=found, remedy=remedy))
        usable.append(factor)
    return usable


def _check_responses(responses, specimens, problems: list[Problem]) -> None:
    where = {"sheet": SPECIMENS, "column": "", "stops": False}
    if not responses:
        remedy = "add friction, iron_ppm or others with a unit; until then only the pictures are compared"
        problems.append(Problem(**where, row=1, found="there is no response column", remedy=remedy))
    if len(specimens) == 1:
        remedy = "it gets its retention; effects need two specimens or more of each level"
        problems.append(Problem(**where, row=specimens[0].sheet_row, found="there is one specimen only", remedy=remedy))
