"""One row of figures from one field: every column of the fields table except the retention, which needs other fields.

Areas are counted over assessed pixels only (ASTM E562 with every pixel as a point), lengths along the traced grooves.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from semwear.metrics import fractions
from semwear.terms import FIELD_COLUMNS, join_flags

SCUFFING_FRACTION = 0.005
"""Scuffed share of the assessed area from which a field is flagged as scuffed (this project's own limit)."""
GROOVES_NEEDED = 5
"""Traced grooves below which continuity, width and balance don't describe a surface (this project's own limit)."""
WITHHELD_FLAGS = frozenset({"unlike the training fields"})
"""Flags with which worn scores, retention and the intervals of the fractions are left empty: the picture may not show a honed
surface at all, and intervals fitted on such as do don't hold."""
STATES = ("plateau", "valley", "smeared", "scuffed")


@dataclass(frozen=True, kw_only=True)
class FieldStates:
    """What segmentation and scoring found in one field, whichever way it was found.

    codes: (rows, cols) uint8 mask codes on the picture's own grid. lays and grooves: semwear.lay.Lays and
    semwear.groove.Grooves. regions: dicts with the keys of the regions table except ``file``. margins: how far the
    95 % interval of the valley, smeared and scuffed fraction reaches (below, above) it, NaN where unknown. distance: from
    the training fields, above 1 unlike them, NaN when no network ran. method: how the states were found, in words.
    """

    codes: np.ndarray
    lays: object
    grooves: object
    regions: tuple[dict, ...] = ()
    margins: tuple[tuple[float, float], ...] = ((float("nan"), float("nan")),) * 3
    distance: float = float("nan")
    flags: tuple[str, ...] = ()
    method: str = "geometry"


def empty_row(file: str, **known) -> dict:
    """Return a row with every column of the fields table: NaN for numbers, empty text, except what is known.

    >>> row = empty_row("a.tif", status="refused", reason="no scale")
    >>> row["status"], row["valley_fraction"], row["flags"]
    ('refused', nan, '')
    """
    row = {column.name: float("nan") if column.kind is float else "" for column in FIELD_COLUMNS}
    unknown = set(known) - set(row)
    if unknown:
        raise KeyError(f"not columns of the fields table: {sorted(unknown)}")
    return row | {"file": file} | known


def measure_field(
    *,
    file: str,
    sha256: str,
    states: FieldStates,
    pixel_size_um: float,
    pixel_size_u_um: float,
    pixel_size_source: str,
    picture: np.ndarray,
    pixel_height_um: float | None = None,
    flags: Iterable[str] = (),
    **stated,
) -> dict:
    """Return the row of one measured field; retention columns stay empty until other fields are known.

    ``picture``: (rows, cols) bool, True where the micrograph itself is, False on data bar and burnt-in marks.
    ``pixel_height_um`` is the side of a pixel along a column, that along a row if None. ``stated`` are further columns
    known from plan or picture (specimen, zone, stage, kv, detector, tilt_deg, stroke_source).

    The four fractions are shares of the assessed pixels and add up to 1; all are NaN, with the status ``refused``, when
    nothing is assessed. Worn columns and intervals stay empty without a network and with a flag of ``WITHHELD_FLAGS``.
    """
    codes = states.codes
    shares = fractions(codes)
    raised = set(flags) | set(states.flags)
    width_um, height_um = _extent_um(picture, pixel_size_um, pixel_height_um or pixel_size_um)
    scale = {
        "pixel_size_um": pixel_size_um,
        "pixel_size_u_um": pixel_size_u_um,
        "pixel_size_source": pixel_size_source,
        "field_width_um": width_um,
        "field_height_um": height_um,
    }
    if not np.isfinite(shares).all():
        reason = _why_nothing(file, raised)
        known = scale | stated | {"sha256": sha256, "flags": join_flags(raised)}
        return empty_row(file, status="refused", reason=reason, **known)
    area_mm2 = float((codes < 4).sum()) * pixel_size_um * (pixel_height_um or pixel_size_um) * 1e-6
    groove_figures, groove_flags = measure_grooves(states.lays, states.grooves, area_mm2)
    raised |= groove_flags
    if shares[3] >= SCUFFING_FRACTION:
        raised.add("scuffing")
    row = empty_row(
        file,
        sha256=sha256,
        status="measured",
        not_assessed_fraction=float(np.mean(codes[picture] >= 4)) if picture.any() else float("nan"),
        training_distance=states.distance,
        **scale,
        **groove_figures,
        **{f"{name}_fraction": float(share) for name, share in zip(STATES, shares, strict=True)},
    )
    if not raised & WITHHELD_FLAGS:
        row |= _intervals(shares, states.margins) | measure_regions(states.regions)
    return row | stated | {"flags": join_flags(raised)}


def _why_nothing(file: str, flags: set[str]) -> str:
    """Return the sentence for a field of which nothing is assessed."""
    if "no lay found" in flags:
        return (
            f"{file}: no hone lay was found, and without one geometry can't tell grooves from other marks; "
            "use a model, or take a field that shows the hone pattern"
        )
    return f"{file}: no part of the picture can be assessed; take the field again with less clipping and charging"


def measure_regions(regions) -> dict:
    """Return worn_score (mean worn probability) and worn_fraction (share at 0.5 or more); NaN without regions.

    >>> measure_regions([{"worn_probability": 0.9}, {"worn_probability": 0.3}])
    {'worn_score': 0.6, 'worn_fraction': 0.5}
    """
    worn = np.array([region["worn_probability"] for region in regions], dtype=float)
    if not worn.size:
        return {"worn_score": float("nan"), "worn_fraction": float("nan")}
    return {"worn_score": float(worn.mean()), "worn_fraction": float(np.mean(worn >= 0.5))}


def measure_grooves(lays, grooves, area_mm2: float) -> tuple[dict, set[str]]:
    """Return the columns about lays and grooves, and the flags that they raise.

    Lay 1 is the lay with more traced groove length, open and smeared together. Balance is the shorter over the longer
    of the two lengths, 0 where nothing of the second lay could be traced, and empty with one lay alone; density counts
    open length only; width is the median over grooves that are open somewhere; continuity is open / (open + smeared)
    length. All empty without a lay.
    """
    directions = np.asarray(lays.directions_deg, dtype=float)
    nothing = float("nan")
    figures = {"hone_angle_deg": nothing, "lay_1_deg": nothing, "lay_2_deg": nothing, "groove_balance": nothing}
    figures |= {"stroke_deg": float(lays.stroke_deg), "groove_width_um": nothing, "groove_continuity": nothing}
    figures["groove_length_density_per_mm"] = nothing
    if not directions.size:
        return figures, {"no lay found"}
    open_um = np.asarray(grooves.open_length_um, dtype=float)
    smeared_um = np.asarray(grooves.smeared_length_um, dtype=float)
    lay_index = np.asarray(grooves.lay_index, dtype=int)
    length_um = np.bincount(lay_index, weights=open_um + smeared_um, minlength=directions.size)[: directions.size]
    order = np.argsort(-length_um, kind="stable")
    figures["lay_1_deg"] = float(directions[order[0]])
    raised = set()
    if directions.size == 2:
        figures["lay_2_deg"] = float(directions[order[1]])
        figures["hone_angle_deg"] = float(lays.hone_angle_deg)
        if length_um.max() > 0:
            figures["groove_balance"] = float(length_um.min() / length_um.max())
    else:
        raised.add("one lay only")
    if open_um.size < GROOVES_NEEDED:
        raised.add("too few grooves")
    is_open = open_um > 0
    if is_open.any():
        figures["groove_width_um"] = float(np.median(np.asarray(grooves.width_um, dtype=float)[is_open]))
    figures["groove_length_density_per_mm"] = float(open_um.sum()) * 1e-3 / area_mm2
    traced_um = float(open_um.sum() + smeared_um.sum())
    if traced_um > 0:
        figures["groove_continuity"] = float(open_um.sum()) / traced_um
    return figures, raised


def _intervals(shares: np.ndarray, margins) -> dict:
    """Return the ends of the 95 % intervals of the three fractions, kept inside [0, 1]."""
    ends = {}
    for name, share, (below, above) in zip(STATES[1:], shares[1:], margins, strict=True):
        ends[f"{name}_fraction_low"] = float(np.clip(share - below, 0, 1))
        ends[f"{name}_fraction_high"] = float(np.clip(share + above, 0, 1))
    return ends


def _extent_um(picture: np.ndarray, width_of_pixel_um: float, height_of_pixel_um: float) -> tuple[float, float]:
    """Return width and height in µm of the smallest upright rectangle around the micrograph proper."""
    rows, cols = np.flatnonzero(picture.any(axis=1)), np.flatnonzero(picture.any(axis=0))
    if not rows.size:
        return float("nan"), float("nan")
    return float(cols[-1] - cols[0] + 1) * width_of_pixel_um, float(rows[-1] - rows[0] + 1) * height_of_pixel_um
