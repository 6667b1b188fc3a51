"""Orders of specimens, and how often one of them gives an effect as strong as the observed one: permutation tests."""

import itertools

import numpy as np


def orders_of(count: int, rng: np.random.Generator, *, all_up_to: int, drawn: int) -> np.ndarray:
    """Return orders of ``count`` places, (orders, count) int, the observed one first: all of them for few places, else random ones.

    >>> orders_of(3, np.random.default_rng(0), all_up_to=7, drawn=5).shape, orders_of(9, np.random.default_rng(0), all_up_to=7, drawn=5).shape
    ((6, 3), (6, 9))
    """
    if count <= all_up_to:
        return np.array(list(itertools.permutations(range(count))))
    random = rng.permuted(np.tile(np.arange(count), (drawn, 1)), axis=1)
    return np.vstack([np.arange(count), random])


def share_as_strong(strengths: np.ndarray) -> float:
    """Return the share of orders, (orders,), whose strength reaches that of the first, the observed one: the p value."""
    return float((strengths >= strengths[0] * (1 - 1e-9)).mean())
