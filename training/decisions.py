"""From the calibration fields: the temperature of the network's probabilities, and the valley's offset in unworn and worn fields."""

import numpy as np
import pandas as pd
from scipy.optimize import minimize_scalar
from scipy.special import softmax

LARGEST_OFFSET = 0.7
"""Limit of an offset either way, as a natural logarithm (own choice)."""
LEAST_VALLEY = 0.01
"""Valley fraction from which a source counts (own choice)."""


def state_temperature(outputs: list[dict]) -> float:
    """The temperature of least negative log-likelihood on the calibration pixels (Guo et al., 2017)."""
    logits = np.concatenate([output["logits"] for output in outputs], 1)
    truth = np.concatenate([output["truth"] for output in outputs])

    def cost(log_temperature: float) -> float:
        probabilities = softmax(logits / np.exp(log_temperature), axis=0)
        return float(-np.log(np.maximum(probabilities[truth, np.arange(truth.size)], 1e-9)).mean())

    return float(np.exp(minimize_scalar(cost, bounds=(-1, 1.6), method="bounded").x))


def valley_offset(plain: pd.DataFrame, tried: pd.DataFrame, offset: float) -> float:
    """What is to be added to the valley's log-probability: the median of what the fields of each source would need.

    plain, tried: ``valley_found``, ``valley_true`` and ``source`` of the same fields, all unworn or all worn, evaluated with
    nothing and with ``offset`` added; what moves the fraction is taken as linear. The median over sources, since single makers err
    far more than the others, either way. 0.0 where no source has valleys.
    """
    columns = ["valley_found", "valley_true"]
    before, after = (table.groupby("source")[columns].mean() for table in (plain, tried))
    moved = (after["valley_found"] - before["valley_found"]) / offset
    needed = (before["valley_true"] - before["valley_found"]) / moved
    needed = needed[(before["valley_true"] >= LEAST_VALLEY) & (moved > 0)].clip(-LARGEST_OFFSET, LARGEST_OFFSET)
    return round(float(needed.median()), 4) if len(needed) else 0.0
