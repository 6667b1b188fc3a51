"""Sheets of a plan as they stand in .xlsx or .csv: a header, and cells that know their row.

Nothing is interpreted here beyond the file format; what can't be read cell by cell becomes a Problem.
"""

import csv
import io
from dataclasses import dataclass, field
from pathlib import Path

from semwear.errors import PlanError
from semwear.plan.problems import Problem

FIELDS, SPECIMENS = "fields", "specimens"


@dataclass(kw_only=True)
class Sheet:
    """One table: column titles as written, and rows as (row number, {title: cell value})."""

    name: str
    titles: list[str] = field(default_factory=list)
    rows: list[tuple[int, dict[str, object]]] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def read_sheets(path) -> dict[str, Sheet]:
    """Return the sheets of a plan by name (``fields``, and ``specimens`` where there is one).

    ``path`` is an .xlsx file, a folder with fields.csv and specimens.csv, one .csv with the fields, or a pair of .csv
    (two paths, or two paths joined by a comma).

    Raises PlanError when there is no such file, or it is of another kind.
    """
    paths = _paths(path)
    for each in paths:
        if not each.exists():
            raise PlanError(
                f"{each}: there is no such plan; give an .xlsx file, a folder with fields.csv, or .csv files"
            )
    if len(paths) == 2:
        return _pair(paths)
    only = paths[0]
    if only.is_dir():
        fields_file, specimens_file = only / "fields.csv", only / "specimens.csv"
        if not fields_file.exists():
            raise PlanError(
                f"{only}: the folder holds no fields.csv; write one with: semwear plan PICTURES --out {only}"
            )
        sheets = {FIELDS: _read_csv(fields_file, FIELDS)}
        if specimens_file.exists():
            sheets[SPECIMENS] = _read_csv(specimens_file, SPECIMENS)
        return sheets
    if only.suffix.lower() in (".xlsx", ".xlsm"):
        return _read_workbook(only)
    if only.suffix.lower() == ".csv":
        return {FIELDS: _read_csv(only, FIELDS)}
    raise PlanError(
        f"{only}: a plan is an .xlsx file, a folder with fields.csv, or .csv files; save it as one of these"
    )


def _paths(path) -> list[Path]:
    if isinstance(path, (list, tuple)):
        paths = [Path(each) for each in path]
    elif "," in str(path) and not Path(path).exists():
        paths = [Path(each.strip()) for each in str(path).split(",")]
    else:
        paths = [Path(path)]
    if len(paths) > 2 or not paths:
        raise PlanError(f"{len(paths)} plan files were given; give one, or a pair: the fields and the specimens")
    return paths


def _pair(paths: list[Path]) -> dict[str, Sheet]:
    read = [_read_csv(each, FIELDS) for each in paths]
    with_file = [any(_plain(title) == "file" for title in sheet.titles) for sheet in read]
    if with_file.count(True) != 1:
        raise PlanError(
            f"{paths[0]}, {paths[1]}: exactly one of the pair must have a column 'file' (the fields), the other the specimens"
        )
    first = with_file.index(True)
    return {FIELDS: read[first], SPECIMENS: _read_csv(paths[1 - first], SPECIMENS)}


def _plain(title: object) -> str:
    return str(title).strip().lower()


def _read_csv(path: Path, name: str) -> Sheet:
    if path.suffix.lower() != ".csv":
        raise PlanError(f"{path}: a pair of plan files must both be .csv; save it as .csv or give one .xlsx")
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise PlanError(f"{path}: the text isn't UTF-8; save it again as 'CSV UTF-8'") from None
    except OSError as error:
        raise PlanError(f"{path}: can't be read ({error.strerror}); check the path and its permissions") from None
    separator, text = _separator(text)
    sheet = Sheet(name=name)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    try:
        lines = [(reader.line_num, cells) for cells in reader]
    except csv.Error as error:
        raise PlanError(f"{path}: isn't a readable .csv ({error}); save it again as 'CSV UTF-8'") from None
    if not lines:
        raise PlanError(f"{path}: the file is empty; it needs a header row and one row a {name[:-1]}")
    _take_titles(sheet, lines[0][1])
    for number, cells in lines[1:]:
        if not any(cell.strip() for cell in cells):
            continue
        extra = [cell for cell in cells[len(sheet.titles) :] if cell.strip()]
        if extra:
            found = f"{len(cells)} cells for {len(sheet.titles)} columns"
            remedy = "a number may have a decimal comma (write a point) or a text a comma (put it in double quotes)"
            sheet.problems.append(Problem(sheet=name, row=number, column="", found=found, remedy=remedy))
            continue
        padded = list(cells) + [""] * (len(sheet.titles) - len(cells))
        sheet.rows.append((number, dict(zip(sheet.titles, padded, strict=False))))
    return sheet


def _separator(text: str) -> tuple[str, str]:
    """Return the separator of a .csv, and its text from the header on: a spreadsheet's first line ``sep=;`` states it.

    >>> _separator("sep=;\\nfile;specimen")
    (';', 'file;specimen')
    """
    header, _, rest = text.partition("\n")
    stated = header.strip("\r").strip('"')
    if stated[:4].lower() == "sep=" and len(set(stated[4:])) == 1:  # saved again, it may be filled up with separators
        return stated[4], rest
    return max(",;\t", key=header.count), text


def _take_titles(sheet: Sheet, cells) -> None:
    titles = ["" if cell is None else str(cell).strip() for cell in cells]
    while titles and not titles[-1]:
        titles.pop()
    for place, title in enumerate(titles):
        if not title:
            titles[place] = f"(untitled {place + 1})"
            remedy = "write a title into row 1 or delete the column"
            sheet.problems.append(
                Problem(sheet=sheet.name, row=1, column=str(place + 1), found="the column has no title", remedy=remedy)
            )
    sheet.titles = titles


def _read_workbook(path: Path) -> dict[str, Sheet]:
    import warnings
    import zipfile

    import openpyxl
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # openpyxl warns of styles and validations that it drops
            values = openpyxl.load_workbook(path, data_only=True)
            formulas = openpyxl.load_workbook(path, data_only=False)
    except (InvalidFileException, zipfile.BadZipFile, KeyError, OSError, ValueError, EOFError) as error:
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise PlanError(f"{path}: isn't a readable .xlsx ({reason}); open it in a spreadsheet and save again") from None
    by_name = {_plain(title): title for title in values.sheetnames}
    if FIELDS not in by_name:
        listed = ", ".join(values.sheetnames)
        raise PlanError(
            f"{path}: has no sheet 'fields' (its sheets: {listed}); rename the sheet that lists the pictures"
        )
    return {
        name: _workbook_sheet(name, values[by_name[name]], formulas[by_name[name]])
        for name in (FIELDS, SPECIMENS)
        if name in by_name
    }


def _workbook_sheet(name: str, values, formulas) -> Sheet:
    sheet = Sheet(name=name)
    for block in values.merged_cells.ranges:
        found = f"cells {block.coord} are merged, so that only the first holds a value"
        remedy = "unmerge them and write the value into every row"
        sheet.problems.append(Problem(sheet=name, row=block.min_row, column="", found=found, remedy=remedy))
    rows = values.iter_rows(values_only=True)
    header = next(rows, None)
    if header is None or not any(cell is not None for cell in header):
        remedy = "write the column titles into row 1"
        sheet.problems.append(Problem(sheet=name, row=1, column="", found="row 1 is empty", remedy=remedy))
        return sheet
    _take_titles(sheet, header)
    for number, (cells, written) in enumerate(zip(rows, formulas.iter_rows(min_row=2), strict=False), start=2):
        if all(cell is None or (isinstance(cell, str) and not cell.strip()) for cell in cells) and not any(
            cell.data_type == "f" for cell in written
        ):
            continue
        row: dict[str, object] = {}
        for title, cell, formula in zip(sheet.titles, cells, written, strict=False):
            if cell is None and formula.data_type == "f":
                found = "the formula has no stored result"
                remedy = "write the value itself, or open the file in a spreadsheet and save it"
                sheet.problems.append(Problem(sheet=name, row=number, column=title, found=found, remedy=remedy))
            row[title] = "" if cell is None else cell
        for title in sheet.titles[len(cells) :]:
            row[title] = ""
        sheet.rows.append((number, row))
    return sheet
