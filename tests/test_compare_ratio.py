"""Intervals of ratios of means: published examples, closed forms, and simulated coverage."""

import math

import numpy as np
import pytest
from scipy import stats

from semwear.area_fraction import area_fraction
from semwear.compare.ratio import (
    fields_needed,
    fieller_interval,
    fieller_retention,
    pooled_variance_ratio,
    retention_interval,
    specimen_scatter,
    zone_of,
)
from semwear.scatter import UNKNOWN, moderated, pooled

COVERAGE_SPREADS = ((0.15, 0.15), (0.3, 0.2), (0.2, 0.3), (0.35, 0.35))
"""Coefficients of variation of one field in the track and in the reference."""


def drawn(rng, mean: float, spread: float, shape) -> np.ndarray:
    """Return valley fractions of fields from a beta distribution of the given mean and coefficient of variation."""
    size = mean * (1 - mean) / (spread * mean) ** 2 - 1
    return rng.beta(mean * size, (1 - mean) * size, shape)


def coverage(rng, fields: tuple[int, int], mean: float, ratio: float, spreads, studies: int) -> float:
    """Return the share of simulated studies whose interval holds the true ratio of means."""
    run = drawn(rng, mean * ratio, spreads[0], (studies, fields[0]))
    reference = drawn(rng, mean, spreads[1], (studies, fields[1]))
    found = [retention_interval(one, other) for one, other in zip(run, reference, strict=True)]
    return float(np.mean([each.low <= ratio <= each.high for each in found]))


@pytest.mark.parametrize(("fields", "narrowed"), [(2, 0.7), (3, 0.6), (5, 0.5)])
def test_coverage_is_near_95_percent_with_the_scatter_of_other_specimens_as_a_prior(fields, narrowed):
    """Eight specimens a study, whose relative variances differ by a factor of e in either zone, one standard deviation.

    The fewer fields there are, the more intervals the other specimens narrow: more than the share given here, this project's own.
    """
    rng, hits, narrower, studies = np.random.default_rng(40 + fields), 0, 0, 500
    for _ in range(studies):
        spreads = 0.2 * np.exp(rng.normal(0.0, 0.5, (8, 2)))
        pairs = [(drawn(rng, 0.10, run, fields), drawn(rng, 0.20, other, fields)) for run, other in spreads]
        ratio = pooled_variance_ratio(pairs)
        prior = moderated(UNKNOWN, pooled(specimen_scatter(*pair, variance_ratio=ratio) for pair in pairs[1:]))
        found = retention_interval(*pairs[0], variance_ratio=ratio, prior=prior)
        hits += found.low <= 0.5 <= found.high
        narrower += found.half_width < retention_interval(*pairs[0], variance_ratio=ratio).half_width
    assert 0.92 <= hits / studies <= 0.985
    assert narrower > narrowed * studies


def test_fieller_gives_the_published_example():
    # Worked example in the documentation of the statistics package dcstats: 14 (SD 3) over 7 (SD 2), 10 degrees of
    # freedom, 5 % at either end: g = 0.268164, limits 1.051413 and 4.414296.
    low, high = fieller_interval(14, 7, numerator_variance=9, denominator_variance=4, freedom=10, confidence=0.90)
    assert (low, high) == pytest.approx((1.051413, 4.414296), abs=2e-6)
    assert stats.t.ppf(0.95, 10) ** 2 * 4 / 49 == pytest.approx(0.268164, abs=1e-6)


@pytest.mark.parametrize(("confidence", "limits"), [(0.90, (1.54, 2.64)), (0.95, (1.46, 2.83)), (0.99, (1.27, 3.36))])
def test_fieller_gives_the_published_limits_of_two_means(confidence, limits):
    # The same documentation, means of six values each (standard errors 3/√6 and 2/√6), limits to two decimals.
    found = fieller_interval(
        14, 7, numerator_variance=9 / 6, denominator_variance=4 / 6, freedom=10, confidence=confidence
    )
    assert found == pytest.approx(limits, abs=0.006)


def test_fieller_is_the_set_of_ratios_that_a_t_test_does_not_reject():
    # Definition of the interval, found by brute force with a covariance between the estimates.
    a, b, va, vb, cov, freedom = 0.8, 1.7, 0.02, 0.03, 0.012, 7
    low, high = fieller_interval(a, b, numerator_variance=va, denominator_variance=vb, covariance=cov, freedom=freedom)
    theta = np.linspace(-1, 3, 400_001)
    kept = theta[np.abs(a - theta * b) <= stats.t.ppf(0.975, freedom) * np.sqrt(va - 2 * theta * cov + theta**2 * vb)]
    assert (low, high) == pytest.approx((kept.min(), kept.max()), abs=2e-5)


def test_fieller_is_open_when_the_denominator_may_be_zero():
    assert all(math.isnan(end) for end in fieller_interval(1, 0.1, numerator_variance=0.1, denominator_variance=1))
    assert all(math.isnan(end) for end in fieller_retention([0.1, 0.2], [0.0, 0.3]))


def test_retention_is_a_ratio_of_means_and_not_a_mean_of_ratios():
    found = retention_interval([0.02, 0.10], [0.05, 0.20])
    assert found.value == pytest.approx(0.12 / 0.25)
    assert found.low < found.value < found.high
    assert math.sqrt(found.low * found.high) == pytest.approx(found.value)  # symmetric on the log scale


def test_equal_scatter_with_many_fields_gives_the_pooled_t_interval():
    # With many fields ρ is known from the data, so that the textbook interval of a log ratio (delta method) must come out.
    rng = np.random.default_rng(3)
    run, reference = drawn(rng, 0.1, 0.25, 400), drawn(rng, 0.2, 0.25, 400)
    found = retention_interval(run, reference)
    errors = [values.std(ddof=1) / values.mean() / math.sqrt(400) for values in (run, reference)]
    half = stats.t.ppf(0.975, 798) * math.hypot(*errors)
    assert math.log(found.high / found.value) == pytest.approx(half, rel=0.01)


def test_two_fields_each_of_equal_scatter_are_wider_than_pooled_and_tighter_than_one_degree_of_freedom():
    found = retention_interval([0.09, 0.11], [0.18, 0.22])
    spread = math.sqrt(2 * (0.02 / math.sqrt(2) / 0.1 / math.sqrt(2)) ** 2)
    half = math.log(found.high / found.value)
    assert stats.t.ppf(0.975, 2) * spread < half < stats.t.ppf(0.975, 1) * spread


@pytest.mark.parametrize(
    ("run", "reference", "reason"),
    [
        ([], [0.1, 0.2], "no usable field in the track"),
        ([0.1], [], "no usable reference"),
        ([0.1, 0.1], [0.0, 0.0], "no valleys"),
        ([0.1], [0.1, 0.2], "two or more"),
        ([0.1, 0.1], [0.2, 0.2], "twice"),
        ([0.0, 0.0], [0.2, 0.21], "no open valley"),
    ],
)
def test_what_cannot_be_known_is_nan_with_a_reason_and_never_infinite(run, reference, reason):
    found = retention_interval(run, reference)
    assert reason in found.reason
    assert not any(math.isinf(each) for each in (found.value, found.low, found.high))
    assert math.isnan(found.high)
    if reason == "no open valley":
        assert found.value == 0 and found.low == 0
    elif "two or more" not in reason and "twice" not in reason:
        assert math.isnan(found.value)


def test_a_reference_below_the_least_fraction_gives_no_ratio():
    found = retention_interval([0.001, 0.002], [0.001, 0.002], least_reference=0.002)
    assert math.isnan(found.value) and "undefined" in found.reason


def test_unmeasured_fields_must_be_left_out_beforehand():
    with pytest.raises(ValueError, match="finite"):
        retention_interval([0.1, math.nan], [0.1, 0.2])


def test_the_studys_own_scatter_ratio_is_recovered():
    rng = np.random.default_rng(8)
    pairs = [(drawn(rng, 0.1, 0.4, 8), drawn(rng, 0.2, 0.2, 8)) for _ in range(200)]
    assert pooled_variance_ratio(pairs) == pytest.approx(4.0, rel=0.15)  # (0.4 / 0.2)²
    assert pooled_variance_ratio(pairs[:1][:0]) == 1.0
    assert pooled_variance_ratio([([0.1, 0.2], [0.1, 0.2])]) == 1.0  # too few to say


def test_an_error_that_all_fields_share_is_covered_where_their_scatter_says_nothing_of_it():
    """Simulated: fields whose zones are each read wrong by one factor, e^N(0, 0.2²); few fields that agree can't show it."""
    rng = np.random.default_rng(12)
    studies, fields, truth = 1500, 6, 0.6
    wrong = np.exp(rng.normal(0, 0.2, (studies, 2)))
    run = drawn(rng, 0.12, 0.1, (studies, fields)) * wrong[:, :1]
    reference = drawn(rng, 0.20, 0.1, (studies, fields)) * wrong[:, 1:]

    def held(shared_u: float) -> float:
        found = [retention_interval(one, other, shared_u=shared_u) for one, other in zip(run, reference, strict=True)]
        return float(np.mean([each.low <= truth <= each.high for each in found]))

    assert held(0.0) < 0.6
    assert 0.94 < held(0.2 * math.sqrt(2)) < 0.98


def test_fields_needed_reach_the_wanted_half_width():
    run, reference = zone_of([0.05, 0.06, 0.07]), zone_of([0.12, 0.10, 0.14])
    needed = fields_needed(run, reference, 0.1)

    def half_width(fields: int) -> float:  # R·sinh(t·√((c₁ + c₂)/n)), written out again
        spread = (0.01 / 0.06) ** 2 + (0.02 / 0.12) ** 2
        return 0.5 * math.sinh(stats.t.ppf(0.975, 2 * fields - 2) * math.sqrt(spread / fields))

    assert half_width(needed) <= 0.1 < half_width(needed - 1)
    assert fields_needed(zone_of([0.1]), reference, 0.1) == 0
    shared_u = math.asinh(0.1 / 0.5) / 1.959964  # by itself just as wide as wanted
    assert needed < fields_needed(run, reference, 0.1, shared_u=0.9 * shared_u) < 200
    assert fields_needed(run, reference, 0.1, shared_u=1.01 * shared_u) == 200


def test_area_fraction_interval_is_that_of_the_standard():
    # ASTM E562: mean 8.4, s 1.9, n 20 → 95 % CI ± 0.89, relative accuracy 10.6 %; ± 0.83 would be the normal's.
    rng = np.random.default_rng(0)
    values = rng.normal(0, 1, 20)
    values = 8.4 + 1.9 * (values - values.mean()) / values.std(ddof=1)
    found = area_fraction(values)
    assert found.half_width == pytest.approx(0.89, abs=0.005)
    assert found.relative_accuracy_percent == pytest.approx(10.6, abs=0.05)


@pytest.mark.parametrize("fields", [2, 3, 6])
def test_coverage_of_95_percent_intervals_is_held(fields):
    # 1,500 studies: three standard errors of the estimate are 1.7 %.
    rng = np.random.default_rng(fields)
    found = coverage(rng, (fields, fields), 0.1, 0.6, (0.25, 0.2), 1500)
    assert 0.93 <= found <= 0.97


@pytest.mark.slow
def test_coverage_over_fields_fractions_and_scatter(capsys):
    # Shown: simulated coverage (2,000 studies a cell) for 2 to 10 fields a zone and valley fractions 0.03 to 0.3.
    rng = np.random.default_rng(20)
    lines = ["fields  reference  ratio  " + "  ".join(f"CV {one:.2f}/{other:.2f}" for one, other in COVERAGE_SPREADS)]
    worst = []
    for fields in range(2, 11):
        for mean in (0.03, 0.1, 0.3):
            for ratio in (0.4, 1.0):
                row = [coverage(rng, (fields, fields), mean, ratio, spreads, 2000) for spreads in COVERAGE_SPREADS]
                worst += row
                lines.append(f"{fields:6d}  {mean:9.2f}  {ratio:5.1f}  " + "  ".join(f"{each:12.3f}" for each in row))
    lines.append(f"lowest {min(worst):.3f}, highest {max(worst):.3f}, mean {np.mean(worst):.3f}")
    with capsys.disabled():
        print("\n" + "\n".join(lines))
    assert min(worst) >= 0.93 and max(worst) <= 0.97
