"""What to measure next: fields in a zone, specimens in a cell of the matrix, specimens for a wanted difference."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from semwear.compare.matrix import Effect, MatrixModel
from semwear.compare.ratio import NORMAL_95
from semwear.compare.relations import words_of
from semwear.compare.specimens import SpecimenFigures
from semwear.plan import Plan

POWER = 0.8
MOST_SPECIMENS = 1000


@dataclass(frozen=True, kw_only=True)
class FieldNeed:
    """Fields that a specimen lacks: how many there are, how many each zone should have, and which zone helps most."""

    specimen: str
    run_fields: int
    reference_fields: int
    needed: int
    zone: str
    sentence: str


@dataclass(frozen=True, kw_only=True)
class CellNeed:
    """A cell of the matrix with its number of specimens that have a retention."""

    cell: tuple[str, ...]
    specimens: int


@dataclass(frozen=True, kw_only=True)
class SampleSize:
    """Specimens needed at each level to find a wanted difference with 80 % chance at the 5 % level; 0 if unknown."""

    response: str
    wanted: float
    is_ratio: bool
    deviation: float
    specimens: int


def field_needs(figures: Sequence[SpecimenFigures], wanted: float) -> list[FieldNeed]:
    """Return what each specimen lacks for a half-width of ``wanted`` of its retention."""
    needs = []
    for own in figures:
        found = own.retention
        width = found.half_width
        least = found.value * math.sinh(NORMAL_95 * own.shared_u)  # what any number of fields leaves
        if math.isfinite(width) and width <= wanted:
            continue
        if not found.reference_fields:
            words = "needs reference fields: out of the track, or before the test"
        elif not found.run_fields:
            words = "needs fields in the track"
        elif min(found.run_fields, found.reference_fields) < 2:
            words = "needs two fields or more in each zone before any interval can be given"
        elif not own.fields_needed:
            words = f"can't be planned: {found.reason}"
        elif least > wanted:
            words = (
                f"has ± {width:.2f}; more fields don't bring ± {wanted:g}, since all of them may be wrong alike by "
                f"± {least:.2f}: sharper pictures or a second method do"
            )
        else:
            most = "200 or more" if own.fields_needed >= 200 else str(own.fields_needed)
            words = f"has ± {width:.2f}; about {most} fields in each zone bring ± {wanted:g}"
            words += f", and one more helps most in: {own.zone_to_add}" if own.zone_to_add else ""
        needs.append(
            FieldNeed(
                specimen=own.specimen,
                run_fields=found.run_fields,
                reference_fields=found.reference_fields,
                needed=own.fields_needed,
                zone=own.zone_to_add,
                sentence=f"{own.specimen} {words}.",
            )
        )
    return needs


def cell_needs(plan: Plan, figures: Sequence[SpecimenFigures], *, most_cells: int = 4096) -> list[CellNeed]:
    """Return every cell of the matrix with its count of specimens that have a retention, emptiest first.

    Empty for a plan without factors, or with more than ``most_cells`` cells.
    """
    if not plan.factors:
        return []
    levels = [list(dict.fromkeys(own.levels[factor] for own in plan.specimens)) for factor in plan.factors]
    if math.prod(len(each) for each in levels) > most_cells:
        return []
    with_retention = {own.specimen for own in figures if math.isfinite(own.retention.value)}
    counts = dict.fromkeys(itertools.product(*levels), 0)
    for own in plan.specimens:
        counts[tuple(own.levels[factor] for factor in plan.factors)] += own.specimen in with_retention
    return [CellNeed(cell=cell, specimens=count) for cell, count in sorted(counts.items(), key=lambda each: each[1])]


def sample_size(model: MatrixModel, wanted: float) -> SampleSize:
    """Return the specimens needed at each of two levels to find a difference of ``wanted``.

    ``wanted`` is relative on the log scale (0.2: a ratio of 1.2) and in the response's unit otherwise. From the scatter
    between like specimens that the model found; power of the two-sample t test (statsmodels), 80 % at 5 %.
    """
    from statsmodels.stats.power import TTestIndPower

    size = math.log1p(wanted) if model.is_log else wanted
    known = math.isfinite(model.residual_deviation) and model.residual_deviation > 0 and size > 0
    count = 0
    if known:
        ratio = size / model.residual_deviation
        power = TTestIndPower()
        count = 2
        while count < MOST_SPECIMENS and power.power(ratio, count, 0.05) < POWER:
            # Counting up in steps that grow keeps this quick; the last steps are single ones.
            count += max(1, count // 20)
        while count > 2 and power.power(ratio, count - 1, 0.05) >= POWER:
            count -= 1
    return SampleSize(
        response=model.response,
        wanted=wanted,
        is_ratio=model.is_log,
        deviation=model.residual_deviation,
        specimens=count,
    )


def open_questions(models: Sequence[MatrixModel], *, most: int = 3) -> list[Effect]:
    """Return the effects nearest to being settled among those that aren't, strongest first."""
    unsettled = [
        effect
        for model in models
        for effect in model.effects
        if math.isfinite(effect.p) and not effect.is_settled and effect.p < 0.3
    ]
    return sorted(unsettled, key=lambda effect: effect.p)[:most]


def question_sentence(effect: Effect, plan: Plan, cells: Sequence[CellNeed], model: MatrixModel) -> str:
    """Return which cells need more specimens to settle an effect, and about how many in all.

    With the scatter as it is, the half-width shrinks with the root of the number of specimens: to leave no effect out,
    the present number grows by (half-width / distance from no effect)².
    """
    factors = effect.term.split(" × ")
    places = [plan.factors.index(factor) for factor in factors]
    wanted = set(effect.first) | set(effect.second)
    concerned = [each for each in cells if all(each.cell[place] in wanted for place in places)]
    fewest = min((each.specimens for each in concerned), default=0)
    named = [" + ".join(each.cell) for each in concerned if each.specimens == fewest][:4]
    said = f"Whether {effect.term} changes {words_of(effect.response)} is open"
    if math.isfinite(effect.low):
        log = math.log if effect.is_ratio else float
        distance = abs(log(effect.estimate))
        half = (log(effect.high) - log(effect.low)) / 2 if effect.low > 0 or not effect.is_ratio else math.nan
        if distance > half:
            said += "; the interval leaves no effect out already, the adjustment for many tests doesn't"
        elif distance > 0 and math.isfinite(half):
            more = max(1, math.ceil(model.specimens * (half / distance) ** 2) - model.specimens)
            noun = "specimen" if more == 1 else "specimens"
            said += f"; about {more} more {noun} would likely bring the interval clear of no effect, if that is as large as seen"
    if named:
        said += f"; the cells with fewest ({fewest}) are {'; '.join(named)}"
    return said + "."
