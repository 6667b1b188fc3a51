"""Valley retention of each field, from the other fields of its specimen or from the continuity of its own grooves.

Basis ``reference``: R = f / r, the valley fraction of the field over the mean valley fraction of the reference fields
of its specimen (out of the track, or before the test) that are like it. The interval is the plain one of error
propagation, u_R² = (u_f² + R² u_r²) / r², times Student's factor for the effective degrees of freedom of Welch and
Satterthwaite (JCGM 100:2008, GUM, 5.1.2 and G.4.1), cut at 0. u_f and u_r hold what the fields state of themselves, as far as it
is left in a ratio of fields of one surface, and u_r the scatter of the reference fields besides.

Basis ``continuity``: no reference field can be used; the continuity of the traced grooves stands in as an upper bound.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from scipy import stats

from semwear.copies import is_copy
from semwear.measure import WITHHELD_FLAGS
from semwear.scatter import UNKNOWN, Scatter, moderated, pooled, relative_scatter, without
from semwear.terms import join_flags

LIKE_WIDTH_RATIO = 1.25
"""Fields are alike in width when the wider is at most this many times the narrower."""
LIKE_KV_RATIO = 1.02
"""Voltages are alike within this ratio, which covers rounding in print."""
OWN_PART = 0.55
"""Part of the uncertainty that fields state of themselves that is left in the ratio of two of them: what is got wrong on one surface
is wrong in the field and in its reference alike. Over 52 specimens of five makers of calibration fields the error of the ratio was
0.54 of what it would be without that (median, as of a normal distribution); with 0.55 the intervals of 94 fields of four makers,
scatter of their references left out, hold 97.9 % of the true ratios."""
LEAST_REFERENCE_FRACTION = 0.002
"""Reference valley fraction below which no ratio is formed: there was nothing to retain (this project's own limit)."""
DOUBTFUL_RETENTION = 1.3
"""Retention from which a field is flagged: running doesn't make valleys (this project's own limit)."""
UNFIT_REFERENCE_FLAGS = WITHHELD_FLAGS | {"out of focus", "no lay found", "too much valley", "valley half seen"}
"""A reference field with one of these flags is left out: its valley fraction says nothing about the surface, or may be far off,
as where valley is half seen: by a factor of 2 in the root mean square of six calibration fields, of 1.2 for the other ones."""
NO_RETENTION_FLAGS = WITHHELD_FLAGS | {"no lay found"}
"""A field with one of these flags gets no retention on either basis."""
EMPTY = {
    "valley_retention": float("nan"),
    "valley_retention_low": float("nan"),
    "valley_retention_high": float("nan"),
    "retention_basis": "",
}


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """A figure with its standard uncertainty u and the degrees of freedom behind u (inf where u is taken as known)."""

    value: float
    u: float
    freedom: float


def field_retention(rows: Iterable[Mapping], *, mix_settings: bool = False) -> list[dict]:
    """Return the rows with the retention columns filled, and the flags that this raises added.

    ``mix_settings``: use reference fields that are unlike the field all the same (they stay flagged). Refused
    rows and reference fields themselves have no retention.
    """
    rows = [dict(row) for row in rows]
    references: dict[str, list[dict]] = {}
    for row in rows:
        if row["status"] == "measured" and row["specimen"] and is_reference(row) and not is_copy(row):
            references.setdefault(row["specimen"], []).append(row)
    scatters = {name: _scatter_of(own) for name, own in references.items()}
    together = pooled(scatters.values())
    others = {name: without(together, scatter) for name, scatter in scatters.items()}
    return [
        _with_retention(
            row, references.get(row["specimen"], []), others.get(row["specimen"], together), mix_settings
        )
        for row in rows
    ]


def is_reference(row: Mapping) -> bool:
    """True for a field that the ring never touched: out of the track, or before the test."""
    return row["zone"] == "out-of-track" or row["stage"] == "before"


def alike(row: Mapping, other: Mapping) -> bool:
    """True when two fields may be compared: width within 25 %, same voltage and detector where both are known."""
    widths = sorted((row["field_width_um"], other["field_width_um"]))
    if not widths[1] <= LIKE_WIDTH_RATIO * widths[0]:
        return False
    voltages = sorted((row["kv"], other["kv"]))
    if np.isfinite(voltages).all() and voltages[1] > LIKE_KV_RATIO * voltages[0]:
        return False
    detectors = {row["detector"].strip().casefold(), other["detector"].strip().casefold()} - {""}
    return len(detectors) < 2


def ratio(field: Estimate, reference: Estimate) -> tuple[float, float, float]:
    """Return field / reference and the ends of its 95 % interval; the ends are NaN when an uncertainty is unknown.

    >>> exact = Estimate(value=0.2, u=0.0, freedom=float("inf"))
    >>> ratio(Estimate(value=0.1, u=0.01, freedom=float("inf")), exact)
    (0.5, 0.4020018007729973, 0.5979981992270027)
    """
    value = field.value / reference.value
    parts = np.array([field.u, value * reference.u]) / reference.value
    u = float(np.hypot(*parts))
    if not np.isfinite(u):
        return value, float("nan"), float("nan")
    if u == 0:
        return value, value, value
    weights = (parts / u) ** 4 / np.array([field.freedom, reference.freedom])
    freedom = 1 / float(weights.sum()) if weights.sum() > 0 else float("inf")
    half = float(stats.t.ppf(0.975, freedom)) * u
    return value, max(0.0, value - half), value + half


def reference_estimate(references: Iterable[Mapping], others: Scatter = UNKNOWN) -> Estimate:
    """Return the mean valley fraction of reference fields with its standard uncertainty.

    others: scatter of the reference fields of other specimens, pooled. Two parts in quadrature: what the fields state of themselves,
    which is alike in all of them (:data:`OWN_PART`), none where they state nothing, and s / √n of their scatter with its degrees of
    freedom; NaN when the scatter isn't known, as that of a single field beside specimens that have one each.
    """
    references = list(references)
    values = np.array([row["valley_fraction"] for row in references])
    scatter = moderated(relative_scatter(values), others)
    own = OWN_PART * float(np.mean([own_u(row) for row in references]))
    parts = np.array([own, values.mean() * np.sqrt(scatter.relative_variance / len(references))])
    if np.isnan(parts[1]):
        return Estimate(value=float(values.mean()), u=float("nan"), freedom=float("inf"))
    parts = np.nan_to_num(parts)
    u = float(np.hypot(*parts))
    freedom = scatter.freedom * (u / parts[1]) ** 4 if parts[1] else float("inf")
    return Estimate(value=float(values.mean()), u=u, freedom=float(freedom))


def own_u(row: Mapping) -> float:
    """Return the standard uncertainty of a field's valley fraction from the longer side of its own 95 % interval; NaN when
    it has none."""
    low, high, value = row["valley_fraction_low"], row["valley_fraction_high"], row["valley_fraction"]
    return max(high - value, value - low) / float(stats.norm.ppf(0.975))


def _usable(references: Iterable[Mapping]) -> list[Mapping]:
    """Return the reference fields whose valley fraction says something about the surface."""
    return [other for other in references if not UNFIT_REFERENCE_FLAGS & set(other["flags"].split(";"))]


def _scatter_of(references: Iterable[Mapping]) -> Scatter:
    """Return how the reference fields of one specimen that are like its first one scatter."""
    usable = _usable(references)
    return relative_scatter(row["valley_fraction"] for row in usable if alike(usable[0], row))


def _with_retention(row: dict, references: list[dict], others: Scatter, mix_settings: bool) -> dict:
    if row["status"] != "measured":
        return row
    row = row | EMPTY
    flags = set(row["flags"].split(";")) - {""}
    if is_reference(row) or flags & NO_RETENTION_FLAGS:
        return row
    fit = _usable(references)
    if len(fit) < len(references):
        flags.add("reference left out")
    if references and all("no lay found" in other["flags"].split(";") for other in references):
        return row | {"flags": join_flags(flags | {"reference without valleys"})}
    like = [other for other in fit if alike(row, other)]
    if len(like) < len(fit):
        flags.add("reference unlike field")
    used = fit if mix_settings else like
    if used:
        row |= _from_reference(row, used, others, flags)
    elif "too few grooves" not in flags:
        row |= {"valley_retention": row["groove_continuity"]}
        row["retention_basis"] = "continuity" if np.isfinite(row["groove_continuity"]) else ""
    if not references:
        flags.add("no reference")
    return row | {"flags": join_flags(flags)}


def _from_reference(row: Mapping, references: list[dict], others: Scatter, flags: set[str]) -> dict:
    reference = reference_estimate(references, others)
    if not reference.value >= LEAST_REFERENCE_FRACTION:
        flags.add("reference without valleys")
        return {"retention_basis": "reference"}
    field = Estimate(value=row["valley_fraction"], u=OWN_PART * own_u(row), freedom=float("inf"))
    if not np.isfinite(field.u):
        # What one field is known to, when it states nothing itself: the scatter between the reference fields.
        scatter = moderated(relative_scatter(other["valley_fraction"] for other in references), others)
        field = Estimate(
            value=field.value, u=reference.value * float(np.sqrt(scatter.relative_variance)), freedom=scatter.freedom
        )
    value, low, high = ratio(field, reference)
    if value > DOUBTFUL_RETENTION:
        flags.add("more valley than reference")
    return {
        "valley_retention": value,
        "valley_retention_low": low,
        "valley_retention_high": high,
        "retention_basis": "reference",
    }
