"""Random fields with a chosen grain, the raw matter of every map: normal deviates on a coarse grid, interpolated."""

import cv2
import numpy as np

Shape = tuple[int, int]


def grain(rng: np.random.Generator, shape: Shape, row_px: float, col_px: float) -> np.ndarray:
    """Noise (rows, cols) float32 of about unit spread whose grains measure row_px down and col_px along a row."""
    coarse = tuple(int(size / max(step, 1.0)) + 3 for size, step in zip(shape, (row_px, col_px), strict=True))
    deviates = rng.standard_normal(coarse, dtype=np.float32)
    if coarse[0] >= shape[0] and coarse[1] >= shape[1]:
        return deviates[: shape[0], : shape[1]].copy()
    field = cv2.resize(
        deviates, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC if min(row_px, col_px) > 8 else cv2.INTER_LINEAR
    )
    return field / max(float(field.std()), 1e-3)


def blurred(field: np.ndarray, sigma_px: float) -> np.ndarray:
    """Gaussian blur; wide ones on a shrunken copy, for speed."""
    if sigma_px < 6:
        return cv2.GaussianBlur(field, (0, 0), max(sigma_px, 0.3))
    shrink = sigma_px / 3
    size = (max(int(field.shape[1] / shrink), 4), max(int(field.shape[0] / shrink), 4))
    small = cv2.GaussianBlur(cv2.resize(field, size, interpolation=cv2.INTER_AREA), (0, 0), 3.0)
    return cv2.resize(small, field.shape[::-1], interpolation=cv2.INTER_LINEAR)


def chance(rng: np.random.Generator, probability: float) -> bool:
    return bool(rng.random() < probability)


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(max(high, low * 1.01)))))
