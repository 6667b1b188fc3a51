"""Regions of a field pooled: borders found and left where they aren't, shrinkage that beats the regions alone."""

import numpy as np
import pytest

from semwear.worn_sides import OWN_SHARE, border_side, pooled_logits

ROWS, COLS = 9, 12
PLACES = np.stack(np.mgrid[:ROWS, :COLS], -1).reshape(-1, 2).astype(float)


@pytest.mark.parametrize("direction_deg", [0.0, 22.5, 67.5, 90.0, 135.0])
@pytest.mark.parametrize("offset", [-2.0, 0.0, 1.5])
def test_the_border_of_a_track_is_found(direction_deg, offset):
    rng = np.random.default_rng([int(10 * direction_deg), int(10 + 2 * offset)])
    angle = np.deg2rad(direction_deg)
    across = (PLACES - PLACES.mean(0)) @ np.array([np.sin(angle), np.cos(angle)])
    worn = across > offset
    logits = np.where(worn, 2.5, -2.5) + rng.normal(0, 1, worn.size)
    side = border_side(PLACES, logits, np.ones(worn.size))
    right = max(np.mean(side == worn), np.mean(side != worn))
    assert right > 0.95
    pooled = pooled_logits(PLACES, logits, np.ones(worn.size))
    assert np.mean((pooled > 0) == worn) >= np.mean((logits > 0) == worn)


def test_a_field_of_one_kind_has_no_border():
    none = 0
    for seed in range(200):
        rng = np.random.default_rng(seed)
        logits = rng.normal(rng.choice([-1, 1]), 1.5, len(PLACES))
        none += not border_side(PLACES, logits, np.ones(len(PLACES))).any()
    assert none == 200


def test_without_a_border_all_regions_go_towards_the_weighted_mean_of_the_field():
    rng = np.random.default_rng(4)
    logits, weights = rng.normal(1, 1, len(PLACES)), rng.uniform(0.5, 1, len(PLACES))
    expected = OWN_SHARE * logits + (1 - OWN_SHARE) * np.average(logits, weights=weights)
    np.testing.assert_allclose(pooled_logits(PLACES, logits, weights), expected)


def test_pooling_brings_regions_nearer_to_the_truth_than_they_are_alone():
    """Expected by Efron and Morris (1975): shrunken estimates have the smaller mean squared error where regions of a field
    scatter by noise about like truths."""
    rng = np.random.default_rng(9)
    alone = pooled = 0.0
    for _ in range(50):
        truth = rng.normal(0, 2) + rng.normal(0, 0.5, len(PLACES))
        seen = truth + rng.normal(0, 1, len(PLACES))
        alone += np.mean((seen - truth) ** 2)
        pooled += np.mean((pooled_logits(PLACES, seen, np.ones(len(PLACES))) - truth) ** 2)
    assert pooled < 0.5 * alone


@pytest.mark.parametrize("count", [1, 2, 5])
def test_few_regions_are_pooled_without_a_border(count):
    logits = np.linspace(-3, 3, count)
    assert not border_side(PLACES[:count], logits, np.ones(count)).any()
    assert pooled_logits(PLACES[:count], logits, np.ones(count)).shape == (count,)
