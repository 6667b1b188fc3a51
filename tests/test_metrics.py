"""Figures of merit against scikit-learn, on random labels (expected values: scikit-learn's own implementations)."""

import numpy as np
import pytest
from sklearn.metrics import confusion_matrix, jaccard_score, roc_auc_score

from semwear.metrics import (
    area_under_roc,
    confusion,
    expected_calibration_error,
    fractions,
    intersection_over_union,
    reliability,
)


@pytest.fixture
def labels():
    rng = np.random.default_rng(7)
    truth = rng.integers(0, 4, (37, 53)).astype(np.uint8)
    found = np.where(rng.random(truth.shape) < 0.7, truth, rng.integers(0, 4, truth.shape)).astype(np.uint8)
    return truth, found


def test_confusion_and_iou_equal_scikit_learn(labels):
    truth, found = labels
    counts = confusion(truth, found)
    np.testing.assert_array_equal(counts, confusion_matrix(truth.ravel(), found.ravel(), labels=range(4)))
    expected = jaccard_score(truth.ravel(), found.ravel(), labels=range(4), average=None)
    np.testing.assert_allclose(intersection_over_union(counts), expected)


def test_pixels_that_are_not_assessed_do_not_count(labels):
    truth, found = labels
    hidden = truth.copy()
    hidden[:10] = 255
    np.testing.assert_array_equal(confusion(hidden, found), confusion(truth[10:], found[10:]))
    np.testing.assert_allclose(fractions(hidden), np.bincount(truth[10:].ravel(), minlength=4) / truth[10:].size)


def test_a_state_on_neither_side_has_no_iou_and_nothing_assessed_has_no_fraction():
    iou = intersection_over_union(confusion(np.uint8([0, 0, 1]), np.uint8([0, 1, 1])))
    assert np.isnan(iou[2:]).all()
    assert np.isnan(fractions(np.full((3, 4), 255, np.uint8))).all()


def test_area_under_roc_equals_scikit_learn_with_ties():
    rng = np.random.default_rng(3)
    positive = rng.random(400) < 0.3
    score = np.round(rng.normal(positive, 1.0), 1)
    assert area_under_roc(score, positive) == pytest.approx(roc_auc_score(positive, score))
    assert np.isnan(area_under_roc(score, np.ones(400)))


def test_calibration_error_is_zero_for_honest_probabilities_and_the_gap_for_others():
    rng = np.random.default_rng(5)
    probability = rng.uniform(0.3, 1, 200_000)
    honest = rng.random(probability.size) < probability
    assert expected_calibration_error(*reliability(probability, honest)) < 0.005
    # Closed form: always 0.9 sure and right in 60 % of the cases is a gap of 0.3.
    always = np.full(50_000, 0.9)
    right = np.arange(50_000) % 10 < 6
    assert expected_calibration_error(*reliability(always, right)) == pytest.approx(0.3)
