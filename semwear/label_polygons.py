"""Polygons of labelled pictures: COCO files read, every shape checked, and masks filled from them.

Whatever is wrong is added to a list of sentences that name file and annotation; no shape is left out without a word, as
what no polygon covers is plateau.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np

from semwear.errors import PlanError
from semwear.label_tables import picture_named
from semwear.plan import Plan
from semwear.terms import MaskCode

CATEGORY_CODES = {
    "plateau": MaskCode.PLATEAU,
    "open valley": MaskCode.OPEN_VALLEY,
    "smeared": MaskCode.SMEARED,
    "scuffed": MaskCode.SCUFFED,
    "not assessed": MaskCode.NOT_ASSESSED,
    "unlabelled": MaskCode.NOT_ASSESSED,
}
"""State names that polygon categories may carry."""
FARTHEST_PX = 1e9
"""A coordinate beyond this is no place in a picture."""


@dataclass(frozen=True, kw_only=True)
class Outline:
    """One shape: its mask code, its rings, each (n, 2) of x and y in pixel-edge coordinates, and where it stands."""

    code: int
    rings: tuple[np.ndarray, ...]
    where: str


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """What one COCO file draws on one picture; ``shape`` (rows, cols) is the picture's as the file states it, or None."""

    path: Path
    shape: tuple[int, int] | None
    outlines: list[Outline] = field(default_factory=list)


def read_drawings(folder: Path, pictures: Plan, told: list[str]) -> dict[str, list[Drawing]]:
    """Return what the COCO files of a folder draw, by picture; other JSON files are passed over."""
    found: dict[str, list[Drawing]] = {}
    for path in sorted(folder.glob("*.json")):
        try:
            content = json.loads(path.read_text(encoding="utf-8-sig"))
        except (OSError, ValueError, RecursionError) as error:
            told.append(f"{path}: can't be read as JSON ({error}); export the polygons again")
            continue
        if isinstance(content, dict) and {"images", "annotations", "categories"} <= set(content):
            for name, drawing in _drawings(path, content, pictures, told).items():
                found.setdefault(name, []).append(drawing)
    return found


def filled(drawings: list[Drawing], shape: tuple[int, int], name: str, told: list[str]) -> np.ndarray:
    """Return (rows, cols) uint8 mask codes: shapes filled in the order given, plateau where there is none."""
    codes = np.zeros(shape, np.uint8)
    size = np.array(shape[::-1])
    stated = f"{name}, which is {shape[1]} × {shape[0]} px"
    for drawing in drawings:
        if drawing.shape not in (None, shape):
            told.append(
                f"{drawing.path}: made for a picture of {drawing.shape[1]} × {drawing.shape[0]} px, not for {stated}; "
                "draw polygons on the picture's own grid"
            )
            continue
        for outline in drawing.outlines:
            if any(_is_outside(ring, size) for ring in outline.rings):
                told.append(f"{outline.where}: a polygon lies outside {stated}; draw it again or delete it")
                continue
            # COCO vertices are in pixel-edge coordinates, cv2 counts from pixel centres.
            points = [np.round(ring - 0.5).astype(np.int32) for ring in outline.rings]
            cv2.fillPoly(codes, points, int(outline.code))
    return codes


def _is_outside(ring: np.ndarray, size: np.ndarray) -> bool:
    """True for a ring beside the picture, or one that reaches farther beyond its edges than the picture is long."""
    beside = (ring.min(0) >= size) | (ring.max(0) <= 0)
    return bool(beside.any() or (ring < -size).any() or (ring > 2 * size).any())


def _drawings(path: Path, content: dict, pictures: Plan, told: list[str]) -> dict[str, Drawing]:
    def complain(found: str, remedy: str) -> None:
        told.append(f"{path}{found}; {remedy}")

    images = _by_id(content["images"], "image", "file_name", complain)
    codes = {}
    for key, category in _by_id(content["categories"], "category", "name", complain).items():
        codes[key] = CATEGORY_CODES.get(category["name"].strip().lower().replace("_", " "))
        if codes[key] is None:
            complain(f": category {category['name']!r} is no state", f"use {', '.join(CATEGORY_CODES)}")
    drawn = {key: Drawing(path=path, shape=_stated_shape(image)) for key, image in images.items()}
    for number, annotation in enumerate(_entries(content["annotations"], "annotation", complain), start=1):
        where = f", annotation {annotation.get('id', f'number {number}')}"
        image, category = (_key(annotation.get(name)) for name in ("image_id", "category_id"))
        fault = _shape_fault(annotation.get("segmentation"))
        if image not in drawn:
            complain(f"{where}: image_id {annotation.get('image_id')!r} is none of the images", "export the polygons again")
        elif category not in codes:
            what = f"category_id {annotation.get('category_id')!r} is none of the categories"
            complain(f"{where}: {what}", "give it a category or export the polygons again")
        elif fault:
            complain(f"{where}: {fault} in {images[image]['file_name']}", "draw it again, delete it or export polygons")
        elif codes[category] is not None:
            rings = tuple(np.array(ring, float).reshape(-1, 2) for ring in annotation["segmentation"])
            drawn[image].outlines.append(Outline(code=codes[category], rings=rings, where=f"{path}{where}"))
    found: dict[str, Drawing] = {}
    for key, image in images.items():
        try:
            name = picture_named(image["file_name"], pictures)
        except PlanError as error:
            told.append(f"{path}: {error}")
            continue
        if name in found:
            complain(f": {name} is listed twice among the images", "join its entries")
        elif name:
            found[name] = drawn[key]
        elif drawn[key].outlines:
            what = f": it draws polygons on {image['file_name']}, which isn't among the pictures"
            complain(what, "add the picture or remove its polygons")
    return found


def _entries(given: object, kind: str, complain: Callable[[str, str], None]) -> list[dict]:
    """Return the entries of one of the lists of a COCO file that are objects."""
    entries = given if isinstance(given, list) else [given]
    for number, entry in enumerate(entries, start=1):
        if not isinstance(entry, dict):
            complain(f": {kind} number {number} is no object", "export the polygons again")
    return [entry for entry in entries if isinstance(entry, dict)]


def _by_id(given: object, kind: str, needed: str, complain: Callable[[str, str], None]) -> dict[object, dict]:
    """Return entries by their id; each must have one of its own, and a text under ``needed``."""
    found: dict[object, dict] = {}
    for number, entry in enumerate(_entries(given, kind, complain), start=1):
        key, text = _key(entry.get("id")), entry.get(needed)
        if key is None or not isinstance(text, str) or not text.strip():
            lacking = "id" if key is None else needed
            complain(f": {kind} number {number} has no {lacking}", "export the polygons again")
        elif key in found:
            complain(f": two entries of {kind} have the id {key}", "export the polygons again")
        else:
            found[key] = entry
    return found


def _key(value: object) -> int | float | str | None:
    return value if isinstance(value, (int, float, str)) else None


def _stated_shape(image: dict) -> tuple[int, int] | None:
    rows, cols = image.get("height"), image.get("width")
    return (rows, cols) if all(isinstance(length, int) and length > 0 for length in (rows, cols)) else None


def _shape_fault(rings: object) -> str:
    """Return what is wrong with the shape of an annotation, empty for polygons that can be filled."""
    if isinstance(rings, (dict, str)):
        return "run-length shape"
    if not isinstance(rings, list) or not rings:
        return "no polygon (segmentation)"
    for ring in rings:
        if not isinstance(ring, list):
            return "segmentation that is no list of polygons"
        strange = [value for value in ring if not _is_number(value)]
        if strange:
            return f"polygon with {strange[0]!r} for a coordinate"
        if len(ring) < 6 or len(ring) % 2:
            return f"polygon of {len(ring)} numbers (x and y of three corners or more are wanted)"
        points = np.array(ring, float).reshape(-1, 2)
        if np.linalg.matrix_rank(points - points[0]) < 2:
            return "polygon whose corners lie on one line"
    return ""


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) <= FARTHEST_PX
