"""The comparison as tables, written as CSV and as one workbook; one of them says what the specimens' columns mean."""

import csv
import io
import math
from collections.abc import Mapping, Sequence

from semwear.compare.study import Comparison

SPECIMEN_COLUMNS = {
    "specimen": "name in the plan",
    "reading": "what the evidence says together",
    "why": "the reading, or why there is none, in words",
    "valley_retention": "mean valley fraction in the track over that of the reference",
    "valley_retention_low": "lower end of the 95 % interval (tied-scatter log ratio)",
    "valley_retention_high": "upper end of the 95 % interval",
    "fieller_low": "lower end of Fieller's 95 % interval, for comparison",
    "fieller_high": "upper end of Fieller's 95 % interval",
    "run_fields": "fields in the track that were used",
    "reference_fields": "reference fields that were used",
    "fields_needed": "fields in each zone for the wanted half-width; empty when unknown",
    "valley_fraction_track": "mean over the fields in the track",
    "valley_fraction_reference": "mean over the reference fields",
    "smeared_fraction_track": "mean over the fields in the track",
    "smeared_fraction_reference": "mean over the reference fields",
    "scuffed_fraction_track": "mean over the fields in the track",
    "scuffed_fraction_reference": "mean over the reference fields",
    "worn_fraction_track": "mean over the fields in the track",
    "groove_continuity_track": "mean over the fields in the track; an upper bound of retention that needs no reference",
    "same_spot_retention": "open valley area after over before at the same places",
}
"""Columns of the specimens table before the factors and responses of the plan, with their meaning."""


def specimen_rows(found: Comparison) -> list[dict]:
    """Return one row a specimen: reading, figures with intervals, levels and responses."""
    rows = []
    for own, read in zip(found.figures, found.verdicts, strict=True):
        spots = [spot for spot in found.spots if spot.specimen == own.specimen and math.isfinite(spot.retention)]
        before = sum(spot.open_before_um2 for spot in spots)
        planned = found.plan.specimen(own.specimen)
        row = {
            "specimen": own.specimen,
            "reading": read.reading,
            "why": read.why,
            "valley_retention": own.retention.value,
            "valley_retention_low": own.retention.low,
            "valley_retention_high": own.retention.high,
            "fieller_low": own.fieller[0],
            "fieller_high": own.fieller[1],
            "run_fields": own.retention.run_fields,
            "reference_fields": own.retention.reference_fields,
            "fields_needed": own.fields_needed or math.nan,
            "valley_fraction_track": own.run["valley_fraction"].mean,
            "valley_fraction_reference": own.reference["valley_fraction"].mean,
            "smeared_fraction_track": own.run["smeared_fraction"].mean,
            "smeared_fraction_reference": own.reference["smeared_fraction"].mean,
            "scuffed_fraction_track": own.run["scuffed_fraction"].mean,
            "scuffed_fraction_reference": own.reference["scuffed_fraction"].mean,
            "worn_fraction_track": own.run["worn_fraction"].mean,
            "groove_continuity_track": own.continuity,
            "same_spot_retention": sum(spot.open_after_um2 for spot in spots) / before if before else math.nan,
        }
        row |= {factor: planned.levels.get(factor, "") for factor in found.plan.factors}
        row |= {response.name: planned.values.get(response.name, math.nan) for response in found.plan.responses}
        rows.append(row)
    return rows


def column_rows(found: Comparison) -> list[dict]:
    """Return one row a column of the specimens table: its name and what it means."""
    planned = dict.fromkeys(found.plan.factors, "factor of the plan: its level")
    planned |= {
        response.name: f"response of the plan, unit {response.unit or 'not stated'}, {response.better} is better"
        for response in found.plan.responses
    }
    return [{"column": name, "meaning": meaning} for name, meaning in (SPECIMEN_COLUMNS | planned).items()]


def effect_rows(found: Comparison) -> list[dict]:
    """Return one row an effect."""
    return [
        {
            "response": effect.response,
            "term": effect.term,
            "contrast": effect.contrast,
            "kind": "ratio" if effect.is_ratio else "difference",
            "estimate": effect.estimate,
            "low": effect.low,
            "high": effect.high,
            "p": effect.p,
            "p_permutation": effect.p_permutation,
            "p_holm": effect.p_holm,
            "aliased_with": "; ".join(effect.aliased_with),
            "specimens": model.specimens,
            "method": model.method,
        }
        for model in found.models
        for effect in model.effects
    ]


def correlation_rows(found: Comparison) -> list[dict]:
    """Return one row a rank correlation."""
    return [
        {
            "first": each.first,
            "second": each.second,
            "specimens": each.specimens,
            "rank_correlation": each.value,
            "low": each.low,
            "high": each.high,
            "p": each.p,
            "p_holm": each.p_holm,
        }
        for each in found.correlations
    ]


def field_rows(found: Comparison) -> list[dict]:
    """Return one row a field: what it was used as, or why it was left out."""
    rows = []
    for own in found.figures:
        used = [(file, "in the track", "") for file in own.run_files]
        used += [(file, "reference", "") for file in own.reference_files]
        used += [(file, "left out", reason) for file, reason in own.left_out]
        rows += [{"specimen": own.specimen, "file": file, "used_as": how, "reason": why} for file, how, why in used]
    return rows


def spot_rows(found: Comparison) -> list[dict]:
    """Return one row a place pictured before and after."""
    return [
        {
            "specimen": spot.specimen,
            "spot": spot.spot,
            "file_before": spot.file_before,
            "file_after": spot.file_after,
            "retention": spot.retention,
            "open_before_um2": spot.open_before_um2,
            "open_after_um2": spot.open_after_um2,
            "smeared_after_um2": spot.smeared_after_um2,
            "survived": spot.count("survived"),
            "narrowed": spot.count("narrowed"),
            "smeared_over": spot.count("smeared over"),
            "gone": spot.count("gone"),
            "rotation_deg": spot.registration.rotation_deg if spot.registration else math.nan,
            "correlation": spot.registration.correlation if spot.registration else math.nan,
            "overlap": spot.registration.overlap if spot.registration else math.nan,
            "reason": spot.reason,
        }
        for spot in found.spots
    ]


def need_rows(found: Comparison) -> list[dict]:
    """Return one row for each thing to measure next."""
    rows = [
        {"kind": "fields", "of": need.specimen, "number": need.needed, "sentence": need.sentence}
        for need in found.field_needs
    ]
    rows += [
        {
            "kind": "cell of the matrix",
            "of": " + ".join(need.cell),
            "number": need.specimens,
            "sentence": "specimens so far",
        }
        for need in found.cell_needs
    ]
    rows += [
        {"kind": "specimens a level", "of": size.response, "number": size.specimens, "sentence": size_sentence(size)}
        for size in found.sizes
    ]
    rows += [{"kind": "open question", "of": "", "number": "", "sentence": question} for question in found.questions]
    return rows


def size_sentence(size) -> str:
    """Return a sample size in words."""
    wanted = f"a ratio of {1 + size.wanted:.2f}" if size.is_ratio else f"a difference of {size.wanted:.3g}"
    if not size.specimens:
        return f"{wanted}: the scatter between like specimens isn't known yet"
    count = "1000 or more" if size.specimens >= 1000 else str(size.specimens)
    return f"{wanted} needs {count} specimens at each level for a chance of 80 % at the 5 % level"


def all_tables(found: Comparison) -> dict[str, list[dict]]:
    """Return every table by name; empty tables are left out."""
    tables = {
        "specimens": specimen_rows(found),
        "effects": effect_rows(found),
        "correlations": correlation_rows(found),
        "same_spots": spot_rows(found),
        "fields_used": field_rows(found),
        "next": need_rows(found),
        "columns": column_rows(found),
    }
    return {name: rows for name, rows in tables.items() if rows}


def csv_bytes(rows: Sequence[Mapping]) -> bytes:
    """Return rows as a CSV file: UTF-8, comma, point, six significant digits, empty for unknown."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(rows[0])
    for row in rows:
        writer.writerow([_cell(value) for value in row.values()])
    return stream.getvalue().encode("utf-8", "backslashreplace")


def _cell(value) -> str:
    if isinstance(value, float):
        return f"{value:.6g}" if math.isfinite(value) else ""
    return str(value)


def workbook_bytes(tables: Mapping[str, Sequence[Mapping]]) -> bytes:
    """Return the tables as one .xlsx, one sheet each; texts are stored as texts, also where they begin like a formula."""
    import openpyxl
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in tables.items():
        sheet = book.create_sheet(name)
        for column, title in enumerate(rows[0], start=1):
            sheet.cell(1, column, title).font = Font(bold=True)
            sheet.column_dimensions[get_column_letter(column)].width = max(10, min(30, len(title) + 2))
        for number, row in enumerate(rows, start=2):
            for column, value in enumerate(row.values(), start=1):
                if isinstance(value, float) and not math.isfinite(value):
                    continue
                text = ILLEGAL_CHARACTERS_RE.sub("?", value) if isinstance(value, str) else value
                cell = sheet.cell(number, column, text)
                if isinstance(value, str):
                    cell.data_type = "s"
        sheet.freeze_panes = "B2"
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()
