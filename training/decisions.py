"""From a network's logits on the calibration fields: the temperature of its probabilities and the states that it decides for.

The fields are those of ``finish.py``: an output holds ``logits`` (4, n) and ``truth`` (n,) of some of a field's pixels, and
the field's working pixel size, ``working_um``.
"""

import numpy as np
import pandas as pd
from scipy.optimize import minimize_scalar
from scipy.special import softmax

from semwear.metrics import confusion, intersection_over_union

VALLEY = 1
LOWEST_OFFSET, HIGHEST_OFFSET, STEEPEST = -0.7, 1.5, 0.5
"""Limits of the offsets, and of the valley's per octave of working pixel size, as natural logarithms (own choice)."""
STEPS = 40
FINE_FROM, COARSE_FROM = -0.3, 0.3
"""Octaves below and above the middle working pixel size from which fields count as fine and as coarse."""
SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)
LEAST_VALLEY = 0.01
"""Valley fraction from which a source counts for the offset of unworn fields (own choice)."""


def state_temperature(outputs: list[dict]) -> float:
    """The temperature of least negative log-likelihood on the calibration pixels (Guo et al., 2017)."""
    logits = np.concatenate([output["logits"] for output in outputs], 1)
    truth = np.concatenate([output["truth"] for output in outputs])

    def cost(log_temperature: float) -> float:
        probabilities = softmax(logits / np.exp(log_temperature), axis=0)
        return float(-np.log(np.maximum(probabilities[truth, np.arange(truth.size)], 1e-9)).mean())

    return float(np.exp(minimize_scalar(cost, bounds=(-1, 1.6), method="bounded").x))


def decision_offsets(outputs: list[dict], temperature: float, sizes_um: list[float]) -> dict[str, list[float]]:
    """Offsets added to the states' log-probabilities before the most probable one is taken, for each working pixel size.

    Where the network doubts, the commoner state wins every pixel, so that rare states come out too small; and grooves of
    few pixels lose their rims, so that valleys come out too small at coarse pixel sizes and too large at fine ones. The
    offsets that take this bias off the mean fractions of the calibration fields, and the valley's change with the logarithm
    of the working pixel size that takes it off fine and coarse fields, are found by fixed-point steps. Of them the share is
    kept whose mean IoU on the same pixels is best: other makers' fields have another bias.
    """
    logits = np.concatenate([output["logits"] for output in outputs], 1) / np.float32(temperature)
    truth = np.concatenate([output["truth"] for output in outputs])
    middle_um = float(np.median(sizes_um))
    octaves = np.concatenate(
        [np.full(output["truth"].size, np.log2(output["working_um"] / middle_um), np.float32) for output in outputs]
    )
    fine, coarse, every = octaves < FINE_FROM, octaves > COARSE_FROM, np.ones(octaves.size, bool)
    whole, slope = np.zeros(4), np.zeros(4)

    def decided(share: float = 1.0) -> np.ndarray:
        shifted = logits + (share * whole).astype(np.float32)[:, None]
        shifted[VALLEY] += np.float32(share * slope[VALLEY]) * octaves
        return shifted.argmax(0).astype(np.uint8)

    for _ in range(STEPS):
        found = decided()
        whole[1:] += 0.3 * _lack(truth, found, every)[1:]
        whole = np.clip(whole, LOWEST_OFFSET, HIGHEST_OFFSET)
        if fine.any() and coarse.any():
            slope[VALLEY] += 0.2 * (_lack(truth, found, coarse) - _lack(truth, found, fine))[VALLEY]
            slope = np.clip(slope, -STEEPEST, STEEPEST)

    def mean_iou(share: float) -> float:
        return float(np.nanmean(intersection_over_union(confusion(truth.astype(np.uint8), decided(share)))[1:]))

    best = max(SHARES, key=mean_iou)
    return {
        f"{size_um:g}": [round(float(value), 4) for value in best * (whole + slope * np.log2(size_um / middle_um))]
        for size_um in sizes_um
    }


def unworn_valley_offset(plain: pd.DataFrame, tried: pd.DataFrame, offset: float) -> float:
    """What is to be added to the valley's offset on unworn fields: the median of what the fields of each source would need.

    In unworn fields no other state competes for a groove's pixels, and yet the plateau wins those in doubt, so that their
    valleys come out smaller than those of worn fields, and every retention too large. plain, tried: ``valley_found``,
    ``valley_true`` and ``source`` of the same unworn fields, evaluated with nothing and with ``offset`` added; what moves the
    fraction is taken as linear. The median over sources, since those of single makers err the other way.
    """
    columns = ["valley_found", "valley_true"]
    before, after = (table.groupby("source")[columns].mean() for table in (plain, tried))
    moved = after["valley_found"] - before["valley_found"]
    needed = offset * (before["valley_true"] - before["valley_found"]) / moved
    needed = needed[(before["valley_true"] >= LEAST_VALLEY) & (moved > 0)].clip(LOWEST_OFFSET, -LOWEST_OFFSET)
    return round(float(needed.median()), 4) if len(needed) else 0.0


def _lack(truth: np.ndarray, found: np.ndarray, where: np.ndarray) -> np.ndarray:
    """Logarithm of how much more often each state is true than found, (4,)."""
    true, seen = (np.bincount(states[where], minlength=4) / where.sum() for states in (truth, found))
    return np.log(np.maximum(true, 1e-5) / np.maximum(seen, 1e-5))
