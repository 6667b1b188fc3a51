"""Figures of each specimen, from fields that are like each other: retention, smear, scuff, wear, with their intervals.

The specimen is the unit: its fields in the track, after the test, against its own reference fields (out of the track, or
before the test) of like width, voltage, detector and tilt. What is left out is named with the reason.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from semwear.area_fraction import AreaFraction, area_fraction
from semwear.compare.ratio import (
    RatioInterval,
    Zone,
    fields_needed,
    fieller_retention,
    pooled_variance_ratio,
    retention_interval,
    specimen_scatter,
    zone_of,
)
from semwear.copies import is_copy, mark_copies
from semwear.plan import Plan
from semwear.retention import LEAST_REFERENCE_FRACTION, UNFIT_REFERENCE_FLAGS, alike, own_u
from semwear.scatter import UNKNOWN, Scatter, moderated, pooled, without

LIKE_TILT_DEG = 2.0
"""Tilts are alike within this, degrees: foreshortening differs by less than 1 % up to 15°."""
WANTED_HALF_WIDTH = 0.15
"""Half-width of the retention's interval that is aimed for when nothing else is asked (this project's own choice)."""
LOOKS_KEPT, LOOKS_UNSMEARED = 0.9, 0.005
"""Retention from which, and smeared share of the track below which, its grooves look as open as they were (this project's own)."""
UNLIKE_SCATTER, UNLIKE_FIELDS = 4.0, 5
"""How many times as much one zone scatters, relative to its mean, and fields in a zone at most, for a caution: with gamma-distributed
fields, a ratio of 0.1 and scatter of 100 and 15 % the interval held in 87 to 89 % of 400 studies each with 2, 3 and 5 fields."""
MORE_THAN_THERE_WAS = 1.25
"""Retention from which the reference is doubted (this project's own limit)."""
SHARED_PART = 0.3
"""Part of the fields' own uncertainty that all fields of a zone share. Over 52 specimens of five makers of calibration fields
the error of retention on the very fields measured is 0.54 of that uncertainty for single fields and 0.44 for two a zone
(medians, as of a normal distribution), which leaves 0.3 for any number of fields."""
LOSES_ITS_FIGURES = "unlike the training fields"
SHARES = ("valley_fraction", "smeared_fraction", "scuffed_fraction", "worn_fraction")


@dataclass(frozen=True, kw_only=True)
class SpecimenFigures:
    """What the fields of one specimen say together.

    ``run`` and ``reference`` hold the AreaFraction of each of SHARES over the fields that were used; ``left_out`` names
    files with the reason; ``fields_needed`` is the number of fields in each zone for the wanted half-width, 0 if unknown;
    ``shared_u`` is the relative standard uncertainty of retention that all fields share; ``continuity`` is the mean groove continuity in the track, an upper bound that needs no reference.
    """

    specimen: str
    retention: RatioInterval
    fieller: tuple[float, float]
    fields_needed: int
    shared_u: float
    zone_to_add: str
    run: Mapping[str, AreaFraction]
    reference: Mapping[str, AreaFraction]
    run_zone: Zone
    reference_zone: Zone
    continuity: float
    run_files: tuple[str, ...]
    reference_files: tuple[str, ...]
    left_out: tuple[tuple[str, str], ...]
    field_width_um: float
    cautions: tuple[str, ...] = ()

    def change(self, share: str) -> float:
        """Return the mean of a share in the track less that of the reference; nan where either is unknown."""
        return self.run[share].mean - self.reference[share].mean


@dataclass(kw_only=True)
class _Sorted:
    """Rows of one specimen sorted by what they can be used for."""

    run: list[Mapping] = field(default_factory=list)
    reference: list[Mapping] = field(default_factory=list)
    left_out: list[tuple[str, str]] = field(default_factory=list)


def planned_rows(rows: Iterable[Mapping], plan: Plan) -> tuple[list[dict], list[str]]:
    """Return the rows with specimen, zone, stage and spot as the plan states them, and the files it doesn't list.

    Fields that the plan doesn't list are left out, and copies are those of a field that it lists. Where the plan states voltage,
    detector or tilt, it counts.
    """
    joined, strangers, rows = [], [], list(rows)
    listed = plan.fields_for(row["file"] for row in rows)
    for row in rows:
        planned = listed[row["file"]]
        if not planned.sheet_row:
            strangers.append(row["file"])
            continue
        own = {"specimen": planned.specimen, "zone": planned.zone, "stage": planned.stage, "spot": planned.spot}
        own |= {name: value for name in ("kv", "tilt_deg") if math.isfinite(value := getattr(planned, name))}
        if planned.detector:
            own["detector"] = planned.detector
        joined.append({**row, **own})
    return mark_copies(joined), strangers


def specimen_figures(
    rows: Iterable[Mapping], *, mix_settings: bool = False, wanted: float = WANTED_HALF_WIDTH
) -> list[SpecimenFigures]:
    """Return the figures of each specimen, in the order in which the specimens appear.

    rows: of the fields table, with specimen, zone and stage. ``mix_settings``: use fields of unlike width, voltage,
    detector or tilt together all the same; it is said in the cautions. ``wanted``: half-width of the retention aimed for.
    """
    by_specimen: dict[str, list[Mapping]] = {}
    for row in mark_copies(rows):
        if row["specimen"]:
            by_specimen.setdefault(row["specimen"], []).append(row)
    chosen = {name: _like_with_like(_sort(own), mix_settings) for name, own in by_specimen.items()}
    pairs = {name: (_valleys(own.run), _valleys(own.reference)) for name, own in chosen.items()}
    ratio = pooled_variance_ratio(pairs.values())
    scatters = {name: specimen_scatter(*pair, variance_ratio=ratio) for name, pair in pairs.items()}
    together = pooled(scatters.values())
    return [
        _figures(
            name,
            own,
            variance_ratio=ratio,
            prior=moderated(UNKNOWN, without(together, scatters[name])),
            mix_settings=mix_settings,
            wanted=wanted,
        )
        for name, own in chosen.items()
    ]


def _valleys(rows: Iterable[Mapping]) -> list[float]:
    return [row["valley_fraction"] for row in rows]


def _sort(rows: Iterable[Mapping]) -> _Sorted:
    found = _Sorted()
    for row in rows:
        flags = set(row["flags"].split(";"))
        is_reference = row["stage"] == "before" or row["zone"] == "out-of-track"
        is_run = row["stage"] != "before" and row["zone"] == "in-track"
        if row["status"] != "measured":
            found.left_out.append((row["file"], f"refused: {row['reason']}"))
        elif is_copy(row):
            found.left_out.append((row["file"], "the same picture as another field"))
        elif LOSES_ITS_FIGURES in flags or not math.isfinite(row["valley_fraction"]):
            found.left_out.append((row["file"], "unlike the training fields, so that its figures aren't trusted"))
        elif is_reference and flags & UNFIT_REFERENCE_FLAGS:
            found.left_out.append((row["file"], f"unfit as a reference: {', '.join(flags & UNFIT_REFERENCE_FLAGS)}"))
        elif is_reference:
            found.reference.append(row)
        elif is_run:
            found.run.append(row)
        else:
            found.left_out.append((row["file"], "neither in the track nor a reference"))
    return found


def fields_alike(row: Mapping, other: Mapping) -> bool:
    """True when two fields may be compared: width, voltage and detector as for retention, and tilt within 2°."""
    tilts_known = math.isfinite(row["tilt_deg"]) and math.isfinite(other["tilt_deg"])
    if tilts_known and abs(row["tilt_deg"] - other["tilt_deg"]) > LIKE_TILT_DEG:
        return False
    return alike(row, other)


def _like_with_like(own: _Sorted, mix_settings: bool) -> _Sorted:
    """Keep the largest set of fields that are all like one of them, and name the rest as left out."""
    if mix_settings or not (own.run and own.reference):
        return own
    settings: dict[tuple, Mapping] = {}
    for row in (*own.run, *own.reference):
        settings.setdefault((row["field_width_um"], row["kv"], row["detector"], row["tilt_deg"]), row)
    best, best_size = None, (-1, -1)
    for anchor in settings.values():
        run = [row for row in own.run if fields_alike(anchor, row)]
        reference = [row for row in own.reference if fields_alike(anchor, row)]
        size = (min(len(run), len(reference)), len(run) + len(reference))
        if size > best_size:
            best, best_size = (run, reference, anchor), size
    run, reference, anchor = best
    if not (run and reference):
        reason = "no field of the other zone has a like field width, voltage, detector and tilt"
        left_out = own.left_out + [(row["file"], reason) for row in own.reference]
        return _Sorted(run=own.run, reference=[], left_out=left_out)
    kept = {id(row) for row in (*run, *reference)}
    left_out = [
        (row["file"], f"unlike the fields compared: {_difference(anchor, row)}")
        for row in (*own.run, *own.reference)
        if id(row) not in kept
    ]
    return _Sorted(run=run, reference=reference, left_out=own.left_out + left_out)


def _difference(anchor: Mapping, row: Mapping) -> str:
    said = []
    for name, unit in (("field_width_um", "µm wide"), ("kv", "kV"), ("tilt_deg", "° tilt")):
        if math.isfinite(row[name]) and math.isfinite(anchor[name]) and row[name] != anchor[name]:
            said.append(f"{row[name]:.4g} against {anchor[name]:.4g} {unit}")
    if row["detector"] and anchor["detector"] and row["detector"] != anchor["detector"]:
        said.append(f"detector {row['detector']} against {anchor['detector']}")
    return ", ".join(said) or "the field width isn't known"


def shared_uncertainty(run: Iterable[Mapping], reference: Iterable[Mapping]) -> float:
    """Return the relative standard uncertainty of retention that all fields of the zones share; 0 where fields state none.

    From the fields' own intervals: root mean square over a zone of relative uncertainties, both zones in quadrature, times
    :data:`SHARED_PART`.
    """
    parts = []
    for rows in (run, reference):
        own = np.array([own_u(row) for row in rows])
        mean = float(np.mean([row["valley_fraction"] for row in rows])) if own.size else 0.0
        known = own[np.isfinite(own)]
        parts.append(math.sqrt(float(np.mean(known**2))) / mean if known.size and mean > 0 else 0.0)
    return SHARED_PART * math.hypot(*parts)


def _figures(
    name: str, own: _Sorted, *, variance_ratio: float, prior: Scatter, mix_settings: bool, wanted: float
) -> SpecimenFigures:
    run, reference = _valleys(own.run), _valleys(own.reference)
    shared_u = shared_uncertainty(own.run, own.reference)
    retention = retention_interval(
        run,
        reference,
        variance_ratio=variance_ratio,
        least_reference=LEAST_REFERENCE_FRACTION,
        shared_u=shared_u,
        prior=prior,
    )
    first, second = zone_of(run), zone_of(reference)
    in_track = {share: area_fraction(row[share] for row in own.run) for share in SHARES}
    lacking = retention.half_width > wanted
    fewest = 1 + min(len(run), len(reference)) if lacking else 2
    continuity = area_fraction(row["groove_continuity"] for row in own.run)
    widths = [row["field_width_um"] for row in (*own.run, *own.reference) if math.isfinite(row["field_width_um"])]
    return SpecimenFigures(
        specimen=name,
        retention=retention,
        fieller=fieller_retention(run, reference),
        fields_needed=fields_needed(first, second, wanted, shared_u=shared_u, fewest=fewest),
        shared_u=shared_u,
        zone_to_add=_zone_to_add(first, second),
        run=in_track,
        reference={share: area_fraction(row[share] for row in own.reference) for share in SHARES},
        run_zone=first,
        reference_zone=second,
        continuity=continuity.mean,
        run_files=tuple(row["file"] for row in own.run),
        reference_files=tuple(row["file"] for row in own.reference),
        left_out=tuple(own.left_out),
        field_width_um=float(np.median(widths)) if widths else math.nan,
        cautions=(
            *_cautions(own, mix_settings),
            *_unlike_scatter(first, second),
            *_more_than_at_the_start(retention),
            *_open_by_looks(in_track, retention),
        ),
    )


def _more_than_at_the_start(retention: RatioInterval) -> list[str]:
    """Return a caution when a track shows clearly more valleys than its reference, which wear can't do."""
    if not (retention.value > MORE_THAN_THERE_WAS or retention.low > 1):
        return []
    return [
        f"retention {retention.value:.2f} says that the track has more valleys than the reference, which wear can't do: "
        "the zones may be swapped, or the reference fields don't stand for the surface"
    ]


def _open_by_looks(in_track: Mapping[str, AreaFraction], retention: RatioInterval) -> list[str]:
    """Return a caution where a ring ran and every groove looks open: closed from end to end, with no open one left beside it to
    compare with, a groove can look the same."""
    worn, smeared = in_track["worn_fraction"].mean, in_track["smeared_fraction"].mean
    if not (retention.value >= LOOKS_KEPT and worn >= 0.5 and smeared < LOOKS_UNSMEARED):
        return []
    return [
        "the ring ran and every groove still looks open: pictures alone hardly tell grooves that are closed over their whole length "
        "from open ones, so confirm it with a height map in the track"
    ]


def _unlike_scatter(run: Zone, reference: Zone) -> list[str]:
    """Return a caution where few fields of the two zones scatter so unlike that the interval is too narrow."""
    variances = (run.relative_variance, reference.relative_variance)
    fewer = min(run.fields, reference.fields)
    if not (fewer <= UNLIKE_FIELDS and max(variances) >= UNLIKE_SCATTER**2 * min(variances) > 0):
        return []
    own, other = (100 * math.sqrt(variance) for variance in variances)
    return [
        f"the fields in the track scatter by {own:.0f} % of their mean, those of the reference by {other:.0f} %: with so few fields the "
        "95 % interval then holds in some 88 % of cases, and in fewer where the zone that scatters more has fewer fields"
    ]


def _zone_to_add(run: Zone, reference: Zone) -> str:
    """Return the zone in which one more field narrows the interval most."""
    if run.fields < 2 or reference.fields < 2:
        return "in-track" if run.fields <= reference.fields else "out-of-track"
    if not (math.isfinite(run.relative_variance) and math.isfinite(reference.relative_variance)):
        return ""
    gains = [zone.relative_variance / (zone.fields * (zone.fields + 1)) for zone in (run, reference)]
    if max(gains) == 0:
        return ""
    if abs(gains[0] - gains[1]) < 0.25 * max(gains):
        return "both zones"
    return "in-track" if gains[0] > gains[1] else "out-of-track"


def _cautions(own: _Sorted, mix_settings: bool) -> list[str]:
    cautions = []
    without_lay = [row["file"] for row in own.run if "no lay found" in row["flags"].split(";")]
    if without_lay:
        cautions.append(
            f"{len(without_lay)} of {len(own.run)} fields in the track show no lay any more; they count with the valleys "
            "that were measured in them"
        )
    if mix_settings:
        cautions.append("fields of unlike width, voltage, detector or tilt were used together, as asked for")
    fewer, more = sorted((len(own.run), len(own.reference)))
    if 2 <= fewer <= 4 and more >= 2 * fewer:
        cautions.append(
            f"{fewer} fields in one zone against {more} in the other: the 95 % interval holds for zones that scatter alike, "
            "and covers as little as 85 % where the zone with few fields scatters twice as much"
        )
    return cautions
