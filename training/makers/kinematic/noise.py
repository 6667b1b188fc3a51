"""Random numbers and smooth random fields: the one source of chance for every module of this maker."""

import cv2
import numpy as np


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """A number between low and high (same unit), uniform in its logarithm."""
    return float(np.exp(rng.uniform(np.log(low), np.log(max(high, low * 1.0001)))))


def smooth(rng: np.random.Generator, shape: tuple[int, int], cell: tuple[float, float]) -> np.ndarray:
    """Random field (rows, cols), about zero mean and unit deviation; cell: correlation (px down, px across)."""
    rows, cols = (max(2, min(side, round(side / max(step, 1.0)) + 2)) for side, step in zip(shape, cell, strict=True))
    coarse = rng.standard_normal((rows, cols), dtype=np.float32)
    if (rows, cols) == shape:
        return coarse
    field = cv2.resize(coarse, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    # Interpolation between nodes averages some of the variance away.
    return field * 1.15


def along(rng: np.random.Generator, length: int, cell: float) -> np.ndarray:
    """Smooth random line (length,), about unit deviation; cell: correlation length, px."""
    knots = max(3, round(length / max(cell, 1.0)) + 2)
    return np.interp(np.linspace(0, knots - 1, length), np.arange(knots), rng.standard_normal(knots)).astype(np.float32)
