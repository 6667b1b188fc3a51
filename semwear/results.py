"""The results folder: the only module that writes results.

    fields.csv, regions.csv, run.json, report.html     the tables, the run and the report
    masks/…png                                          mask codes on the picture's own grid, 8-bit grey
    overlays/…jpg                                       pictures to look at
    .measured/…json, .measured/…webp                    one record and one small picture a field, so that a run can go on

Every file is written beside its place under a short temporary name and then moved over, so that nothing is ever found
half-written; a folder that can't be written is a ResultsError that says why.
"""

import contextlib
import csv
import errno
import hashlib
import io
import json
import math
import os
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

import numpy as np
from PIL import Image

from semwear.copies import PICTURE_ID
from semwear.errors import ResultsError, plain_reason
from semwear.terms import FIELD_COLUMNS, REGION_COLUMNS, Column

FIELDS_NAME, REGIONS_NAME, RUN_NAME, REPORT_NAME = "fields.csv", "regions.csv", "run.json", "report.html"
MASKS, OVERLAYS, RECORDS = "masks", "overlays", ".measured"
LONGEST_NAME_BYTES = 180
"""Longest name of a file or folder that is made, in UTF-8 bytes; longer ones are cut and told apart by a checksum."""


@dataclass(frozen=True, kw_only=True)
class FieldFiles:
    """Where the files of one field go, relative to the results folder, with forward slashes."""

    mask: str
    overlay: str
    record: str
    small_picture: str


def field_files(files: Sequence[str]) -> dict[str, FieldFiles]:
    """Return the files of each field by the name of its picture, all different on any file system.

    Folders are kept. Two pictures that differ in their suffix only keep it. Roots and ``..`` are left out.

    >>> [place.mask for place in field_files(["a/1.tif", "b/1.tif", "b/1.png"]).values()]
    ['masks/a/1.png', 'masks/b/1.tif.png', 'masks/b/1.png.png']
    """
    stems = {file: _safe_path(file) for file in files}
    short = {file: str(path.with_suffix("")) if path.suffix else str(path) for file, path in stems.items()}
    chosen = _told_apart(short, {file: str(path) for file, path in stems.items()})
    return {
        file: FieldFiles(
            mask=f"{MASKS}/{name}.png",
            overlay=f"{OVERLAYS}/{name}.jpg",
            record=f"{RECORDS}/{name}.json",
            small_picture=f"{RECORDS}/{name}.webp",
        )
        for file, name in chosen.items()
    }


def foreign_file(folder: Path) -> str:
    """Return the name of a file there that a run would write over and semwear measure didn't write; empty where there is none.

    A run writes its records first, then the tables, the report and run.json: one that was killed in between left no run.json.
    """
    there = [name for name in (FIELDS_NAME, REGIONS_NAME, REPORT_NAME, RUN_NAME) if (folder / name).exists()]
    if RUN_NAME in there:
        is_own = {"semwear", "files"} <= set(read_record(folder / RUN_NAME) or ())
    else:
        has_records = any((folder / RECORDS).rglob("*.json"))
        is_own = has_records and (FIELDS_NAME in there or REPORT_NAME not in there)
    return there[0] if there and not is_own else ""


def mask_names(out: Path) -> list[str]:
    """Return the masks that lie in a results folder, relative to it, with forward slashes, sorted."""
    return sorted(path.relative_to(out).as_posix() for path in (out / MASKS).rglob("*.png"))


def _told_apart(short: Mapping[str, str], full: Mapping[str, str]) -> dict[str, str]:
    """Return the short name where it is the only one of its kind (case ignored), else the full one, else a checksum."""
    chosen: dict[str, str] = {}
    for names in (short, full, {file: f"{name}~{_digest(file)}" for file, name in full.items()}):
        open_names = {file: name for file, name in names.items() if file not in chosen}
        taken = {name.casefold() for name in chosen.values()}
        wanted = Counter(name.casefold() for name in open_names.values())
        chosen |= {
            file: name
            for file, name in open_names.items()
            if wanted[name.casefold()] == 1 and name.casefold() not in taken
        }
    return {file: chosen[file] for file in short}


def _safe_path(file: str) -> PurePosixPath:
    parts = [part for part in PurePosixPath(file.replace("\\", "/")).parts if part not in ("/", "//", ".", "..")]
    parts = [part.replace(":", "_") for part in parts] or ["field"]
    return PurePosixPath(*(_shortened(part) for part in parts))


def _shortened(part: str) -> str:
    if len(part.encode("utf-8", "surrogatepass")) <= LONGEST_NAME_BYTES:
        return part
    suffix = PurePosixPath(part).suffix[:8]
    kept = part.encode("utf-8", "surrogatepass")[: LONGEST_NAME_BYTES - 24].decode("utf-8", "ignore")
    return f"{kept}~{_digest(part)}{suffix}"


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:10]


def write_whole(path: Path, content: bytes, *, elsewhere: str = "choose another results folder with --out") -> None:
    """Write a file in one move: it is there whole or not at all. Raises ResultsError with what to do.

    ``elsewhere``: how the user names another place, where this one can't be written.
    """
    part = part_of(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with open(part, "wb") as stream:
            stream.write(content)
        os.replace(part, path)
    except OSError as error:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise ResultsError(f"{path}: {_what_to_do(error, elsewhere)}") from error


def part_of(path: Path) -> Path:
    """Return the name under which a file is written before it is moved to its place: short, hidden, one a process."""
    return path.with_name(f".{_digest(path.name)}{os.getpid()}.part")


def remove_earlier(path: Path) -> None:
    """Remove a file that an earlier run wrote, if it is there. Raises ResultsError with what to do."""
    try:
        path.unlink(missing_ok=True)
    except NotADirectoryError:
        return  # a file is in the folder's place: nothing lies below it, and writing says so
    except OSError as error:
        reason = plain_reason(error)
        raise ResultsError(f"{path}: of an earlier run, can't be removed, as {reason}; remove it yourself") from error


def _what_to_do(error: OSError, elsewhere: str) -> str:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "the disk is full; free some space and run the same command again to go on"
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return f"no permission to write there; {elsewhere}"
    if error.errno in (errno.ENOTDIR, errno.EEXIST, errno.EISDIR):
        return f"a file or folder of that name is in the way; {elsewhere}"
    return f"it can't be written, as {plain_reason(error)}; {elsewhere}"


def write_mask(path: Path, codes: np.ndarray) -> None:
    """Write mask codes, (rows, cols) uint8, as an 8-bit grey PNG whose values are the codes."""
    stream = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(codes, dtype=np.uint8)).save(stream, format="PNG", compress_level=4)
    write_whole(path, stream.getvalue())


def write_overlay(path: Path, rgb: np.ndarray) -> None:
    """Write an overlay, (rows, cols, 3) uint8, as a JPEG of high quality."""
    stream = io.BytesIO()
    Image.fromarray(rgb).save(stream, format="JPEG", quality=90, subsampling=0)
    write_whole(path, stream.getvalue())


def write_small_picture(path: Path, rgb: np.ndarray, *, width_px: int = 760) -> None:
    """Write a picture reduced to a width as WebP, for the report."""
    picture = Image.fromarray(rgb)
    if picture.width > width_px:
        picture = picture.resize((width_px, round(picture.height * width_px / picture.width)), Image.Resampling.LANCZOS)
    stream = io.BytesIO()
    picture.save(stream, format="WEBP", quality=60, method=2)
    write_whole(path, stream.getvalue())


def write_record(path: Path, record: Mapping) -> None:
    """Write the record of one field; NaN is stored as null."""
    write_whole(path, _json(record))


def read_record(path: Path) -> dict | None:
    """Return a record written by :func:`write_record` (null stays None), or None when there is no readable one."""
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return record if isinstance(record, dict) else None


def write_tables(folder: Path, rows: Iterable[Mapping], regions: Iterable[Mapping]) -> None:
    """Write fields.csv and regions.csv: UTF-8, comma, point, six significant digits, empty for unknown."""
    write_whole(folder / FIELDS_NAME, table_bytes(rows, FIELD_COLUMNS))
    write_whole(folder / REGIONS_NAME, table_bytes(regions, REGION_COLUMNS))


def table_bytes(rows: Iterable[Mapping], columns: Sequence[Column]) -> bytes:
    """Return a table as the bytes of a CSV file with the declared columns in their order."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([column.name for column in columns])
    for row in rows:
        writer.writerow([_cell(row[column.name]) for column in columns])
    return stream.getvalue().encode("utf-8", "backslashreplace")


def _cell(value) -> str:
    if isinstance(value, float):
        return "" if math.isnan(value) else f"{value:.6g}"
    return "" if value is None else str(value)


def read_table(path: Path, columns: Sequence[Column]) -> list[dict]:
    """Return the rows of fields.csv or regions.csv as dicts: floats with NaN for empty, and text.

    Columns that the file lacks come back empty, those that aren't declared are left out. Raises ResultsError when the
    file can't be read, has no header of this kind, or holds text where a number belongs.
    """
    try:
        text = Path(path).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = plain_reason(error) if isinstance(error, OSError) else "it isn't UTF-8 text"
        raise ResultsError(
            f"{path}: no readable results table, as {reason}; measure first, or name a results folder"
        ) from error
    reader = csv.DictReader(io.StringIO(text))
    if "file" not in (reader.fieldnames or ()):
        raise ResultsError(f"{path}: this isn't a table of semwear (no column 'file'); name a results folder")
    rows = []
    for number, cells in enumerate(reader, start=2):
        row = {}
        for column in columns:
            cell = cells.get(column.name) or ""
            try:
                row[column.name] = (float(cell) if cell else float("nan")) if column.kind is float else cell
            except ValueError as error:
                raise ResultsError(
                    f"{path}: line {number} has {cell!r} in {column.name}, which must be a number; measure again"
                ) from error
        rows.append(row)
    return rows


def read_fields(folder: Path) -> list[dict]:
    """Return the rows of a results folder's fields.csv; see :func:`read_table`.

    Each row carries the id of its picture beside the columns, as run.json states it, empty where it doesn't.
    """
    rows = read_table(Path(folder) / FIELDS_NAME, FIELD_COLUMNS)
    files = (read_record(Path(folder) / RUN_NAME) or {}).get("files", {})
    return [row | {PICTURE_ID: files.get(row["file"], {}).get(PICTURE_ID, "")} for row in rows]


def read_run(folder: Path) -> dict:
    """Return run.json of a results folder; raises ResultsError when it isn't one."""
    record = read_record(Path(folder) / RUN_NAME)
    if record is None:
        raise ResultsError(f"{folder}: no readable {RUN_NAME} in it; name a folder that semwear measure wrote")
    return record


def write_run(folder: Path, run: Mapping) -> None:
    """Write run.json."""
    write_whole(folder / RUN_NAME, _json(run, indent=1))


def write_report(folder: Path, html: str) -> None:
    """Write report.html."""
    write_whole(folder / REPORT_NAME, html.encode("utf-8", "backslashreplace"))


def _json(value, indent: int | None = None) -> bytes:
    text = json.dumps(_plain(value), ensure_ascii=False, indent=indent, allow_nan=False)
    return text.encode("utf-8", "backslashreplace")


def _plain(value):
    """Return a value that JSON can hold: NaN and infinities as null, NumPy numbers as numbers."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
