"""Random roughness of a wanted length along and across the columns (Gaussian correlation), with unit scatter.

Long lengths are drawn on a coarse grid and enlarged, which costs little and changes nothing that can be seen.
"""

import cv2
import numpy as np


def roughness(rng: np.random.Generator, shape: tuple[int, int], along_px: float, across_px: float) -> np.ndarray:
    """Return float32 roughness of mean about 0 and scatter 1; along_px: along a row, across_px: down a column."""
    step_x, step_y = max(1.0, along_px / 2.5), max(1.0, across_px / 2.5)
    rows, cols = int(shape[0] / step_y) + 14, int(shape[1] / step_x) + 14
    coarse = rng.standard_normal((rows, cols), dtype=np.float32)
    sigma_x, sigma_y = max(along_px / step_x, 1e-3), max(across_px / step_y, 1e-3)
    coarse = cv2.GaussianBlur(coarse, (0, 0), sigmaX=sigma_x, sigmaY=sigma_y, borderType=cv2.BORDER_REFLECT_101)
    row0, col0 = rng.uniform(2, 8), rng.uniform(2, 8)
    matrix = np.array([[1 / step_x, 0, col0], [0, 1 / step_y, row0]])
    fine = cv2.warpAffine(
        coarse,
        matrix,
        (shape[1], shape[0]),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REFLECT_101,
    )
    return fine / max(float(coarse.std()), 1e-6)


def line_roughness(rng: np.random.Generator, length: int, along_px: float) -> np.ndarray:
    """Return the same along one line."""
    return roughness(rng, (1, length), along_px, 0.0)[0] if length else np.zeros(0, np.float32)


def above_share(score: np.ndarray, share: float) -> float:
    """Return the limit that this share of the values exceeds, from every seventh value."""
    return float(np.quantile(score.ravel()[::7], 1.0 - share))
