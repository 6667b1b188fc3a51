"""One pixel size out of all that the metadata of a picture say, or the contradiction."""

import math
from dataclasses import dataclass, replace

from semwear.metadata_scale.beam import detector_name, tilt_deg, voltage_kv
from semwear.metadata_scale.entries import all_entries
from semwear.metadata_scale.pixel_size import (
    Candidate,
    candidates_of,
    magnification_of,
    phrase_candidates,
    resolution_candidate,
)
from semwear.read import Micrograph

CALIBRATION_RELATIVE_U = 0.0025
"""Relative standard uncertainty of any stated pixel size beside its rounding: in one laboratory's 1,487 public micrographs
scale × magnification agrees within 0.5 % for 96 % (two standard uncertainties). How well the microscope itself is
calibrated (ASTM E766 asks for 5 % or better) is common to all sources of one picture and not part of it."""

CONTRADICTION = 0.05
"""Relative difference from which two statements contradict one another."""

STATED_LIMITS_UM = (1e-5, 1e3)
"""Pixel sizes that are taken up at all, µm; what lies outside is no statement about a picture."""


@dataclass(frozen=True, kw_only=True)
class StatedFacts:
    """What the metadata say. Numbers that are not stated are None (sizes) or nan; texts are "".

    ``pixel_size_um`` and ``pixel_height_um`` are those of the stored picture: a statement about a picture of another
    width is scaled (``rescaled``). ``source_text`` quotes the statement. ``disagreement``: statements differ by more than
    their uncertainties; where they contradict one another ``pixel_size_um`` is None and ``reason`` says so.
    ``candidates`` are all statements, those of contradictions included.
    """

    pixel_size_um: float | None
    pixel_height_um: float | None
    pixel_size_u_um: float | None
    source_text: str
    reason: str
    disagreement: bool
    rescaled: bool
    kv: float
    detector: str
    tilt_deg: float
    magnification: float
    candidates: tuple[Candidate, ...]


def facts_from_metadata(micrograph: Micrograph) -> StatedFacts:
    """Return what the metadata of a picture state, by what they say and not by who wrote them."""
    rows, columns = micrograph.pixels.shape
    entries = all_entries(micrograph.metadata)
    by_source: dict[str, list] = {}
    for entry in entries:
        by_source.setdefault(entry.source, []).append(entry)
    found: list[Candidate] = []
    loose: list = []  # texts of one short line stand for one text together: PNG keywords, EXIF fields
    for source, some in by_source.items():
        if len(some) == 1 and "\n" not in micrograph.metadata.get(source, ""):
            loose += some
        else:
            found += candidates_of(some, columns)
    found += candidates_of(loose, columns)
    for source, text in micrograph.metadata.items():
        found += phrase_candidates(source, text, columns)
    tag = resolution_candidate(micrograph.metadata)
    if tag is not None:
        found.append(tag)
    low, high = STATED_LIMITS_UM
    found = [one for one in dict.fromkeys(found) if low <= one.um <= high]
    scaled, unclear = [], ""
    for one in found:
        stored = _for_stored_picture(one, rows, columns)
        if stored is None:
            unclear = (f"the metadata speak of a picture {one.columns_px} px wide ({one.statement}) but it is {columns} px "
                       "wide and may be cropped or rescaled")
        else:
            scaled.append(stored)
    beam = {"kv": voltage_kv(entries), "detector": detector_name(entries), "tilt_deg": tilt_deg(entries),
            "magnification": magnification_of(entries), "candidates": tuple(found)}
    nothing = {"pixel_size_um": None, "pixel_height_um": None, "pixel_size_u_um": None, "source_text": "",
               "disagreement": False, "rescaled": False}
    if not scaled:
        return StatedFacts(**nothing, reason=unclear or "the metadata state no pixel size or field width with a unit", **beam)
    best = min(scaled, key=_relative_u)
    worst = max(scaled, key=lambda one: abs(math.log(one.um / best.um)))
    if abs(worst.um / best.um - 1.0) > CONTRADICTION:
        return StatedFacts(**{**nothing, "disagreement": True}, **beam,
                           reason=f"the metadata contradict themselves: {best.um:.4g} µm ({best.statement}) and "
                                  f"{worst.um:.4g} µm ({worst.statement})")
    heights = [one.height_um for one in scaled if one.height_um is not None]
    return StatedFacts(
        pixel_size_um=best.um, pixel_height_um=best.height_um or (heights[0] if heights else None),
        pixel_size_u_um=best.um * _relative_u(best), source_text=best.statement, reason="",
        disagreement=any(not agree(best.um, best.um * _relative_u(best), one.um, one.um * _relative_u(one))
                         for one in scaled),
        rescaled=best.columns_px not in (None, columns), **beam)


def _relative_u(candidate: Candidate) -> float:
    return math.hypot(candidate.relative_u, CALIBRATION_RELATIVE_U)


def agree(first: float, first_u: float, second: float, second_u: float) -> bool:
    """Tell whether two values agree within their uncertainties: apart by at most two combined standard uncertainties.

    >>> agree(1.0, 0.01, 1.02, 0.01), agree(1.0, 0.01, 1.04, 0.01)
    (True, False)
    """
    return abs(first - second) <= 2.0 * math.hypot(first_u, second_u)


def _for_stored_picture(one: Candidate, rows: int, columns: int) -> Candidate | None:
    """Return a statement scaled to the stored width; None when the picture may as well have been cropped.

    A picture whose width and height both changed by one ratio was rescaled (its height may have gained a data bar of up
    to a fifth); where no height is stated the ratio of widths can't be told from a crop.
    """
    if one.columns_px is None or one.columns_px == columns:
        return one
    ratio = one.columns_px / columns
    if one.rows_px is None:
        return None
    grown = rows * ratio / one.rows_px
    if not 0.99 <= grown <= 1.2:
        return None
    height = None if one.height_um is None else one.height_um * ratio
    return replace(one, um=one.um * ratio, height_um=height)
