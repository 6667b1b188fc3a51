"""Labelled pictures for training and evaluation: read, checked as a whole, and grouped by specimen.

A label folder holds pictures and, in ``masks/`` beside them (or in ``masks/`` next to a ``pictures/`` folder), index PNGs
of the same name with the mask codes (255 = unlabelled). A picture can instead get its mask from polygons in a COCO
``*.json`` file whose category names are the state names. Optional tables: ``plan.csv`` or ``plan.xlsx`` (file, specimen,
zone, pixel_size_um …) and ``regions.csv`` (file, row_px, col_px, worn). Where no regions are given, a picture's zone (or
a ``worn`` column in ``truth.csv``: 1 or 0) says whether it is worn. A picture that the plan doesn't list is a specimen of
its own. Every problem of a folder is found before anything is used.
"""

from dataclasses import dataclass
from math import isnan
from pathlib import Path

import cv2
import numpy as np

from semwear.calibrate import Calibration, calibrate
from semwear.errors import SemwearError
from semwear.label_polygons import Drawing, filled, read_drawings
from semwear.label_tables import Region, Stated, picture_list, read_regions, read_stated
from semwear.read import Micrograph, find_pictures, read_mask, read_micrograph
from semwear.terms import REGION_SIZE_UM, MaskCode


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
    paths = [path for path, _ in find_pictures([pictures_folder])]
    names = [path.relative_to(pictures_folder).as_posix() for path in paths]
    pictures = picture_list(names)
    stated = read_stated(folder, pictures, problems)
    regions = read_regions(folder, pictures, problems)
    drawings = read_drawings(folder, pictures, problems)
    fields = []
    for path, name in zip(paths, names, strict=True):
        try:
            micrograph = read_micrograph(path, file=name)
            shape = micrograph.pixels.shape
            codes = _mask(path, folder, name, shape, drawings.get(name), problems)
            problems += _regions_outside(regions.get(name, []), shape, folder, name)
            fields.append(_field(micrograph, codes, stated.get(name, Stated()), regions.get(name, [])))
        except SemwearError as error:
            problems.append(str(error))
    if not names:
        problems.append(f"{folder}: no pictures found; put pictures there and their masks in {folder / 'masks'}")
    problems += _orphans(folder, paths)
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


def _field(micrograph: Micrograph, codes: np.ndarray, stated: Stated, regions: list[Region]) -> LabelledField:
    size_um = None if isnan(stated.pixel_size_um) else stated.pixel_size_um
    worn = {"in-track": True, "out-of-track": False}.get(stated.zone)
    if stated.stage == "before":
        worn = False
    if stated.worn is not None:
        worn = stated.worn
    return LabelledField(
        micrograph=micrograph, calibration=calibrate(micrograph, given_pixel_size_um=size_um), codes=codes,
        regions=np.array([(one.row_px, one.col_px, one.worn) for one in regions], float).reshape(-1, 3), worn=worn,
        specimen=stated.specimen or Path(micrograph.file).stem,
        stroke_deg=None if isnan(stated.stroke_deg) else stated.stroke_deg % 180,
    )  # fmt: skip


def _regions_outside(regions: list[Region], shape: tuple[int, int], folder: Path, name: str) -> list[str]:
    return [
        f"{folder / 'regions.csv'}, row {one.sheet_row}: row_px {one.row_px:g}, col_px {one.col_px:g} lies outside {name}, "
        f"which is {shape[1]} × {shape[0]} px; correct it or delete the row"
        for one in regions
        if one.row_px > shape[0] or one.col_px > shape[1]
    ]


def _mask(
    path: Path, folder: Path, name: str, shape: tuple[int, int], drawings: list[Drawing] | None, problems: list[str]
) -> np.ndarray:
    stem = Path(name).with_suffix("")
    candidates = [
        folder / "masks" / f"{stem}.png",
        folder / "masks" / f"{name}.png",
        path.parent / "masks" / f"{path.stem}.png",
    ]
    for candidate in candidates:
        if candidate.is_file():
            problems += [
                f"{drawing.path}: it draws polygons on {name}, which has the mask {candidate} too; keep one of them"
                for drawing in drawings or []
                if drawing.outlines
            ]
            return _checked_mask(candidate, shape)
    if drawings is not None:
        return filled(drawings, shape, name, problems)
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
