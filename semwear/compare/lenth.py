"""Scatter of effects where no specimens repeat each other: the pseudo standard error of Lenth.

A full two-level factorial with one specimen a cell has as many contrasts as degrees of freedom. Lenth (Technometrics 31
(1989) 469) takes the small contrasts for nothing but scatter: s₀ = 1.5·median|c|, PSE = 1.5·median of the |c| below
2.5·s₀. His t with m/3 degrees of freedom is much too wide for few contrasts, so that the distribution of |c|/PSE without
any effect is simulated, as Ye and Hamada did (J. Qual. Technol. 32 (2000) 57).
"""

from functools import lru_cache

import numpy as np

DRAWS = 40_000


def lenth_pseudo_error(sizes: np.ndarray) -> np.ndarray:
    """Return Lenth's pseudo standard error of the contrasts in the last axis of ``sizes``.

    >>> float(lenth_pseudo_error(np.array([1.0, 1.0, 1.0, 1.0, 20.0])))
    1.5
    """
    sizes = np.abs(np.asarray(sizes, dtype=float))
    start = 1.5 * np.median(sizes, axis=-1, keepdims=True)
    # With more than half of the contrasts zero none is below the limit; those at zero are kept then.
    small = np.where(sizes <= np.maximum(np.nextafter(2.5 * start, 0), 0), sizes, np.nan)
    return 1.5 * np.nanmedian(small, axis=-1)


@lru_cache(maxsize=8)
def _null(contrasts: int) -> np.ndarray:
    """Return |c|/PSE of ``contrasts`` contrasts without any effect, sorted; always the same draws."""
    sizes = np.abs(np.random.default_rng(contrasts).standard_normal((DRAWS, contrasts)))
    return np.sort((sizes / lenth_pseudo_error(sizes)[:, None]).ravel())


def lenth_critical(contrasts: int, confidence: float = 0.95) -> float:
    """Return the value of |c|/PSE that a contrast without effect stays below with the given probability."""
    return float(np.quantile(_null(contrasts), confidence))


def lenth_p(strength: float, contrasts: int) -> float:
    """Return the probability that |c|/PSE of a contrast without effect reaches ``strength``; never zero."""
    null = _null(contrasts)
    # Contrasts without effect often are at 2/3 exactly, the median over 1.5 times itself: rounding must not tell equal ones apart.
    return float((null.size - np.searchsorted(null, strength * (1 - 1e-9)) + 1) / (null.size + 1))
