"""The report of a run: one self-contained HTML file with a picture, the figures and the flags of every field."""

import base64
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path

from semwear.area_fraction import area_fraction, doubted_interval
from semwear.copies import is_copy
from semwear.plots import group_name, overview_svg
from semwear.terms import FIELD_COLUMNS, FLAGS

SHOWN_FIGURES = (
    ("valley_fraction", "open valley", "percent"),
    ("smeared_fraction", "smeared", "percent"),
    ("scuffed_fraction", "scuffed", "percent"),
    ("plateau_fraction", "plateau", "percent"),
    ("not_assessed_fraction", "not assessed", "percent"),
    ("valley_retention", "valley retention", "ratio"),
    ("worn_score", "worn score", "ratio"),
    ("worn_fraction", "worn regions", "percent"),
    ("hone_angle_deg", "hone angle about the circumference", "degrees"),
    ("groove_balance", "groove balance", "ratio"),
    ("groove_width_um", "groove width", "micrometres"),
    ("groove_length_density_per_mm", "open groove length", "density"),
    ("groove_continuity", "groove continuity", "ratio"),
    ("field_width_um", "field width", "micrometres"),
    ("pixel_size_um", "pixel size", "micrometres"),
)
"""Figures of a field in the report: column, words and how the number is written."""
TABLE_FIGURES = ("valley_fraction", "smeared_fraction", "scuffed_fraction", "valley_retention", "worn_score",
                 "hone_angle_deg", "field_width_um")  # fmt: skip
"""Those that the table of all fields shows."""


def figure_text(value: float, kind: str) -> str:
    """Return a figure as the report writes it; an en dash where it is unknown.

    >>> figure_text(0.1234, "percent"), figure_text(float("nan"), "ratio"), figure_text(0.5, "ratio")
    ('12.3 %', '–', '0.50')
    """
    if not math.isfinite(value):
        return "–"
    if kind == "percent":
        return f"{100 * value:.1f} %"
    if kind == "degrees":
        return f"{value:.1f}°"
    if kind == "micrometres":
        return f"{value:.3g} µm" if value < 100 else f"{value:.0f} µm"
    if kind == "density":
        return f"{value:.1f} mm/mm²"
    return f"{value:.2f}"


def build_report(rows: Sequence[Mapping], run: Mapping, small_pictures: Mapping[str, Path]) -> str:
    """Return the report as HTML text.

    rows: final rows of the fields table; run: content of run.json; small_pictures: WebP file of each field by name; a
    field without one is shown without a picture.
    """
    fields = [_field(number, row, small_pictures.get(row["file"])) for number, row in enumerate(rows, start=1)]
    counts = Counter(flag for field in fields for flag in field["flags"])
    return _template().render(
        fields=fields,
        run=run,
        summary=summary_sentences(rows, run),
        groups=group_table(rows),
        flag_counts=sorted(counts.items()),
        flag_meanings=FLAGS,
        table_heads=[(name, words) for name, words, _ in SHOWN_FIGURES if name in TABLE_FIGURES],
        overview=overview_svg(rows),
        columns=FIELD_COLUMNS,
    )


@lru_cache(maxsize=1)
def _template():
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("semwear", "templates"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    return environment.get_template("report.html")


def _field(number: int, row: Mapping, picture: Path | None) -> dict:
    """Return what the template needs of one field."""
    figures = [
        {"name": name, "words": words, "text": _with_interval(row, name, kind), "value": row[name]}
        for name, words, kind in SHOWN_FIGURES
    ]
    return {
        "number": number,
        "row": row,
        "measured": row["status"] == "measured",
        "group": group_name(row),
        "flags": [flag for flag in row["flags"].split(";") if flag],
        "figures": figures,
        "table": [figure for figure in figures if figure["name"] in TABLE_FIGURES],
        "picture": _embedded(picture) if row["status"] == "measured" else "",
        "beam": _beam(row),
    }


def _with_interval(row: Mapping, name: str, kind: str) -> str:
    text = figure_text(row[name], kind)
    low, high = row.get(f"{name}_low", math.nan), row.get(f"{name}_high", math.nan)
    if math.isfinite(row[name]) and math.isfinite(low) and math.isfinite(high):
        text += f" ({figure_text(low, kind).removesuffix(' %')} to {figure_text(high, kind)})"
    if name == "valley_retention" and row["retention_basis"] == "continuity":
        text = f"at most {text}"
    return text


def _beam(row: Mapping) -> str:
    words = [f"{row['kv']:g} kV"] if math.isfinite(row["kv"]) else []
    words += [row["detector"]] if row["detector"] else []
    words += [f"tilt {row['tilt_deg']:g}°"] if math.isfinite(row["tilt_deg"]) else []
    return ", ".join(words)


def _embedded(picture: Path | None) -> str:
    """Return a picture file as a data address, empty when it isn't there."""
    try:
        content = picture.read_bytes() if picture else b""
    except OSError:
        return ""
    return f"data:image/webp;base64,{base64.b64encode(content).decode()}" if content else ""


def summary_sentences(rows: Sequence[Mapping], run: Mapping) -> list[str]:
    """Return what the run gave, in sentences."""
    measured = [row for row in rows if row["status"] == "measured"]
    sentences = [f"{len(measured)} of {run['pictures']} pictures measured, {len(rows) - len(measured)} refused."]
    if not run["complete"]:
        sentences.append("The run was stopped before its end; the same command goes on from here.")
    by_reference = [row for row in measured if row["retention_basis"] == "reference" and row["valley_retention"] >= 0 and not is_copy(row)]
    if by_reference:
        sentences.append(_retention_sentence(by_reference))
    bounded = sum(row["retention_basis"] == "continuity" for row in measured)
    if bounded:
        sentences.append(
            f"{bounded} fields have no usable reference: their retention is the continuity of the traced grooves, an "
            "upper bound, since valleys worn shallow leave nothing to trace."
        )
    flagged = sum(bool(row["flags"]) for row in measured)
    if flagged:
        sentences.append(f"{flagged} measured fields carry flags; read them before the figures.")
    return sentences


def _retention_sentence(rows: Sequence[Mapping]) -> str:
    values = sorted(row["valley_retention"] for row in rows)
    ends = [row[f"valley_retention_{end}"] for row in rows for end in ("low", "high")]
    known = [end for end in ends if math.isfinite(end)]
    reach = f"{min(known):.2f} to {max(known):.2f}" if known else ""
    if len(values) == 1:
        doubt = f", its 95 % interval {reach}" if known else ""
        return f"Valley retention against reference fields is {values[0]:.2f} in one field{doubt}."
    doubt = f"; their 95 % intervals reach from {reach}" if known else ""
    return f"Valley retention against reference fields lies between {values[0]:.2f} and {values[-1]:.2f} over {len(values)} fields{doubt}."


def group_table(rows: Sequence[Mapping]) -> list[dict]:
    """Return mean and 95 % interval over fields of the three fractions, by specimen, zone and stage; a copy doesn't count."""
    groups: dict[str, list[Mapping]] = {}
    for row in rows:
        if row["status"] == "measured" and not is_copy(row):
            groups.setdefault(group_name(row), []).append(row)
    table = []
    for name in sorted(groups):
        means = []
        for column in ("valley_fraction", "smeared_fraction", "scuffed_fraction"):
            values, lows, highs = ([row[column + end] for row in groups[name]] for end in ("", "_low", "_high"))
            low, high = doubted_interval(values, lows, highs)
            mean = f"{100 * area_fraction(values).mean:.1f} %"
            means.append(f"{mean} ({100 * low:.1f} to {100 * high:.1f})" if math.isfinite(low) else mean)
        table.append({"name": name, "fields": len(groups[name]), "means": means})
    return table
