"""Pairs of pictures, in the track and out of it, cut to one physical size and drawn at one scale, outlines apart.

The outlines are a picture of their own, transparent elsewhere, so that the report can lay them on or take them off.
"""

import base64
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from semwear.compare.specimens import SpecimenFigures
from semwear.errors import ReadError, SemwearError
from semwear.overlay import (
    CASING,
    HATCH_COLOUR,
    RULING,
    RULING_SPACING,
    STYLES,
    TINT,
    hatching,
    key,
    length_text,
    outline,
    round_length_um,
    ruled,
)
from semwear.terms import MaskCode

DRAWN_WIDTH_PX = 560
KEY_SHAPE = (18, 36)


@dataclass(frozen=True, kw_only=True)
class DrawnPicture:
    """One side of a pair: file, zone, picture and outlines as data addresses, valley fraction as text."""

    file: str
    zone: str
    picture: str
    outlines: str
    caption: str


@dataclass(frozen=True, kw_only=True)
class PicturePair:
    """Two pictures at one scale: scale bar length as text and as a share of the width; ``reason`` when there is none."""

    specimen: str
    sides: tuple[DrawnPicture, ...]
    bar_text: str = ""
    bar_percent: float = 0.0
    width_text: str = ""
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class FieldSource:
    """Where picture and mask of a field are, and its square pixel size on the mask's grid."""

    file: str
    picture: Path
    mask: Path
    pixel_size_um: float


def field_sources(
    rows: Sequence[Mapping], run: Mapping, results: Path, pictures: Path | None
) -> dict[str, FieldSource]:
    """Return where the picture and the mask of each measured field are; fields without a mask are left out.

    The picture is looked for under ``pictures`` first, then where it was measured, then as the row names it. Raises
    ReadError when there is no folder ``pictures``.
    """
    if pictures is not None and not pictures.is_dir():
        raise ReadError(
            f"{pictures}: there is no such folder of pictures; name the one that holds them now, or leave --pictures out"
        )
    files = run.get("files", {})
    sources = {}
    for row in rows:
        known = files.get(row["file"], {})
        if row["status"] != "measured" or not known.get("mask"):
            continue
        places = [Path(known.get("picture", "")), Path(row["file"])]
        if pictures is not None:
            parts = Path(row["file"]).parts
            places = [pictures.joinpath(*parts[start:]) for start in range(len(parts))] + places
        found = next((place for place in places if place.is_file()), Path(row["file"]))
        sources[row["file"]] = FieldSource(
            file=row["file"], picture=found, mask=results / known["mask"], pixel_size_um=row["pixel_size_um"]
        )
    return sources


def square_field(source: FieldSource) -> tuple[np.ndarray, np.ndarray]:
    """Return grey picture (rows, cols) uint8 and mask codes of a field on square pixels, cut to the assessed picture.

    Raises ReadError when picture or mask can't be read, or don't belong together.
    """
    from semwear.calibrate import pixel_aspect
    from semwear.metadata_scale import facts_from_metadata
    from semwear.read import read_mask, read_micrograph

    micrograph = read_micrograph(source.picture, file=source.file)
    codes = read_mask(source.mask)
    grey = np.asarray(micrograph.pixels, dtype=np.float32)
    if grey.shape != codes.shape:
        raise ReadError(f"{source.file}: picture and mask differ in size; measure again")
    aspect = pixel_aspect(micrograph, facts_from_metadata(micrograph))
    if abs(aspect - 1) > 0.005:
        size = (codes.shape[1], max(1, round(codes.shape[0] * aspect)))
        grey = cv2.resize(grey, size, interpolation=cv2.INTER_LINEAR)
        codes = cv2.resize(codes, size, interpolation=cv2.INTER_NEAREST)
    assessed = codes != MaskCode.NOT_ASSESSED
    rows, cols = np.flatnonzero(assessed.mean(1) > 0.1), np.flatnonzero(assessed.mean(0) > 0.1)
    if not rows.size or not cols.size:
        raise ReadError(f"{source.file}: nothing of the picture was assessed; measure again")
    cut = np.s_[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]
    low, high = np.percentile(grey[cut][::4, ::4], (0.3, 99.7))
    levels = np.clip((grey[cut] - low) / max(high - low, 1e-6) * 255, 0, 255)
    return levels.astype(np.uint8), codes[cut]


def picture_pair(
    figures: SpecimenFigures, rows: Mapping[str, Mapping], sources: Mapping[str, FieldSource]
) -> PicturePair:
    """Return the pair of a specimen: of either zone the field whose valley fraction is nearest to the zone's mean."""
    sides = []
    for zone, files, share in (
        ("in-track", figures.run_files, figures.run["valley_fraction"].mean),
        ("reference", figures.reference_files, figures.reference["valley_fraction"].mean),
    ):
        usable = [file for file in files if file in sources]
        if usable:
            file = min(usable, key=lambda each: abs(rows[each]["valley_fraction"] - share))
            sides.append((zone, file))
    if len(sides) < 2:
        return PicturePair(specimen=figures.specimen, sides=(), reason="no field with a mask in one of the zones")
    try:
        fields = [square_field(sources[file]) for _, file in sides]
    except SemwearError as error:
        return PicturePair(specimen=figures.specimen, sides=(), reason=str(error))
    sizes_um = [
        (codes.shape[0] * sources[file].pixel_size_um, codes.shape[1] * sources[file].pixel_size_um)
        for (_, file), (_, codes) in zip(sides, fields, strict=True)
    ]
    height_um, width_um = (min(size[axis] for size in sizes_um) for axis in (0, 1))
    bar_um = round_length_um(0.25 * width_um)
    drawn = []
    for (zone, file), (grey, codes) in zip(sides, fields, strict=True):
        picture, outlines = _drawn(grey, codes, sources[file].pixel_size_um, width_um, height_um)
        row = rows[file]
        where = (
            "in the track"
            if zone == "in-track"
            else "before the test"
            if row["stage"] == "before"
            else "out of the track"
        )
        caption = (
            f"{where}: {100 * row['valley_fraction']:.1f} % open valley, {100 * row['smeared_fraction']:.1f} % smeared"
        )
        if row["scuffed_fraction"] >= 0.005:
            caption += f", {100 * row['scuffed_fraction']:.1f} % scuffed"
        drawn.append(DrawnPicture(file=file, zone=zone, picture=picture, outlines=outlines, caption=caption))
    return PicturePair(
        specimen=figures.specimen,
        sides=tuple(drawn),
        bar_text=length_text(bar_um),
        bar_percent=100 * bar_um / width_um,
        width_text=length_text(round(width_um)) if width_um >= 1 else length_text(width_um),
    )


def _drawn(grey, codes, pixel_size_um: float, width_um: float, height_um: float) -> tuple[str, str]:
    """Return picture and outlines as data addresses, the middle of the field cut to the wanted physical size."""
    rows, cols = (max(1, round(size / pixel_size_um)) for size in (height_um, width_um))
    top, left = (codes.shape[0] - rows) // 2, (codes.shape[1] - cols) // 2
    cut = np.s_[max(0, top) : max(0, top) + rows, max(0, left) : max(0, left) + cols]
    size = (DRAWN_WIDTH_PX, max(1, round(DRAWN_WIDTH_PX * height_um / width_um)))
    method = cv2.INTER_AREA if size[0] < cols else cv2.INTER_CUBIC
    picture = cv2.resize(np.ascontiguousarray(grey[cut]), size, interpolation=method)
    states = cv2.resize(np.ascontiguousarray(codes[cut]), size, interpolation=cv2.INTER_NEAREST)
    return _address(picture), _address(drawn_states(states))


def drawn_states(states: np.ndarray) -> np.ndarray:
    """Return mask codes drawn as semwear.overlay draws them, alone and transparent elsewhere, (rows, cols, 4) uint8."""
    drawn = np.zeros((*states.shape, 4), np.uint8)
    dark = (0, 0, 0, round(255 * CASING))
    light, beside = hatching(states == MaskCode.NOT_ASSESSED)
    drawn[beside] = dark
    drawn[light] = (*HATCH_COLOUR, 255)
    for code, style in STYLES.items():
        if style.rulings:
            drawn[states == code] = (*style.colour, round(255 * TINT))
        for ruling in style.rulings:
            drawn[(states == code) & ruled(states.shape, ruling, RULING_SPACING)] = (*style.colour, round(255 * RULING))
    edges = np.zeros(states.shape, bool)
    for code, style in STYLES.items():
        edge, casing = outline(states == code, style)
        drawn[casing & ~edges] = dark
        drawn[edge] = (*style.colour, 255)
        edges |= edge
    return drawn


def _address(picture: np.ndarray) -> str:
    from PIL import Image

    stream = io.BytesIO()
    lossless = picture.ndim == 3  # outlines and keys
    Image.fromarray(picture).save(stream, format="WEBP", quality=70, method=4, lossless=lossless)
    return "data:image/webp;base64," + base64.b64encode(stream.getvalue()).decode("ascii")


def legend() -> list[tuple[str, str]]:
    """Return the name of each state, and of what is not assessed, with its key as a data address."""
    named = [(style.name, style) for style in STYLES.values()] + [("not assessed", None)]
    return [(name, _address(key(style, KEY_SHAPE))) for name, style in named]
