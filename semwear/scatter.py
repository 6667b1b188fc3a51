"""How the fields of one zone scatter, and what the fields of other specimens say about it.

Two or three fields say little of their own scatter, and Student's factor for so few is large. Fields of one study scatter
alike, though not equally: the variances of other specimens count as a prior with few degrees of freedom, to which a specimen's
own are added (moderated variance, G. K. Smyth, Stat. Appl. Genet. Mol. Biol. 3 (2004) 3).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

PRIOR_FREEDOM = 2.8
"""Degrees of freedom at most of what other specimens say: variances that differ by a factor of e from specimen to specimen, one
standard deviation of their logarithm, as in the comparison of specimens. The logarithm of a variance with ν degrees of freedom has a
variance of ψ′(ν/2), which is 1 for ν = 2.8."""
PRIOR_SCALE = math.exp(-0.5)
"""Scale of the prior over the mean variance of the other specimens: the median of variances that differ so (log-normal) over their
mean. With it 94 to 96 % of the intervals of simulated studies hold, whether specimens scatter alike or not."""


@dataclass(frozen=True, kw_only=True)
class Scatter:
    """Relative variance of one field (squared coefficient of variation) and the degrees of freedom behind it, 0 where unknown."""

    relative_variance: float
    freedom: float


UNKNOWN = Scatter(relative_variance=math.nan, freedom=0.0)


def relative_scatter(values) -> Scatter:
    """Return the scatter of a zone's fields (n,); unknown below two fields or for a mean of zero.

    >>> relative_scatter([0.18, 0.22])
    Scatter(relative_variance=0.02, freedom=1.0)
    """
    values = np.asarray(list(values), dtype=float)
    if values.size < 2 or not values.mean() > 0:
        return UNKNOWN
    return Scatter(relative_variance=round(float(values.var(ddof=1) / values.mean() ** 2), 12), freedom=values.size - 1.0)


def moderated(own: Scatter, others: Iterable[Scatter]) -> Scatter:
    """Return a specimen's scatter with that of other specimens as a prior.

    >>> alike = [Scatter(relative_variance=0.01, freedom=2.0)] * 4
    >>> found = moderated(Scatter(relative_variance=0.04, freedom=1.0), alike)
    >>> round(found.relative_variance, 4), round(found.freedom, 1)
    (0.015, 3.8)
    """
    known = [one for one in others if one.freedom]
    freedom = sum(one.freedom for one in known)
    parts = [own] if own.freedom else []
    if freedom:
        pooled = sum(one.freedom * one.relative_variance for one in known) / freedom
        parts.append(Scatter(relative_variance=PRIOR_SCALE * pooled, freedom=min(PRIOR_FREEDOM, freedom)))
    if not parts:
        return UNKNOWN
    total = sum(part.freedom for part in parts)
    return Scatter(relative_variance=sum(part.freedom * part.relative_variance for part in parts) / total, freedom=total)
