"""Area fraction and interval against the worked value of ASTM E562 and against scipy's own interval."""

import numpy as np
import pytest
from scipy import stats

from semwear.area_fraction import AreaFraction, area_fraction, doubted_interval, half_width_95


def test_worked_value_of_e562_uses_t_and_not_z():
    # Mean 8.4, s 1.9, n 20: 95 % CI ±0.89 and relative accuracy 10.6 %; z would give ±0.83 (ASTM E562's formulae).
    found = AreaFraction(mean=8.4, deviation=1.9, fields=20, half_width=half_width_95(1.9, 20))
    assert found.half_width == pytest.approx(0.89, abs=0.005)
    assert found.relative_accuracy_percent == pytest.approx(10.6, abs=0.05)
    assert 1.96 * 1.9 / np.sqrt(20) == pytest.approx(0.83, abs=0.005)


@pytest.mark.parametrize("fields", [2, 5, 30])
def test_interval_is_that_of_scipy(fields):
    values = np.random.default_rng(fields).normal(0.2, 0.05, fields)
    low, high = stats.t.interval(0.95, fields - 1, loc=values.mean(), scale=stats.sem(values))
    found = area_fraction(values)
    assert (found.low, found.high) == (pytest.approx(low), pytest.approx(high))


def test_one_field_has_a_mean_and_no_interval():
    found = area_fraction([0.2])
    assert found.mean == 0.2 and found.fields == 1
    assert np.isnan(found.half_width) and np.isnan(found.deviation)


def test_no_field_is_not_a_number_and_unmeasured_fields_are_left_out():
    assert np.isnan(area_fraction([]).mean)
    assert area_fraction([0.1, float("nan"), 0.3]).fields == 2


def test_fields_that_agree_keep_the_doubt_that_each_states():
    """Without scatter what is left is the fields' own doubt, alike in all; with exact fields, Student's t alone (ASTM E562)."""
    assert doubted_interval([0.0, 0.0, 0.0], [0.0] * 3, [0.06, 0.03, 0.03]) == (0.0, pytest.approx(0.04))
    low, high = stats.t.interval(0.95, 2, loc=0.2, scale=stats.sem([0.1, 0.2, 0.3]))
    assert doubted_interval([0.1, 0.2, 0.3], [0.1, 0.2, 0.3], [0.1, 0.2, 0.3]) == (max(0.0, low), pytest.approx(high))
    nothing = [float("nan")] * 3
    assert doubted_interval([0.1, 0.2, 0.3], nothing, nothing) == (max(0.0, low), pytest.approx(high))
    assert doubted_interval([0.2], [0.15], [0.3]) == (pytest.approx(0.15), pytest.approx(0.3))


def test_zero_mean_has_no_relative_accuracy():
    assert np.isnan(area_fraction([0.0, 0.0]).relative_accuracy_percent)


def test_one_field_without_an_interval_of_its_own_has_none():
    assert np.isnan(doubted_interval([0.1], [np.nan], [np.nan])).all()
