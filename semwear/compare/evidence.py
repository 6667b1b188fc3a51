"""Pieces of evidence about one specimen: each a number against a limit, read into a word, and shown as it is."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from semwear.compare.limits import Limits
from semwear.compare.specimens import MORE_THAN_THERE_WAS, SpecimenFigures
from semwear.plan import Plan

UNKNOWN = "unknown"
WORN_STEP = 0.2
"""Worn fraction in the track above the reference's from which the ring is seen to have run there."""


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """One piece of evidence: its source, the word it was read into (``unknown`` if nothing), and a sentence."""

    source: str
    reading: str
    sentence: str


MARKED_WITHOUT = "reference specimens without a value"


@dataclass(frozen=True, kw_only=True)
class Standing:
    """The study's own reference for one response: value, where it comes from, and the ends from which it is low or high."""

    value: float
    origin: str
    low: float
    high: float


def standing(plan: Plan, response: str, *, low: float, high: float, band: float) -> Standing:
    """Return what a response of the study is judged against.

    Stated limits count. An end that isn't stated is the reference less or more ``band`` of it; the reference is the
    median of the specimens marked so, or of all when none is marked and three or more have a value. nan where unknown.
    """
    marked = [own.values.get(response, math.nan) for own in plan.specimens if own.is_reference]
    values = marked or [own.values.get(response, math.nan) for own in plan.specimens]
    values = [value for value in values if math.isfinite(value)]
    if not values or (not marked and len(values) < 3):
        value, origin = math.nan, MARKED_WITHOUT if marked else "no reference"
    else:
        value = float(np.median(values))
        origin = (
            f"median of the {len(values)} specimens marked as reference" if marked else f"median of all {len(values)}"
        )
        if marked and len(values) == 1:
            origin = "the specimen marked as reference"
    ends = [
        stated if math.isfinite(stated) else value * factor for stated, factor in ((low, 1 - band), (high, 1 + band))
    ]
    if math.isfinite(low) or math.isfinite(high):
        origin = "stated limits" if math.isfinite(low) and math.isfinite(high) else f"a stated limit and {origin}"
    return Standing(value=value, origin=origin, low=ends[0], high=ends[1])


def percent(value: float) -> str:
    """Return a share as text; an en dash where it is unknown.

    >>> percent(0.0312), percent(float("nan"))
    ('3.1 %', '–')
    """
    return f"{100 * value:.1f} %" if math.isfinite(value) else "–"


def interval_text(value: float, low: float, high: float) -> str:
    """Return a figure with its interval.

    >>> interval_text(0.5, 0.4, 0.65), interval_text(0.5, float("nan"), float("nan"))
    ('0.50 (0.40 to 0.65)', '0.50 (no interval)')
    """
    if not math.isfinite(value):
        return "–"
    ends = f"{low:.2f} to {high:.2f}" if math.isfinite(low) and math.isfinite(high) else "no interval"
    return f"{value:.2f} ({ends})"


def gather(figures: SpecimenFigures, plan: Plan, limits: Limits, same_spot: Sequence = ()) -> dict[str, Evidence]:
    """Return the evidence on a specimen by its source.

    ``same_spot``: results of semwear.compare.spots for places of this specimen, may be empty.
    """
    pieces = [
        _retention(figures, limits),
        _start(figures, limits),
        _smear(figures, limits),
        _scuff(figures, limits),
        _worn(figures),
    ]
    if same_spot:
        pieces.append(_same_spot(same_spot, limits))
    own = plan.specimen(figures.specimen)
    for source, name, low, high, band in (
        ("iron", "iron_ppm", limits.iron_low, limits.iron_high, limits.iron_band),
        ("friction", "friction", limits.friction_low, limits.friction_high, limits.friction_band),
    ):
        against = standing(plan, name, low=low, high=high, band=band)
        unit = next((response.unit for response in plan.responses if response.name == name), "")
        pieces.append(_response(source, own.values.get(name, math.nan), unit, against))
    return {piece.source: piece for piece in pieces}


def read_retention(value: float, low: float, high: float, limits: Limits) -> str:
    """Return ``kept``, ``lost``, ``between`` (settled, but between the limits), ``unsettled`` or ``unknown``.

    >>> read_retention(0.9, 0.7, 1.1, Limits()), read_retention(0.3, 0.2, 0.5, Limits())
    ('kept', 'lost')
    >>> read_retention(0.9, 0.3, 1.9, Limits()), read_retention(0.7, 0.62, 0.78, Limits())
    ('unsettled', 'between')
    """
    if not math.isfinite(value):
        return UNKNOWN
    if value == 0:
        return "lost"
    if not (math.isfinite(low) and math.isfinite(high)):
        return "unsettled"
    if value >= limits.kept and low > limits.lost:
        return "kept"
    if value <= limits.lost and high < limits.kept:
        return "lost"
    return "between" if low > limits.lost and high < limits.kept else "unsettled"


def _retention(figures: SpecimenFigures, limits: Limits) -> Evidence:
    found = figures.retention
    reading = read_retention(found.value, found.low, found.high, limits)
    unsure = found.reason or "the interval is too wide for the limits"
    if found.value == 0 and found.run_fields < 2:
        reading, unsure = "unsettled", "one field in the track says nothing about the others"
    elif found.value > MORE_THAN_THERE_WAS and reading == "kept":
        reading, unsure = "unsettled", "wear can't make valleys: the zones may be swapped, or the reference doesn't stand for the surface"
    fields = f"{found.run_fields} fields in the track, {found.reference_fields} of reference"
    if reading == UNKNOWN:
        return Evidence(source="retention", reading=reading, sentence=f"no retention: {found.reason}")
    said = f"valley retention {interval_text(found.value, found.low, found.high)} from {fields}"
    said += {
        "kept": "",
        "lost": "",
        "between": f"; it lies between the limits {limits.lost:g} and {limits.kept:g}",
        "unsettled": f"; {unsure}",
    }[reading]
    return Evidence(source="retention", reading=reading, sentence=said)


def _same_spot(results: Sequence, limits: Limits) -> Evidence:
    usable = [result for result in results if math.isfinite(result.retention)]
    if not usable:
        reason = "; ".join(f"{result.spot}: {result.reason}" for result in results)
        return Evidence(source="same spot", reading=UNKNOWN, sentence=f"no place could be followed ({reason})")
    value = sum(result.open_after_um2 for result in usable) / sum(result.open_before_um2 for result in usable)
    reading = "kept" if value >= limits.kept else "lost" if value <= limits.lost else "between"
    places = "place" if len(usable) == 1 else "places"
    said = f"{value:.2f} of the open valley area of {len(usable)} {places} seen before and after is still open"
    return Evidence(source="same spot", reading=reading, sentence=said)


def _start(figures: SpecimenFigures, limits: Limits) -> Evidence:
    share = figures.reference["valley_fraction"]
    if not share.fields:
        return Evidence(source="start", reading=UNKNOWN, sentence="the unrun surface wasn't seen")
    few = share.mean < limits.valleys_at_start
    # A mean below the limit whose interval reaches far above it doesn't settle that there were too few.
    if few and math.isfinite(share.high) and share.high > 2 * limits.valleys_at_start:
        few = False
    said = f"valleys cover {percent(share.mean)} of the unrun surface"
    said += f" (± {100 * share.half_width:.1f} %)" if math.isfinite(share.half_width) else ""
    return Evidence(source="start", reading="too few" if few else "enough", sentence=said)


def _smear(figures: SpecimenFigures, limits: Limits) -> Evidence:
    gained, lost = figures.change("smeared_fraction"), -figures.change("valley_fraction")
    smeared = figures.run["smeared_fraction"].mean
    if not math.isfinite(smeared):
        return Evidence(source="smear", reading=UNKNOWN, sentence="no smear figure in the track")
    if not math.isfinite(gained):
        return Evidence(
            source="smear", reading=UNKNOWN, sentence=f"{percent(smeared)} smeared in the track, without a reference"
        )
    said = f"{percent(smeared)} of the track is smeared, {percent(figures.reference['smeared_fraction'].mean)} of the reference"
    if gained < limits.smeared:
        return Evidence(source="smear", reading="none", sentence=said)
    if lost <= (1 - limits.kept) * figures.reference["valley_fraction"].mean:
        return Evidence(source="smear", reading="present", sentence=said)  # there is no loss to explain
    share = gained / lost
    said += f"; that is {100 * share:.0f} % of the valley area lost"
    reading = "explains the loss" if share >= limits.smear_share else "present"
    return Evidence(source="smear", reading=reading, sentence=said)


def _scuff(figures: SpecimenFigures, limits: Limits) -> Evidence:
    share, reference = figures.run["scuffed_fraction"], figures.reference["scuffed_fraction"]
    if not share.fields:
        return Evidence(source="scuff", reading=UNKNOWN, sentence="no scuff figure in the track")
    said = f"{percent(share.mean)} of the track is scuffed"
    said += f", {percent(reference.mean)} of the reference" if reference.fields else ""
    over = share.mean - (reference.mean if reference.fields else 0.0)
    return Evidence(source="scuff", reading="present" if over >= limits.scuffed else "none", sentence=said)


def _worn(figures: SpecimenFigures) -> Evidence:
    run, reference = figures.run["worn_fraction"].mean, figures.reference["worn_fraction"].mean
    if not math.isfinite(run):
        return Evidence(source="worn", reading=UNKNOWN, sentence="no worn score in the track")
    said = f"{percent(run)} of the regions in the track look worn"
    if not math.isfinite(reference):
        return Evidence(source="worn", reading="run" if run >= 0.5 else UNKNOWN, sentence=said)
    said += f", {percent(reference)} of the reference's"
    return Evidence(source="worn", reading="run" if run - reference >= WORN_STEP else "not run", sentence=said)


def _response(source: str, value: float, unit: str, against: Standing) -> Evidence:
    if not math.isfinite(value):
        return Evidence(source=source, reading=UNKNOWN, sentence=f"no {source} is stated")
    number = f"{value:g}" + (f" {unit}" if unit not in ("", "1") else "")
    if not (math.isfinite(against.low) or math.isfinite(against.high)):
        reason = "mark reference specimens in the plan or state limits"
        if against.origin == MARKED_WITHOUT:
            reason = f"the specimens marked as reference have no {source}; fill it in, or state limits"
        return Evidence(
            source=source, reading=UNKNOWN, sentence=f"{source} {number}, with nothing to judge it against: {reason}"
        )
    if value <= against.low:
        reading = "low"
    elif value >= against.high:
        reading = "high"
    else:
        reading = "like the reference"
    if against.origin == "stated limits":
        said = f"{source} {number} is {'between the limits' if reading.startswith('like') else reading}"
        said += f" ({against.low:g}, {against.high:g} stated)"
    else:
        reference = f"{against.value:g}" if math.isfinite(against.value) else "–"
        said = f"{source} {number} is {reading}" + (f" against {reference} ({against.origin})")
        said = said.replace("like the reference against", "like the reference,")
    return Evidence(source=source, reading=reading, sentence=said)
