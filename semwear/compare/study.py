"""A study compared, from the results folder and the plan to readings, effects and what to measure next.

fields → like with like → figures of each specimen → same spots → readings → matrix → relations → planning
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from semwear.compare.evidence import gather
from semwear.compare.interactions import InteractionReading, read_interaction
from semwear.compare.limits import Limits
from semwear.compare.matrix import MatrixModel, adjust_for_many, fit_matrix
from semwear.compare.pictures import FieldSource, field_sources, square_field
from semwear.compare.planning import (
    CellNeed,
    FieldNeed,
    SampleSize,
    cell_needs,
    field_needs,
    open_questions,
    question_sentence,
    sample_size,
)
from semwear.compare.relations import OppositeEffect, RankCorrelation, opposite_effects, rank_correlations
from semwear.compare.specimens import (
    WANTED_HALF_WIDTH,
    SpecimenFigures,
    planned_rows,
    specimen_figures,
)
from semwear.compare.spots import SpotResult, follow_spot
from semwear.compare.verdict import Verdict, verdict
from semwear.errors import PlanError, SemwearError
from semwear.plan import Plan
from semwear.results import read_fields, read_run

BETTER = {"valley_retention": "higher", "smeared_gain": "lower", "scuffed_gain": "lower"}
GEOMETRY_ALONE = (
    "the fields were measured by geometry alone, without the trained network: smear and shallow valleys are read less "
    "surely, and the intervals don't hold that error"
)
WANTED_RATIO = 0.2
"""Relative difference that sample sizes are given for."""


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """All that a study says, ready for the report and the tables."""

    plan: Plan
    run: Mapping
    limits: Limits
    wanted: float
    rows: tuple[dict, ...]
    figures: tuple[SpecimenFigures, ...]
    verdicts: tuple[Verdict, ...]
    spots: tuple[SpotResult, ...]
    values: Mapping[str, tuple[float, ...]]
    models: tuple[MatrixModel, ...]
    interactions: tuple[InteractionReading, ...]
    correlations: tuple[RankCorrelation, ...]
    opposites: tuple[OppositeEffect, ...]
    field_needs: tuple[FieldNeed, ...]
    cell_needs: tuple[CellNeed, ...]
    sizes: tuple[SampleSize, ...]
    questions: tuple[str, ...]
    sources: Mapping[str, FieldSource]
    cautions: tuple[str, ...]


def compare_study(
    results: Path,
    plan: Plan,
    *,
    limits: Limits | None = None,
    wanted: float = WANTED_HALF_WIDTH,
    mix_settings: bool = False,
    pictures: Path | None = None,
) -> Comparison:
    """Return the comparison of a results folder by a plan.

    ``pictures``: folder of the pictures, where they no longer are where they were measured. ``wanted``: half-width of the
    retention's interval that is aimed for. Raises ResultsError for a folder that semwear measure didn't write, PlanError
    when no field of it is in the plan.
    """
    results, limits = Path(results), limits or Limits()
    measured, run = read_fields(results), read_run(results)
    rows, strangers = planned_rows(measured, plan)
    if not rows:
        raise PlanError(
            f"{plan.path}: none of the {len(measured)} fields of {results} is in the plan; compare the column file with "
            f"{measured[0]['file'] if measured else 'an empty results folder'}"
        )
    figures = specimen_figures(rows, mix_settings=mix_settings, wanted=wanted)
    sources = field_sources(rows, run, results, pictures)
    spots = same_spots(rows, sources)
    verdicts = [
        verdict(own, gather(own, plan, limits, [spot for spot in spots if spot.specimen == own.specimen]))
        for own in figures
    ]
    values = specimen_values(figures, plan)
    models, readings, opposites = _matrix(plan, values, limits)
    cells = cell_needs(plan, figures)
    by_response = {model.response: model for model in models}
    return Comparison(
        plan=plan,
        run=run,
        limits=limits,
        wanted=wanted,
        rows=tuple(rows),
        figures=tuple(figures),
        verdicts=tuple(verdicts),
        spots=tuple(spots),
        values=values,
        models=tuple(models),
        interactions=tuple(readings),
        correlations=tuple(rank_correlations(values)),
        opposites=tuple(opposites),
        field_needs=tuple(field_needs(figures, wanted)),
        cell_needs=tuple(cells),
        sizes=tuple(sample_size(model, _wanted(model, values)) for model in models if model.effects),
        questions=tuple(
            question_sentence(effect, plan, cells, by_response[effect.response]) for effect in open_questions(models)
        ),
        sources=sources,
        cautions=(*_measured_how(run), *_cautions(plan, rows, strangers, figures, models)),
    )


def specimen_values(figures: Sequence[SpecimenFigures], plan: Plan) -> dict[str, tuple[float, ...]]:
    """Return each figure over the plan's specimens, in their order: retention, gain of smear and scuff, and the responses.

    A specimen without measured pictures has its responses all the same, and nan for what pictures tell.
    """
    by_name = {own.specimen: own for own in figures}
    names = [planned.specimen for planned in plan.specimens]

    def told(figure) -> tuple[float, ...]:
        return tuple(figure(by_name[name]) if name in by_name else math.nan for name in names)

    values = {
        "valley_retention": told(lambda own: own.retention.value),
        "smeared_gain": told(lambda own: own.change("smeared_fraction")),
        "scuffed_gain": told(lambda own: own.change("scuffed_fraction")),
    }
    for response in plan.responses:
        values[response.name] = tuple(planned.values.get(response.name, math.nan) for planned in plan.specimens)
    return values


def same_spots(rows: Sequence[Mapping], sources: Mapping[str, FieldSource]) -> list[SpotResult]:
    """Return what became of the grooves at each place that was pictured before and after the test."""
    places: dict[tuple[str, str], dict[str, Mapping]] = {}
    for row in rows:
        if row["spot"] and row["specimen"]:
            places.setdefault((row["specimen"], row["spot"]), {})[row["stage"]] = row
    found = []
    for (specimen, spot), stages in places.items():
        if {"before", "after"} <= set(stages):
            found.append(_follow(specimen, spot, stages["before"], stages["after"], sources))
    return found


def _follow(specimen: str, spot: str, before: Mapping, after: Mapping, sources) -> SpotResult:
    named = {"specimen": specimen, "spot": spot, "file_before": before["file"], "file_after": after["file"]}
    for row in (before, after):
        if row["file"] not in sources:
            return SpotResult(**named, reason=f"{row['file']} has no mask")
    try:
        (_, codes_before), (_, codes_after) = (square_field(sources[row["file"]]) for row in (before, after))
    except SemwearError as error:
        return SpotResult(**named, reason=str(error))
    return follow_spot(
        codes_before,
        codes_after,
        pixel_before_um=before["pixel_size_um"],
        pixel_after_um=after["pixel_size_um"],
        lays_deg=(before["lay_1_deg"], before["lay_2_deg"]),
        **named,
    )


def _matrix(plan: Plan, values, limits: Limits):
    """Return the models of all figures, the interactions in words, and effects that go opposite ways."""
    if not plan.factors:
        return [], [], []
    levels = [planned.levels for planned in plan.specimens]
    if any(factor not in own for own in levels for factor in plan.factors):
        return [], [], []
    models = []
    for name, column in values.items():
        known = [value for value in column if math.isfinite(value)]
        if len(known) < 2 or max(known) == min(known):
            continue
        models.append(adjust_for_many(fit_matrix(name, levels, column, plan.factors)))
    better = BETTER | {response.name: response.better for response in plan.responses}
    readings = [
        read_interaction(model, effect, better[model.response])
        for model in models
        for effect in model.effects
        if effect.term.count(" × ") == 1 and effect.excludes_null
    ]
    means = {
        name: sum(known) / len(known)
        for name, column in values.items()
        if (known := [value for value in column if math.isfinite(value)])
    }
    least = {"iron_ppm": limits.iron_band / 2, "friction": limits.friction_band / 2, "valley_retention": 0.1}
    # A gain of smear or scuff below its own limit is none, however large it is beside a mean of nearly nothing.
    for name, limit in (("smeared_gain", limits.smeared), ("scuffed_gain", limits.scuffed)):
        least[name] = max(0.25, limit / abs(means[name])) if means.get(name) else math.inf
    opposites = opposite_effects({model.response: model for model in models}, better, least, means)
    return models, readings, opposites


def _wanted(model: MatrixModel, values) -> float:
    known = [value for value in values[model.response] if math.isfinite(value)]
    return WANTED_RATIO if model.is_log else WANTED_RATIO * abs(sum(known) / len(known))


def _measured_how(run: Mapping) -> list[str]:
    """Return a caution when no network took part: smear and worn-shallow valleys are then read less surely."""
    if run.get("model"):
        return []
    return [GEOMETRY_ALONE]


def _cautions(plan: Plan, rows, strangers, figures, models) -> list[str]:
    cautions = [str(caution) for caution in plan.cautions]
    if strangers:
        cautions.append(f"{len(strangers)} measured fields aren't in the plan and were left out: {_some(strangers)}")
    listed = {planned.sheet_row for planned in plan.fields_for(row["file"] for row in rows).values()}
    missing = [planned.file for planned in plan.fields if planned.sheet_row not in listed]
    if missing:
        cautions.append(f"{len(missing)} fields of the plan weren't measured: {_some(missing)}")
    for own in figures:
        cautions += [f"{own.specimen}: {caution}" for caution in own.cautions]
    cautions += dict.fromkeys(f"matrix: {each}" for model in models for each in (*model.notes, *model.dropped))
    return cautions


def _some(names: Sequence[str], most: int = 4) -> str:
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")
