"""The intervals of the fractions: their score has its closed form, and the factor that is fitted scores best."""

import numpy as np
import pytest
from evaluation import interval_score
from finish import best_factor
from scipy.optimize import linprog


@pytest.mark.parametrize(
    ("true", "expected"),
    [(0.19, 0.07), (0.16, 0.07 + 40 * 0.02), (0.3, 0.07 + 40 * 0.05)],  # inside, below and above 0.18 to 0.25
)
def test_the_score_is_the_width_and_forty_times_what_is_missed(true, expected):
    """Closed form: (u − l) + 2/α · (l − y) or (y − u), α = 0.05 (Gneiting and Raftery, 2007)."""
    assert interval_score(0.2, true, 0.02, 0.05) == pytest.approx(expected)


def test_an_interval_that_reaches_beyond_nothing_is_no_wider_for_it():
    assert interval_score(0.01, 0.0, 0.5, 0.02) == pytest.approx(0.03)


def test_the_fitted_factor_has_the_least_score_that_a_linear_programme_finds():
    """Expected: scipy's linprog on width + 40 · excess, which is the score away from 0 and 1."""
    rng = np.random.default_rng(5)
    fields = 150
    doubted = rng.uniform(0.001, 0.02, (fields, 2))
    found = rng.uniform(0.4, 0.6, fields)
    true = found + rng.standard_t(3, fields) * doubted.mean(1)
    error = found - true
    cost = np.append(doubted.sum(), np.full(fields, 40.0))
    reach = np.vstack([np.column_stack([-side, -np.eye(fields)]) for side in doubted.T])
    least = linprog(cost, A_ub=reach, b_ub=np.append(-error, error), bounds=(0, None), method="highs")
    factor = best_factor(found, true, doubted)

    def total(factor):
        return sum(
            interval_score(*field[:2], *(factor * field[2:])) for field in np.column_stack([found, true, doubted])
        )

    assert total(factor) == pytest.approx(least.fun, rel=1e-9)
    held = (error <= factor * doubted[:, 0] + 1e-12) & (-error <= factor * doubted[:, 1] + 1e-12)
    assert 0.9 < held.mean() < 1.0


def test_fields_without_error_or_without_doubt_ask_for_no_factor():
    assert best_factor(np.array([0.1, 0.2]), np.array([0.1, 0.2]), np.array([[0.0, 0.0], [0.01, 0.01]])) == 0.0
    # The first field's error stands against no doubt at all: no factor holds it, and the other decides.
    assert best_factor(
        np.array([0.1, 0.2]), np.array([0.3, 0.18]), np.array([[0.0, 0.0], [0.01, 0.01]])
    ) == pytest.approx(2)
