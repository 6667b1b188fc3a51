"""Labelled pictures for training and evaluation: read, checked as a whole, and grouped by specimen.

A label folder holds pictures and, in ``masks/`` beside them (or in ``masks/`` next to a ``pictures/`` folder), index PNGs
of the same name with the mask codes (255 = unlabelled). A picture can also get its mask from polygons in a COCO
``*.json`` file whose category names are the state names. Optional tables: ``plan.csv`` (file, specimen, zone,
pixel_size_um …) and ``regions.csv`` (file, row_px, col_px, worn). Where no regions are given, a picture's zone (or a
``worn`` column in ``truth.csv``) says whether it is worn. Every problem of a folder is found before anything is used.
"""

import json
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pandas as pd

from semwear.calibrate import Calibration, calibrate
from semwear.errors import SemwearError
from semwear.read import Micrograph, find_pictures, read_mask, read_micrograph
from semwear.terms import REGION_SIZE_UM, MaskCode

CATEGORY_CODES = {
    "plateau": MaskCode.PLATEAU,
    "open valley": MaskCode.OPEN_VALLEY,
    "smeared": MaskCode.SMEARED,
    "scuffed": MaskCode.SCUFFED,
    "not assessed": MaskCode.NOT_ASSESSED,
    "unlabelled": MaskCode.NOT_ASSESSED,
}
"""State names that polygon categories may carry."""


class LabelError(SemwearError):
    """The label folder has problems; the message lists every one, one a line."""


@dataclass(frozen=True, kw_only=True)
class LabelledField:
    """One labelled picture.

    codes: (rows, cols) uint8 mask codes on the picture's own grid; regions: (n, 3) float of row_px, col_px and worn 0/1;
    worn: whether the whole field is worn, None when only regions (or nothing) say so; stroke_deg: as the plan states it,
    degrees in [0, 180), or None.
    """

    micrograph: Micrograph
    calibration: Calibration
    codes: np.ndarray
    regions: np.ndarray
    worn: bool | None
    specimen: str
    stroke_deg: float | None

    def worn_map(self) -> np.ndarray:
        """Return what is worn on the picture's own grid, (rows, cols) uint8: 1 worn, 0 not, 255 unknown.

        Regions say so where there are any, else the whole field does.
        """
        worn = np.full(self.codes.shape, MaskCode.NOT_ASSESSED if self.worn is None else int(self.worn), np.uint8)
        half = REGION_SIZE_UM / 2 / self.calibration.pixel_size_um
        for row, col, state in self.regions:
            worn[max(0, int(row - half)) : int(row + half), max(0, int(col - half)) : int(col + half)] = int(state)
        return worn


def read_labels(folder: Path) -> list[LabelledField]:
    """Read a label folder; raises LabelError with every problem, each named with its file and what to do."""
    folder = Path(folder)
    if not folder.is_dir():
        raise LabelError(f"{folder}: no such folder; name a folder with pictures and a masks folder")
    pictures_folder = folder / "pictures" if (folder / "pictures").is_dir() else folder
    problems: list[str] = []
    tables = _tables(folder, problems)
    polygons = _polygons(folder, problems)
    fields = []
    names = [path for path, _ in find_pictures([pictures_folder])]
    for path in names:
        try:
            fields.append(_read_one(path, folder, pictures_folder, tables, polygons))
        except SemwearError as error:
            problems.append(str(error))
    if not names:
        problems.append(f"{folder}: no pictures found; put pictures there and their masks in {folder / 'masks'}")
    problems += _orphans(folder, names)
    if fields and not problems:
        present = np.unique(np.concatenate([np.unique(field.codes) for field in fields]))
        present = present[present != MaskCode.NOT_ASSESSED]
        if present.size < 2:
            problems.append(
                f"{folder}: the masks hold one state only ({', '.join(map(str, present)) or 'none'}); "
                "label at least two states"
            )
    if problems:
        raise LabelError("\n".join(problems))
    return fields


def _read_one(path: Path, folder: Path, pictures_folder: Path, tables: dict, polygons: dict) -> LabelledField:
    name = path.relative_to(pictures_folder).as_posix()
    micrograph = read_micrograph(path, file=name)
    row = tables["plan"].get(name, {}) | tables["truth"].get(name, {})
    codes = _mask(path, folder, name, micrograph.pixels.shape, polygons)
    given = _stated(row, "pixel_size_um", name)
    stroke_deg = _stated(tables["plan"].get(name, {}), "stroke_deg", name)
    calibration = calibrate(micrograph, given_pixel_size_um=given)
    worn = {"in-track": True, "out-of-track": False}.get(row.get("zone"))
    if row.get("stage") == "before":
        worn = False
    if row.get("worn") not in (None, ""):
        worn = float(row["worn"]) >= 0.5
    regions = np.asarray(tables["regions"].get(name, np.zeros((0, 3))), dtype=float).reshape(-1, 3)
    specimen = str(row.get("specimen") or path.stem)
    return LabelledField(
        micrograph=micrograph, calibration=calibration, codes=codes, regions=regions, worn=worn, specimen=specimen,
        stroke_deg=None if stroke_deg is None else stroke_deg % 180,
    )  # fmt: skip


def _stated(row: dict, column: str, name: str) -> float | None:
    """Return a cell of the tables as a number, None where it is empty."""
    value = row.get(column)
    if value in (None, ""):
        return None
    try:
        number = float(value)
    except ValueError as error:
        raise LabelError(f"{name}: the tables say {column} = {value!r}; give a number or leave it empty") from error
    return number if np.isfinite(number) else None


def _mask(path: Path, folder: Path, name: str, shape: tuple[int, int], polygons: dict) -> np.ndarray:
    stem = Path(name).with_suffix("")
    candidates = [
        folder / "masks" / f"{stem}.png",
        folder / "masks" / f"{name}.png",
        path.parent / "masks" / f"{path.stem}.png",
    ]
    for candidate in candidates:
        if candidate.is_file():
            return _checked_mask(candidate, shape)
    if name in polygons:
        return _drawn_mask(polygons[name], shape)
    raise LabelError(f"{path}: no mask of the same name; expected {candidates[0]} or polygons in a COCO .json")


def _checked_mask(path: Path, shape: tuple[int, int]) -> np.ndarray:
    codes = read_mask(path)
    if codes.shape != shape:
        raise LabelError(
            f"{path}: the mask is {codes.shape[1]} × {codes.shape[0]} px and its picture {shape[1]} × {shape[0]}; "
            "draw masks on the picture's own grid"
        )
    unknown = sorted(set(np.unique(codes).tolist()) - {int(code) for code in MaskCode})
    if unknown:
        raise LabelError(f"{path}: unknown code {unknown[0]}; allowed are {', '.join(str(int(c)) for c in MaskCode)}")
    return codes.astype(np.uint8)


def _drawn_mask(shapes: list[tuple[int, list]], shape: tuple[int, int]) -> np.ndarray:
    """Fill polygons in the order given; what no polygon covers is plateau."""
    codes = np.zeros(shape, np.uint8)
    for code, rings in shapes:
        # COCO vertices are in pixel-edge coordinates, cv2 counts from pixel centres.
        points = [np.round(np.asarray(ring, float).reshape(-1, 2) - 0.5).astype(np.int32) for ring in rings]
        cv2.fillPoly(codes, points, int(code))
    return codes


def _polygons(folder: Path, problems: list[str]) -> dict[str, list]:
    found: dict[str, list] = {}
    for path in sorted(folder.glob("*.json")):
        try:
            content = json.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError) as error:
            problems.append(f"{path}: can't be read as JSON ({error}); export the polygons again")
            continue
        if not (isinstance(content, dict) and {"images", "annotations", "categories"} <= set(content)):
            continue
        names = {image["id"]: image["file_name"] for image in content["images"]}
        codes = {}
        for category in content["categories"]:
            code = CATEGORY_CODES.get(str(category["name"]).strip().lower().replace("_", " "))
            if code is None:
                problems.append(
                    f"{path}: category {category['name']!r} is no state; use {', '.join(CATEGORY_CODES)}"
                )
            codes[category["id"]] = code
        for name in names.values():
            found.setdefault(name, [])
        for annotation in content["annotations"]:
            code, rings = codes.get(annotation["category_id"]), annotation["segmentation"]
            if not isinstance(rings, list):
                problems.append(f"{path}: run-length shape in {names[annotation['image_id']]}; export polygons")
            elif code is not None:
                found[names[annotation["image_id"]]].append((code, rings))
    return found


def _tables(folder: Path, problems: list[str]) -> dict[str, dict]:
    tables: dict[str, dict] = {"plan": {}, "truth": {}, "regions": {}}
    for kind in ("plan", "truth"):
        path = folder / f"{kind}.csv"
        if path.is_file():
            table = pd.read_csv(path, dtype=str, keep_default_na=False)
            if "file" not in table:
                problems.append(f"{path}: no column 'file'; add it with the pictures' names")
                continue
            tables[kind] = {row["file"]: row for row in table.to_dict("records")}
    path = folder / "regions.csv"
    if path.is_file():
        table = pd.read_csv(path)
        missing = {"file", "row_px", "col_px", "worn"} - set(table)
        if missing:
            problems.append(f"{path}: lacks the columns {', '.join(sorted(missing))}; add them")
        elif not set(table["worn"].unique()) <= {0, 1}:
            problems.append(f"{path}: worn must be 0 or 1; correct the table")
        else:
            tables["regions"] = {
                name: rows[["row_px", "col_px", "worn"]].to_numpy(float) for name, rows in table.groupby("file")
            }
    return tables


def _orphans(folder: Path, pictures: list[Path]) -> list[str]:
    """Masks without a picture."""
    stems = {path.stem for path in pictures} | {path.name for path in pictures}
    return [
        f"{path}: a mask without a picture of the same name; add the picture or remove the mask"
        for path in sorted((folder / "masks").glob("**/*.png"))
        if path.stem not in stems
    ]


def fingerprint(pixels: np.ndarray) -> int:
    """Return a 256-bit difference hash of a picture: equal or close (few bits apart) for near-duplicates.

    The picture is reduced to 17 × 16 cells by area averaging; each bit says whether a cell is brighter than its right
    neighbour.
    """
    small = cv2.resize(pixels.astype(np.float32), (17, 16), interpolation=cv2.INTER_AREA)
    bits = (small[:, :-1] > small[:, 1:]).ravel()
    return int.from_bytes(np.packbits(bits).tobytes(), "big")


def leaks(one_side: list[LabelledField], other_side: list[LabelledField], *, near_bits: int = 20) -> list[str]:
    """Return one sentence for each picture or near-duplicate that stands on both sides of a split."""
    found = []
    marks = [(field, fingerprint(field.micrograph.pixels)) for field in other_side]
    for field in one_side:
        mark = fingerprint(field.micrograph.pixels)
        for other, other_mark in marks:
            same = field.micrograph.sha256 == other.micrograph.sha256
            if same or (mark ^ other_mark).bit_count() <= near_bits:
                found.append(
                    f"{field.micrograph.file} and {other.micrograph.file} are "
                    f"{'the same picture' if same else 'near-duplicates'} on both sides of the split; "
                    "give them one specimen or remove one"
                )
    return found
