"""The report of a study: one self-contained HTML file, and the tables beside it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from semwear import __version__
from semwear.compare.evidence import interval_text, percent, standing
from semwear.compare.figures import interactions_svg, iron_svg, retention_svg
from semwear.compare.limits import LIMIT_MEANINGS
from semwear.compare.pictures import PicturePair, legend, picture_pair
from semwear.compare.relations import change_text, words_of
from semwear.compare.sentences import summary
from semwear.compare.study import Comparison
from semwear.compare.tables import all_tables, csv_bytes, size_sentence, workbook_bytes
from semwear.compare.verdict import CANT_TELL, READINGS
from semwear.errors import ResultsError
from semwear.results import REPORT_NAME, RUN_NAME, write_whole

MOST_PAIRS = 16
"""Picture pairs in the report; specimens whose valleys changed most come first when there are more."""
MOST_ROWS = 200
"""Rows of a table in the report; all stand in the tables beside it."""


@dataclass(frozen=True, kw_only=True)
class JoinedSection:
    """A section from another kind of measurement on the same specimens: sentences, a table, a figure as SVG text."""

    title: str
    sentences: tuple[str, ...] = ()
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    figure: str = ""


def write_comparison(found: Comparison, out: Path, *, joined: Sequence[JoinedSection] = ()) -> list[Path]:
    """Write report, tables and workbook; return the paths, the report first.

    ``out``: a folder (report.html, comparison.xlsx, tables/….csv), or an .html file (NAME.html, NAME.xlsx,
    NAME_tables/….csv). Raises ResultsError when it can't be written, or is a results folder.
    """
    out = Path(out)
    if out.suffix.lower() in (".html", ".htm"):
        if out.name == REPORT_NAME and (out.parent / RUN_NAME).exists():
            raise ResultsError(f"{out}: this is the report of a results folder; choose another name for --out")
        report, workbook, folder = out, out.with_suffix(".xlsx"), out.with_name(f"{out.stem}_tables")
    else:
        if (out / "run.json").exists():
            raise ResultsError(
                f"{out}: this is a results folder, whose report would be overwritten; choose another --out"
            )
        report, workbook, folder = out / "report.html", out / "comparison.xlsx", out / "tables"
    tables = all_tables(found)
    written = [report, workbook]
    write_whole(report, build_comparison(found, joined=joined).encode("utf-8", "backslashreplace"))
    write_whole(workbook, workbook_bytes(tables))
    for name, rows in tables.items():
        write_whole(folder / f"{name}.csv", csv_bytes(rows))
        written.append(folder / f"{name}.csv")
    return written


def build_comparison(found: Comparison, *, joined: Sequence[JoinedSection] = ()) -> str:
    """Return the report as HTML text; ``joined``: sections of other measurements, shown after the same places."""
    return _template().render(
        version=__version__,
        found=found,
        joined=joined,
        summary=summary(found),
        matrix=_matrix_rows(found)[:MOST_ROWS],
        hidden_rows=max(0, len(found.figures) - MOST_ROWS),
        responses=found.plan.responses,
        factors=found.plan.factors,
        verdicts=_verdicts(found)[:MOST_ROWS],
        readings=READINGS,
        cant_tell=CANT_TELL,
        pairs=_pairs(found),
        legend=legend(),
        retention_figure=retention_svg(found.figures, found.verdicts, found.limits),
        iron_figure=_iron_figure(found),
        effects=_effects(found),
        correlations=[_correlation(each) for each in found.correlations],
        spots=found.spots,
        sizes=[(words_of(size.response), size_sentence(size)) for size in found.sizes],
        emptiest=[need for need in found.cell_needs if need.specimens == found.cell_needs[0].specimens][:12],
        left_out=[(own.specimen, file, why) for own in found.figures for file, why in own.left_out][:MOST_ROWS],
        limits=[(name, getattr(found.limits, name), meaning) for name, meaning in LIMIT_MEANINGS.items()],
        provenance=_provenance(found),
        fields=[_field(row) for row in found.rows[:MOST_ROWS]],
        hidden_fields=max(0, len(found.rows) - MOST_ROWS),
    )


@lru_cache(maxsize=1)
def _template():
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("semwear", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["percent"] = percent
    environment.filters["number"] = number_text
    return environment.get_template("compare.html")


def number_text(value: float, digits: int = 3) -> str:
    """Return a number with some significant digits; an en dash where it is unknown.

    >>> number_text(0.12345), number_text(float("nan")), number_text(61.0)
    ('0.123', '–', '61')
    """
    return f"{value:.{digits}g}" if isinstance(value, (int, float)) and math.isfinite(value) else "–"


def _matrix_rows(found: Comparison) -> list[dict]:
    rows = []
    for own, read in zip(found.figures, found.verdicts, strict=True):
        planned = found.plan.specimen(own.specimen)
        rows.append(
            {
                "specimen": own.specimen,
                "levels": [planned.levels.get(factor, "–") for factor in found.plan.factors],
                "retention": interval_text(own.retention.value, own.retention.low, own.retention.high),
                "smeared": percent(own.run["smeared_fraction"].mean),
                "scuffed": percent(own.run["scuffed_fraction"].mean),
                "values": [
                    number_text(planned.values.get(response.name, math.nan)) for response in found.plan.responses
                ],
                "fields": f"{own.retention.run_fields} + {own.retention.reference_fields}",
                "reading": read.reading,
            }
        )
    return rows


def _verdicts(found: Comparison) -> list[dict]:
    return [
        {
            "specimen": read.specimen,
            "reading": read.reading,
            "why": read.why,
            "sides": [
                ("speaks for it" if read.reading != CANT_TELL else "would speak for a reading", read.supporting),
                ("speaks against it", read.contradicting),
                ("beside it", read.silent),
            ],
        }
        for read in found.verdicts
    ]


def _pairs(found: Comparison) -> list[PicturePair]:
    """Return the picture pairs, in the order of the specimens; with too many those that changed most."""
    rows = {row["file"]: row for row in found.rows}
    chosen = list(found.figures)
    if len(chosen) > MOST_PAIRS:
        changed = sorted(
            (own for own in chosen if math.isfinite(own.retention.value)), key=lambda own: own.retention.value
        )
        names = {own.specimen for own in changed[:MOST_PAIRS]}
        chosen = [own for own in chosen if own.specimen in names]
    return [picture_pair(own, rows, found.sources) for own in chosen]


def _iron_figure(found: Comparison) -> str:
    if "iron_ppm" not in found.values:
        return ""
    limits = found.limits
    ends = standing(found.plan, "iron_ppm", low=limits.iron_low, high=limits.iron_high, band=limits.iron_band)
    return iron_svg(
        found.figures,
        found.verdicts,
        [found.plan.specimen(own.specimen).values.get("iron_ppm", math.nan) for own in found.figures],
        unit=found.plan.response("iron_ppm").unit,
        low=ends.low,
        high=ends.high,
    )


def _effects(found: Comparison) -> list[dict]:
    units = {response.name: response.unit for response in found.plan.responses}
    return [
        {
            "words": words_of(model.response),
            "model": model,
            "figure": interactions_svg(model, units.get(model.response, "1")),
            "rows": [
                {
                    "term": effect.term + (f" (or {', '.join(effect.aliased_with)})" if effect.aliased_with else ""),
                    "contrast": effect.contrast,
                    "change": change_text(effect),
                    "p": number_text(effect.p, 2),
                    "p_permutation": number_text(effect.p_permutation, 2),
                    "p_holm": number_text(effect.p_holm, 2),
                    "state": "settled" if effect.is_settled else "suggested" if effect.excludes_null else "open",
                }
                for effect in model.effects
            ],
            "interactions": [each.sentence for each in found.interactions if each.response == model.response],
        }
        for model in found.models
    ]


def _correlation(each) -> dict:
    return {
        "pair": f"{words_of(each.first)} and {words_of(each.second)}",
        "value": f"{each.value:+.2f} ({each.low:+.2f} to {each.high:+.2f})",
        "specimens": each.specimens,
        "p_holm": number_text(each.p_holm, 2),
    }


def _provenance(found: Comparison) -> list[tuple[str, str]]:
    run = found.run
    model = run.get("model") or {}
    named = (
        f"{model.get('name', '')} (weights {str(model.get('sha256', ''))[:12]})" if model else "none: geometry alone"
    )
    settings = run.get("settings") or {}
    return [
        ("compared with", f"semwear {__version__}"),
        ("measured with", f"semwear {run.get('semwear', '–')}, {run.get('started', '–')}"),
        ("model", named),
        ("settings of the measurement", ", ".join(f"{name} {value}" for name, value in settings.items()) or "–"),
        ("packages", ", ".join(f"{name} {version}" for name, version in (run.get("packages") or {}).items()) or "–"),
        ("plan", Path(found.plan.path).name),
        ("fields in the plan", str(len(found.plan.fields))),
    ]


def _field(row) -> dict:
    beam = [f"{row['kv']:g} kV" if math.isfinite(row["kv"]) else "", row["detector"]]
    beam.append(f"tilt {row['tilt_deg']:g}°" if math.isfinite(row["tilt_deg"]) else "")
    return {
        "file": row["file"],
        "specimen": row["specimen"],
        "zone": ", ".join(word for word in (row["zone"], row["stage"]) if word),
        "width": f"{number_text(row['field_width_um'])} µm",
        "pixel": f"{number_text(row['pixel_size_um'])} µm ({row['pixel_size_source'] or '–'})",
        "beam": ", ".join(word for word in beam if word) or "–",
        "valley": percent(row["valley_fraction"]),
        "smeared": percent(row["smeared_fraction"]),
        "scuffed": percent(row["scuffed_fraction"]),
        "flags": row["flags"].replace(";", ", ") or "–",
    }
