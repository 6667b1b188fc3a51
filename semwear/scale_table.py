"""Only the calibration of many pictures: one row each with the pixel size, where it comes from, or why it is refused."""

import math
from collections.abc import Callable, Iterable
from os import PathLike
from pathlib import Path

from semwear.errors import SemwearError
from semwear.terms import Column

SCALE_COLUMNS = tuple(Column(name=name, kind=kind, unit=unit, meaning=meaning) for name, kind, unit, meaning in (
    ("file", str, "", "picture, relative path as given"),
    ("pixel_size_um", float, "µm", "side of a pixel along a row"),
    ("pixel_size_u_um", float, "µm", "standard uncertainty of the pixel size"),
    ("pixel_size_source", str, "", "file metadata, scale bar or given"),
    ("bar_label", str, "", "label of the scale bar as read, empty when none was accepted"),
    ("bar_px", float, "px", "length of the scale bar"),
    ("status", str, "", "measured or refused"),
    ("reason", str, "", "why the scale was refused and what to do; else the flags of the calibration"),
))
"""Columns of the scale table, declared once."""


def scale_table(
    paths: Iterable[str | PathLike],
    *,
    given_pixel_size_um: float | None = None,
    on_picture: Callable[[dict, int], None] | None = None,
) -> list[dict]:
    """Return one row (keys of SCALE_COLUMNS) for every picture under ``paths``, in the order of the names.

    ``on_picture`` is called with each row and the number of pictures. Whatever is wrong with a picture becomes its
    reason: nothing is raised for one, and the others go on. An empty list means that no picture was found.

    >>> [row["status"] for row in scale_table(["no such picture.tif"])]
    ['refused']
    """
    from semwear.read import find_pictures

    pictures = find_pictures(paths)
    rows = []
    for path, file in pictures:
        rows.append(scale_row(path, file=file, given_pixel_size_um=given_pixel_size_um))
        if on_picture is not None:
            on_picture(rows[-1], len(pictures))
    return rows


def scale_row(path: Path, *, file: str, given_pixel_size_um: float | None = None) -> dict:
    """Return the row of one picture."""
    from semwear.calibrate import calibrate
    from semwear.read import read_micrograph

    row = {column.name: math.nan if column.kind is float else "" for column in SCALE_COLUMNS}
    row |= {"file": file, "status": "refused"}
    try:
        found = calibrate(read_micrograph(path, file=file), given_pixel_size_um=given_pixel_size_um)
    except SemwearError as error:
        return row | {"reason": " ".join(str(error).split())}
    except MemoryError:
        return row | {"reason": f"{file}: not enough memory for this picture; export a smaller one."}
    except Exception as error:  # one picture that nobody foresaw must not end the table
        what = " ".join(f"{type(error).__name__}: {error}".split())[:200]
        return row | {"reason": f"{file}: unexpected failure ({what}); please report it with this picture."}
    return row | {
        "pixel_size_um": found.pixel_size_um, "pixel_size_u_um": found.pixel_size_u_um,
        "pixel_size_source": found.pixel_size_source, "bar_label": found.bar_label, "bar_px": found.bar_px,
        "status": "measured", "reason": "; ".join(found.flags),
    }
