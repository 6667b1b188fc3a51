"""Interval of a ratio of two means, from few fields on either side.

Valley retention is the ratio of the mean valley fraction in the track to that of the reference. With 2 to 10 fields a
zone the usual intervals fail: a percentile bootstrap covers too seldom, and the degrees of freedom of Welch and
Satterthwaite are either too few (two fields each) or estimated too high (few fields on the side that scatters more).

**Tied-scatter log ratio**, the interval that is used. The relative variances of one field in the two zones, c₁ and c₂
(squared coefficients of variation), have the unknown ratio ρ = c₁/c₂. For a known ρ the logarithm of the ratio of means
has an exact t interval with n₁ + n₂ − 2 degrees of freedom (delta method for the logarithm of a mean). ρ itself is
weighed by what the two sample variances say about it (an F density) times a prior, ln ρ ~ N(ln ρ₀, 1): fields of one
study scatter alike to within a factor of about 2.7 in variance, one standard deviation. The interval is the central one
of the mixture of t distributions. With the prior's spread going to infinity this is the solution of Behrens and Fisher,
with it going to zero the pooled t interval. ρ₀ is 1, or what all specimens of a study show together. How the fields of the other
specimens scatter counts as a prior of few degrees of freedom (see :mod:`semwear.scatter`), which are added to n₁ + n₂ − 2.

What the network gets wrong in all fields of a zone alike doesn't show in their scatter. Its standard uncertainty, of the
logarithm of the ratio, is added in quadrature.

**Fieller's interval**, given beside it, from the scatter alone: the ratios θ for which a − θ·b isn't told from zero by a
t test (Fieller, J. R. Stat. Soc. B 16 (1954) 175). It may be open when the reference itself isn't told from zero.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy import optimize, special, stats

from semwear.scatter import UNKNOWN, Scatter, pooled

LOG_VARIANCE_RATIO_SPREAD = 1.0
"""Standard deviation of the prior of ln ρ, ρ being the ratio of the zones' relative variances of one field."""
NORMAL_95 = float(stats.norm.ppf(0.975))
_GRID = np.linspace(-4.0, 4.0, 33)


@dataclass(frozen=True, kw_only=True)
class RatioInterval:
    """A ratio of means with its 95 % interval; ``reason`` says why value or ends are nan, and is empty otherwise."""

    value: float
    low: float
    high: float
    run_fields: int
    reference_fields: int
    reason: str = ""

    @property
    def half_width(self) -> float:
        """Half of the interval's length."""
        return (self.high - self.low) / 2


@dataclass(frozen=True, kw_only=True)
class Zone:
    """Mean of the fields of one zone, and the relative variance of one field (squared coefficient of variation)."""

    mean: float
    relative_variance: float
    fields: int


def zone_of(values) -> Zone:
    """Return mean and relative variance of a zone's fields; the variance is nan below two fields or for a zero mean."""
    values = np.asarray(values, dtype=float)
    mean = float(values.mean()) if values.size else math.nan
    relative = float(values.var(ddof=1) / mean**2) if values.size > 1 and mean > 0 else math.nan
    return Zone(mean=mean, relative_variance=relative, fields=int(values.size))


def specimen_scatter(run, reference, *, variance_ratio: float = 1.0) -> Scatter:
    """Return how one reference field scatters as both zones of a specimen show it, (n,) fractions each; ρ₀ as in the module's text.

    >>> specimen_scatter([0.05, 0.07], [0.18, 0.22], variance_ratio=2.0).freedom
    2.0
    """
    zones = ((zone_of(run), variance_ratio), (zone_of(reference), 1.0))
    return pooled(
        Scatter(relative_variance=zone.relative_variance / ratio, freedom=zone.fields - 1.0)
        for zone, ratio in zones
        if math.isfinite(zone.relative_variance)
    )


def retention_interval(
    run,
    reference,
    *,
    variance_ratio: float = 1.0,
    least_reference: float = 0.0,
    shared_u: float = 0.0,
    prior: Scatter = UNKNOWN,
) -> RatioInterval:
    """Return the ratio of the mean of ``run`` to the mean of ``reference`` with its 95 % interval.

    run, reference: (n,) fractions in [0, 1], one a field. ``variance_ratio`` is ρ₀ of the module's text. ``shared_u``:
    relative standard uncertainty of the ratio that all fields share, which their scatter doesn't show. ``prior``: how a reference
    field scatters on other specimens. ``least_reference``: a mean reference at or below it gives no ratio.

    Never infinite: without a reference, or with one without valleys, value and ends are nan; with fewer than two fields
    in a zone, or no scatter at all, only the ends are; with no valley left in the track value and lower end are 0 and
    the upper end is nan. The reason is said.

    >>> found = retention_interval([0.05, 0.06, 0.07], [0.12, 0.10, 0.14])
    >>> round(found.value, 3), round(found.low, 2), round(found.high, 2)
    (0.5, 0.33, 0.76)
    """
    run = np.asarray(run, dtype=float)
    reference = np.asarray(reference, dtype=float)
    if not (np.isfinite(run).all() and np.isfinite(reference).all()):
        raise ValueError("fractions must be finite; leave unmeasured fields out")
    first, second = zone_of(run), zone_of(reference)
    counts = {"run_fields": first.fields, "reference_fields": second.fields}
    none = {"value": math.nan, "low": math.nan, "high": math.nan} | counts
    if first.fields == 0:
        return RatioInterval(**none, reason="no usable field in the track")
    if second.fields == 0:
        return RatioInterval(**none, reason="no usable reference field")
    if not second.mean > least_reference:
        return RatioInterval(**none, reason="the reference has no valleys, so that the ratio is undefined")
    value = first.mean / second.mean
    if first.mean == 0:
        reason = "no open valley in any field of the track: the upper end isn't known"
        return RatioInterval(value=0.0, low=0.0, high=math.nan, **counts, reason=reason)
    if min(first.fields, second.fields) < 2:
        reason = "one field in a zone says nothing about the scatter: two or more are needed"
        return RatioInterval(value=value, low=math.nan, high=math.nan, **counts, reason=reason)
    if first.relative_variance + second.relative_variance < 1e-12:
        reason = "the fields don't differ at all: the same picture may stand there twice"
        return RatioInterval(value=value, low=math.nan, high=math.nan, **counts, reason=reason)
    half = math.hypot(_log_half_width(first, second, variance_ratio, prior), NORMAL_95 * shared_u)
    return RatioInterval(value=value, low=value * math.exp(-half), high=value * math.exp(half), **counts)


def _log_half_width(first: Zone, second: Zone, variance_ratio: float, prior: Scatter) -> float:
    """Return half of the length of the 95 % interval of the log ratio that the scatter of the fields gives."""
    weights, errors, freedom = _mixture(first, second, variance_ratio, prior)

    def below(shift: float, wanted: float) -> float:
        return float(weights @ special.stdtr(freedom, shift / errors)) - wanted

    reach = float(errors.max()) * float(stats.t.ppf(0.9999, freedom))
    return optimize.brentq(below, 0.0, reach, args=(0.975,), xtol=1e-9 + 1e-7 * reach)


def _mixture(first: Zone, second: Zone, variance_ratio: float, prior: Scatter):
    """Return weights and standard errors over the grid of ρ, and the degrees of freedom of each t distribution."""
    n1, n2 = first.fields, second.fields
    # A side without any scatter would make the density of F infinite: it is lifted to a millionth of the other's.
    c1 = max(first.relative_variance, 1e-6 * second.relative_variance)
    c2 = max(second.relative_variance, 1e-6 * first.relative_variance)
    steps = _GRID * LOG_VARIANCE_RATIO_SPREAD
    ratios = variance_ratio * np.exp(steps)
    freedom = n1 + n2 - 2
    observed = c1 / c2 / ratios
    # Density of F with n1 - 1 and n2 - 1 degrees of freedom at the observed ratio, up to a constant factor.
    log_weights = (
        ((n1 - 1) / 2) * np.log(observed)
        - (freedom / 2) * np.log1p((n1 - 1) / (n2 - 1) * observed)
        - 0.5 * (steps / LOG_VARIANCE_RATIO_SPREAD) ** 2
    )
    weights = np.exp(log_weights - log_weights.max())
    elsewhere = prior.freedom * prior.relative_variance if prior.freedom else 0.0
    freedom += prior.freedom
    pooled = ((n1 - 1) * c1 / ratios + (n2 - 1) * c2 + elsewhere) / freedom
    errors = np.sqrt(pooled * (ratios / n1 + 1 / n2))
    return weights / weights.sum(), errors, freedom


def pooled_variance_ratio(pairs) -> float:
    """Return ρ₀ from all specimens of a study: relative variance of a field in the track over that of the reference.

    pairs: (run values, reference values) of each specimen. 1 unless either side has six degrees of freedom or more.
    """
    sums = np.zeros((2, 2))
    for pair in pairs:
        for side, values in enumerate(pair):
            zone = zone_of(values)
            if math.isfinite(zone.relative_variance):
                sums[side] += (zone.relative_variance * (zone.fields - 1), zone.fields - 1)
    if sums[:, 1].min() < 6 or sums[:, 0].min() <= 0:
        return 1.0
    return float(np.clip(sums[0, 0] / sums[0, 1] / (sums[1, 0] / sums[1, 1]), 0.1, 10.0))


def fieller_interval(
    numerator: float,
    denominator: float,
    *,
    numerator_variance: float,
    denominator_variance: float,
    covariance: float = 0.0,
    freedom: float = math.inf,
    confidence: float = 0.95,
) -> tuple[float, float]:
    """Return Fieller's interval of numerator / denominator; (nan, nan) when it isn't a bounded interval.

    The variances and the covariance are those of the two estimates themselves (of means, not of single fields), with
    ``freedom`` degrees of freedom behind them.

    With g = t²·v₂₂/b²: (R − g·v₁₂/v₂₂ ± (t/b)·√(v₁₁ − 2R·v₁₂ + R²·v₂₂ − g·(v₁₁ − v₁₂²/v₂₂))) / (1 − g), bounded for g < 1.

    >>> fieller_interval(1.0, 2.0, numerator_variance=0.0, denominator_variance=0.0)
    (0.5, 0.5)
    """
    student = float(stats.t.ppf(0.5 + confidence / 2, freedom))
    if denominator == 0:
        return math.nan, math.nan
    ratio = numerator / denominator
    curvature = denominator**2 - student**2 * denominator_variance
    if curvature <= 0:
        return math.nan, math.nan
    middle = numerator * denominator - student**2 * covariance
    product = numerator**2 - student**2 * numerator_variance
    root = math.sqrt(max(0.0, middle**2 - curvature * product))
    ends = sorted(((middle - root) / curvature, (middle + root) / curvature))
    return (ratio, ratio) if root == 0 else (ends[0], ends[1])


def fieller_retention(run, reference) -> tuple[float, float]:
    """Return Fieller's 95 % interval of a ratio of means, degrees of freedom after Welch and Satterthwaite; may be nan."""
    run, reference = np.asarray(run, dtype=float), np.asarray(reference, dtype=float)
    if min(run.size, reference.size) < 2 or reference.mean() <= 0:
        return math.nan, math.nan
    own, other = run.var(ddof=1) / run.size, reference.var(ddof=1) / reference.size
    ratio = run.mean() / reference.mean()
    parts = np.array([own, ratio**2 * other])
    if parts.sum() == 0:
        return math.nan, math.nan
    freedom = parts.sum() ** 2 / (parts**2 / (np.array([run.size, reference.size]) - 1)).sum()
    low, high = fieller_interval(
        float(run.mean()),
        float(reference.mean()),
        numerator_variance=float(own),
        denominator_variance=float(other),
        freedom=float(freedom),
    )
    return (max(0.0, low), high) if math.isfinite(low) else (low, high)


def fields_needed(
    run: Zone, reference: Zone, wanted: float, *, shared_u: float = 0.0, fewest: int = 2, most: int = 200
) -> int:
    """Return the fields in each zone that bring the half-width of the retention's interval to ``wanted``; 0 if unknown.

    The scatter seen so far is taken as it is; half-width R·sinh(h), h² = t²·(c₁ + c₂)/n + (1.96·shared_u)², t for 2n − 2
    degrees of freedom. ``fewest``: more than there are, where those don't suffice. ``most`` is returned when more would be needed, or when no number is enough.
    """
    spread = run.relative_variance + reference.relative_variance
    if not (math.isfinite(spread) and reference.mean > 0 and wanted > 0):
        return 0
    ratio = run.mean / reference.mean
    for fields in range(max(2, fewest), most):
        step = float(special.stdtrit(2 * fields - 2, 0.975)) * math.sqrt(spread / fields)
        half = math.hypot(step, NORMAL_95 * shared_u)
        if half < 20 and ratio * math.sinh(half) <= wanted:
            return fields
    return most
