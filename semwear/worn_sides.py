"""Worn regions of a field judged together: a region of 64 µm alone says little, and its neighbours share its fate.

A ring's track is millimetres wide, so that a field lies inside it, outside it, or across its border. The logits of its
regions are therefore drawn towards their mean (partial pooling: Efron and Morris, 1975, doi 10.1080/01621459.1975.10479864),
over the whole field, or over either side of a straight border where one shows: a line with worn regions in the mean on one
side and unworn ones on the other, which takes up most of the spread between the regions.
"""

import numpy as np

OWN_SHARE = 0.4
"""Share of a region's own logit in the pooled one (chosen on the calibration fields)."""
BORDER_EXPLAINS_MIN = 0.65
"""Share of the squared deviations between regions that a border has to take up (chosen on the calibration fields)."""
SIDE_MIN = 3
"""Fewest regions on either side of a border."""
BORDER_STEP_DEG = 7.5
"""Step between the directions that are tried for a border."""


def pooled_logits(places: np.ndarray, logits: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Return the logits of a field's regions drawn towards the mean of their side, (n,) float.

    places: (n, 2) of the regions' centres, in any unit; logits: (n,) of being worn; weights: (n,), assessed share.

    >>> pooled_logits(np.array([[0, 0], [0, 1]]), np.array([2.0, 0.0]), np.ones(2)).tolist()
    [1.4, 0.6]
    """
    side = border_side(places, logits, weights)
    pooled = np.empty(len(logits))
    for part in (side, ~side):
        if part.any():
            pooled[part] = OWN_SHARE * logits[part] + (1 - OWN_SHARE) * np.average(logits[part], weights=weights[part])
    return pooled


def border_side(places: np.ndarray, logits: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Return which regions lie on the one side of the track's border, (n,) bool: none where no border shows."""
    found = np.zeros(len(logits), bool)
    if len(logits) < 2 * SIDE_MIN:
        return found
    total, moment, square = weights.sum(), (weights * logits).sum(), (weights * logits**2).sum()
    least = (1 - BORDER_EXPLAINS_MIN) * (square - moment**2 / total)
    for direction in np.deg2rad(np.arange(0, 180, BORDER_STEP_DEG)):
        across = places @ np.array([np.sin(direction), np.cos(direction)])
        order = np.argsort(across, kind="stable")
        last = np.arange(SIDE_MIN - 1, len(logits) - SIDE_MIN)
        last = last[np.diff(across[order])[last] > 1e-6]  # no border through the middle of a row of regions
        if not last.size:
            continue
        weight, sum_ = np.cumsum(weights[order])[last], np.cumsum((weights * logits)[order])[last]
        rest = square - sum_**2 / weight - (moment - sum_) ** 2 / (total - weight)
        rest[sum_ * (moment - sum_) >= 0] = np.inf
        best = int(np.argmin(rest))
        if rest[best] < least:
            least = rest[best]
            found = np.zeros(len(logits), bool)
            found[order[: last[best] + 1]] = True
    return found
