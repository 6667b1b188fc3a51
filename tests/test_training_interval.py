"""The intervals of the fractions: their score has its closed form, and the factor that is fitted holds the share it should."""

import numpy as np
import pytest
from evaluation import interval_score
from finish import holding_factor


@pytest.mark.parametrize(
    ("true", "expected"),
    [(0.19, 0.07), (0.16, 0.07 + 40 * 0.02), (0.3, 0.07 + 40 * 0.05)],  # inside, below and above 0.18 to 0.25
)
def test_the_score_is_the_width_and_forty_times_what_is_missed(true, expected):
    """Closed form: (u − l) + 2/α · (l − y) or (y − u), α = 0.05 (Gneiting and Raftery, 2007)."""
    assert interval_score(0.2, true, 0.02, 0.05) == pytest.approx(expected)


def test_an_interval_that_reaches_beyond_nothing_is_no_wider_for_it():
    assert interval_score(0.01, 0.0, 0.5, 0.02) == pytest.approx(0.03)


def test_the_fitted_factor_is_the_quantile_that_numpy_weighs_out():
    """Expected: numpy's inverted empirical distribution with every maker's fields weighing as much together."""
    rng = np.random.default_rng(5)
    sources = np.array(["a"] * 120 + ["b"] * 30)
    doubted = rng.uniform(0.001, 0.02, (150, 2))
    found = rng.uniform(0.4, 0.6, 150)
    true = found + rng.standard_t(3, 150) * doubted.mean(1)
    error = found - true
    needed = np.where(error > 0, error / doubted[:, 0], -error / doubted[:, 1])
    weights = np.where(sources == "a", 1 / 120, 1 / 30)
    factor = holding_factor(found, true, doubted, sources)
    assert factor == pytest.approx(np.quantile(needed, 0.95, weights=weights, method="inverted_cdf"))
    held = (error <= factor * doubted[:, 0] + 1e-12) & (-error <= factor * doubted[:, 1] + 1e-12)
    assert np.average(held, weights=weights) == pytest.approx(0.95, abs=0.03)


def test_fields_that_show_nothing_of_a_state_say_nothing_of_its_factor():
    none, doubted, sources = np.zeros(2), np.full((2, 2), 0.01), np.array(["a", "b"])
    assert holding_factor(none, none, doubted, sources) == 1.0
    # The first field's error stands against no doubt at all: no factor holds it, and the other decides.
    doubted[0] = 0.0
    assert holding_factor(np.array([0.1, 0.2]), np.array([0.3, 0.18]), doubted, sources) == pytest.approx(2)
