"""Area fraction by counting fields, with its interval, as ASTM E562 and ASTM E1245 write it down.

The fields are the replicates: pixels, regions and grooves inside one field say nothing about the scatter between
fields.
"""

from dataclasses import dataclass

import numpy as np
from scipy import stats


@dataclass(frozen=True, kw_only=True)
class AreaFraction:
    """Mean of a figure over fields: mean, standard deviation s, number of fields n, and half of the 95 % interval.

    ``deviation`` and ``half_width`` are NaN for a single field, ``mean`` too for none.
    """

    mean: float
    deviation: float
    fields: int
    half_width: float

    @property
    def relative_accuracy_percent(self) -> float:
        """100 · half-width / mean, per cent, for which 10 is usually aimed (ASTM E562); NaN where the mean is zero or the half-width unknown."""
        return 100 * self.half_width / self.mean if self.mean else float("nan")

    @property
    def low(self) -> float:
        return self.mean - self.half_width

    @property
    def high(self) -> float:
        return self.mean + self.half_width


def half_width_95(deviation: float, fields: int) -> float:
    """Return t · s / √n, the half-width of the 95 % interval of a mean of n fields (ASTM E562); NaN for n < 2.

    t is Student's factor for n − 1 degrees of freedom, two-sided.

    >>> round(half_width_95(1.9, 20), 2)
    0.89
    """
    if fields < 2:
        return float("nan")
    return float(stats.t.ppf(0.975, fields - 1) * deviation / np.sqrt(fields))


def area_fraction(values) -> AreaFraction:
    """Return mean, standard deviation and 95 % interval of one figure over fields; NaN values are left out.

    >>> found = area_fraction([0.10, 0.12, 0.14])
    >>> round(found.mean, 2), round(found.deviation, 2), found.fields, round(found.half_width, 4)
    (0.12, 0.02, 3, 0.0497)
    """
    values = np.asarray(list(values), dtype=float)
    values = values[np.isfinite(values)]
    fields = int(values.size)
    mean = float(values.mean()) if fields else float("nan")
    deviation = float(values.std(ddof=1)) if fields > 1 else float("nan")
    return AreaFraction(mean=mean, deviation=deviation, fields=fields, half_width=half_width_95(deviation, fields))


def doubted_interval(values, lows, highs) -> tuple[float, float]:
    """Return the ends of the 95 % interval of a mean share over fields that each have an interval of their own, in 0 to 1.

    The scatter between fields (ASTM E562) and, in quadrature, the mean reach of the fields' own intervals to either side: what
    was got wrong may be alike in all of them, so that a mean over fields doesn't lessen it. A single field has its own interval. NaN
    where neither is known. values, lows, highs: one a field.

    >>> doubted_interval([0.0, 0.0], [0.0, 0.0], [0.04, 0.06])
    (0.0, 0.05)
    """
    found = area_fraction(values)
    scatter = found.half_width
    ends = []
    for own in (lows, highs):
        reach = abs(area_fraction(own).mean - found.mean)
        known = [part for part in (scatter, reach) if np.isfinite(part)]
        ends.append(float(np.hypot.reduce(known)) if known else float("nan"))
    low, high = np.clip((found.mean - ends[0], found.mean + ends[1]), 0.0, 1.0)  # which hands NaN on
    return float(low), float(high)
