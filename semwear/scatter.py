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

    >>> found = relative_scatter([0.18, 0.22])
    >>> round(found.relative_variance, 6), found.freedom
    (0.02, 1.0)
    """
    values = np.asarray(list(values), dtype=float)
    if values.size < 2 or not values.mean() > 0:
        return UNKNOWN
    return Scatter(relative_variance=float(values.var(ddof=1) / values.mean() ** 2), freedom=values.size - 1.0)


def pooled(scatters: Iterable[Scatter]) -> Scatter:
    """Return several scatters as one: mean of the variances by their degrees of freedom, and the sum of these."""
    known = [one for one in scatters if one.freedom]
    freedom = sum(one.freedom for one in known)
    if not freedom:
        return UNKNOWN
    return Scatter(relative_variance=sum(one.freedom * one.relative_variance for one in known) / freedom, freedom=freedom)


def without(together: Scatter, one: Scatter) -> Scatter:
    """Return what is left of pooled scatters without one of them.

    >>> one, other = Scatter(relative_variance=0.04, freedom=2.0), Scatter(relative_variance=0.01, freedom=4.0)
    >>> left = without(pooled([one, other]), one)
    >>> round(left.relative_variance, 6), left.freedom, without(pooled([one]), one) == UNKNOWN
    (0.01, 4.0, True)
    """
    if not one.freedom:
        return together
    freedom = together.freedom - one.freedom
    if not freedom > 0:
        return UNKNOWN
    left = together.freedom * together.relative_variance - one.freedom * one.relative_variance
    return Scatter(relative_variance=max(left, 0.0) / freedom, freedom=freedom)


def moderated(own: Scatter, others: Scatter) -> Scatter:
    """Return a specimen's scatter with that of the other specimens, pooled, as a prior.

    >>> found = moderated(Scatter(relative_variance=0.04, freedom=1.0), Scatter(relative_variance=0.01, freedom=8.0))
    >>> round(found.relative_variance, 4), round(found.freedom, 1)
    (0.015, 3.8)
    """
    if not others.freedom:
        return own
    prior = Scatter(
        relative_variance=PRIOR_SCALE * others.relative_variance, freedom=min(PRIOR_FREEDOM, others.freedom)
    )
    return pooled((own, prior))
