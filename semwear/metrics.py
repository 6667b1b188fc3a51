"""Figures of merit of a segmentation, of probabilities and of region scores.

Plain NumPy on label arrays; every function is checked against scikit-learn in the tests.
"""

import numpy as np
from scipy.stats import rankdata


def confusion(truth: np.ndarray, found: np.ndarray) -> np.ndarray:
    """Return the confusion counts (4, 4) int64, rows truth and columns found, where both are assessed.

    Arguments are uint8 arrays of mask codes of the same shape; pixels that are 255 on either side don't count.

    >>> confusion(np.uint8([0, 1, 1, 255]), np.uint8([0, 1, 2, 0]))[1].tolist()
    [0, 1, 1, 0]
    """
    truth, found = np.asarray(truth).ravel(), np.asarray(found).ravel()
    both = (truth < 4) & (found < 4)
    pairs = truth[both].astype(np.intp) * 4 + found[both]
    return np.bincount(pairs, minlength=16).reshape(4, 4)


def intersection_over_union(counts: np.ndarray) -> np.ndarray:
    """Return the intersection over union per state (4,) from confusion counts; NaN for a state on neither side."""
    counts = np.asarray(counts, dtype=float)
    hit = np.diag(counts)
    union = counts.sum(0) + counts.sum(1) - hit
    return np.divide(hit, union, out=np.full(4, np.nan), where=union > 0)


def fractions(codes: np.ndarray) -> np.ndarray:
    """Return the share of the assessed area in each state (4,); NaN where nothing is assessed.

    >>> fractions(np.uint8([[0, 0, 0], [1, 255, 255]])).tolist()
    [0.75, 0.25, 0.0, 0.0]
    """
    counts = np.bincount(np.asarray(codes).ravel(), minlength=256)[:4]
    total = counts.sum()
    return counts / total if total else np.full(4, np.nan)


def reliability(probability: np.ndarray, correct: np.ndarray, *, bins: int = 15):
    """Return (mean probability, observed share, count) per bin of equal width in [0, 1], each (bins,).

    probability: confidence of each prediction; correct: whether it was right. Empty bins hold NaN and count 0.
    """
    probability = np.asarray(probability, dtype=float).ravel()
    correct = np.asarray(correct, dtype=float).ravel()
    index = np.minimum((probability * bins).astype(np.intp), bins - 1)
    count = np.bincount(index, minlength=bins)
    filled = count > 0
    mean = np.divide(np.bincount(index, probability, bins), count, out=np.full(bins, np.nan), where=filled)
    share = np.divide(np.bincount(index, correct, bins), count, out=np.full(bins, np.nan), where=filled)
    return mean, share, count


def expected_calibration_error(mean: np.ndarray, share: np.ndarray, count: np.ndarray) -> float:
    """Return the count-weighted mean gap between confidence and accuracy (Guo et al., 2017, arXiv 1706.04599)."""
    filled = count > 0
    if not filled.any():
        return float("nan")
    return float(np.sum(count[filled] * np.abs(mean[filled] - share[filled])) / count[filled].sum())


def area_under_roc(score: np.ndarray, positive: np.ndarray) -> float:
    """Return the area under the receiver operating characteristic by ranks (Mann and Whitney); NaN for one class.

    >>> area_under_roc([0.1, 0.4, 0.35, 0.8], [0, 0, 1, 1])
    0.75
    """
    positive = np.asarray(positive, dtype=bool)
    count, others = int(positive.sum()), int((~positive).sum())
    if not count or not others:
        return float("nan")
    ranks = rankdata(np.asarray(score, dtype=float))
    return float((ranks[positive].sum() - count * (count + 1) / 2) / (count * others))
