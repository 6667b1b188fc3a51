"""A starting plan from a folder of pictures: what is known is filled in, what isn't stays empty."""

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from semwear.errors import PlanError, ResultsError
from semwear.plan.naming import NamePattern, NameReading
from semwear.plan.reading import FIELD_TITLES, REFERENCE_TITLE
from semwear.read import PICTURE_SUFFIXES, find_pictures
from semwear.results import write_whole

EXAMPLE_FACTORS = ("finish", "ring_coating", "oil")

NOTES = (
    ("fields", "one row a picture"),
    ("file", "path of the picture, below the folder that semwear measure is given"),
    ("specimen", "name of the section, the same as in sheet specimens"),
    ("zone", "in-track (where the ring ran) or out-of-track (same section, never touched)"),
    ("stage", "before or after the test; empty means after"),
    ("spot", "name of one place on the section, where it was pictured before and after; otherwise empty"),
    ("stroke_deg", "sliding direction in the picture, degrees anticlockwise from its rows, 0 to 180; empty if unknown"),
    ("tilt_deg", "tilt of the specimen, degrees; empty if the picture states it"),
    ("pixel_size_um", "side of a pixel in µm; empty if the picture states it or has a scale bar"),
    ("kv, detector", "accelerating voltage and detector; empty if the picture states them"),
    ("specimens", "one row a section"),
    ("reference", "yes for the specimens that friction and iron are judged against; otherwise empty or no"),
    ("factors", "any columns: finish, ring_coating, oil or your own; one word for each level, no empty cells"),
    ("responses", "friction and iron_ppm; your own as: wear_depth [µm] (lower is better); empty if not measured"),
    ("numbers", "decimal point, one number a cell, no merged cells"),
)


@dataclass(frozen=True, kw_only=True)
class StartingPlan:
    """What was found in a folder: the readings of all names, and the specimens with the levels that the names state."""

    folder: str
    readings: tuple[NameReading, ...]
    specimens: dict[str, dict[str, str]]
    factors: tuple[str, ...]

    @property
    def unread(self) -> tuple[NameReading, ...]:
        """Names that the pattern didn't fit; empty without a pattern."""
        return tuple(reading for reading in self.readings if reading.reason)


def starting_plan(folder, pattern: NamePattern | None = None) -> StartingPlan:
    """Return what a folder of pictures (with its folders below) says, by the names alone when a pattern is given.

    The pictures are those that semwear measure finds there: results folders, masks and overlays are passed over.

    Raises PlanError when there is no such folder or it holds no picture.
    """
    root = Path(folder)
    if not root.is_dir():
        raise PlanError(
            f"{folder}: there is no such file or folder; give the folder that holds the pictures, or a plan to check"
        )
    files = [path.relative_to(root).as_posix() for path, _ in find_pictures([root]) if not path.is_dir()]
    if not files:
        raise PlanError(f"{folder}: holds no picture ({', '.join(PICTURE_SUFFIXES)}); give the folder that holds them")
    if pattern is None:
        return StartingPlan(
            folder=str(folder),
            readings=tuple(NameReading(file=file) for file in files),
            specimens={},
            factors=EXAMPLE_FACTORS,
        )
    readings = tuple(pattern.read(file) for file in files)
    specimens: dict[str, dict[str, str]] = {}
    for reading in readings:
        if not reading.reason:
            own = {name: reading.words[name] for name in pattern.factors}
            kept = specimens.setdefault(reading.words["specimen"], dict(own))
            for name, level in own.items():
                if kept[name] != level:
                    kept[name] = ""  # contradicting names: left for the user to fill in
    return StartingPlan(
        folder=str(folder), readings=readings, specimens=specimens, factors=pattern.factors or EXAMPLE_FACTORS
    )


def plan_tables(start: StartingPlan) -> dict[str, list[list[str]]]:
    """Return the sheets of a starting plan as lists of rows, titles first."""
    fields = [list(FIELD_TITLES)]
    for reading in start.readings:
        known = {"file": reading.file, **{name: text for name, text in reading.words.items() if name in FIELD_TITLES}}
        fields.append([known.get(title, "") for title in FIELD_TITLES])
    specimens = [["specimen", *start.factors, REFERENCE_TITLE, "friction", "iron_ppm"]]
    for name, levels in start.specimens.items():
        specimens.append([name, *[levels.get(factor, "") for factor in start.factors], "", "", ""])
    return {"fields": fields, "specimens": specimens}


def write_starting_plan(start: StartingPlan, out) -> Path:
    """Write a starting plan as an .xlsx (with a sheet of notes), or into a folder as fields.csv and specimens.csv.

    Returns the path written. Raises PlanError when it exists already or can't be written: a plan is the user's work and
    is never overwritten.
    """
    path = Path(out)
    tables = plan_tables(start)
    if path.suffix.lower() == ".xlsx":
        contents = {path: _workbook_bytes(tables)}
    else:
        contents = {path / f"{name}.csv": _csv_bytes(rows) for name, rows in tables.items()}
    for each in contents:
        if each.exists():
            raise PlanError(f"{each}: exists already and isn't overwritten; give another --out or move it away")
    try:
        for each, content in contents.items():
            write_whole(each, content, elsewhere="give another --out")
    except ResultsError as error:
        raise PlanError(str(error)) from None
    return path


def _csv_bytes(rows: list[list[str]]) -> bytes:
    stream = io.StringIO()
    csv.writer(stream).writerows(rows)
    return stream.getvalue().encode("utf-8-sig")


def _workbook_bytes(tables: dict[str, list[list[str]]]) -> bytes:
    import openpyxl
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in {**tables, "notes": [list(note) for note in NOTES]}.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append([text or None for text in row])
            for cell in sheet[sheet.max_row]:
                cell.number_format = "@" if name == "fields" and cell.column <= 5 else cell.number_format
                if cell.data_type == "f":
                    cell.data_type = "s"  # a file name that begins with = is a name, not a formula
        if name != "notes":
            for cell in sheet[1]:
                cell.font = Font(bold=True)
            sheet.freeze_panes = "A2"
        for column in range(1, len(rows[0]) + 1):
            longest = max(len(str(row[column - 1])) for row in rows if len(row) >= column)
            sheet.column_dimensions[get_column_letter(column)].width = min(60, max(10, longest + 2))
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()
