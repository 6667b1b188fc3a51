"""Correlated Gaussian noise of zero mean and unit deviation: isotropic, elongated, and oriented along a lay.

Oriented noise is made on a grid whose one axis runs along the lay and whose other runs across it, and is then laid over
the field by an affine map, so that no groove repeats by wrapping round the edge.
"""

import cv2
import numpy as np

cv2.setNumThreads(1)


def unit(field: np.ndarray) -> np.ndarray:
    """Return the field shifted and scaled to zero mean and unit deviation."""
    field = field - field.mean()
    return (field / max(float(field.std()), 1e-9)).astype(np.float32)


def smooth_noise(shape: tuple[int, int], row_px: float, col_px: float, rng: np.random.Generator) -> np.ndarray:
    """Return noise with Gaussian correlation of the given deviations along rows' index and columns' index.

    Long correlations are made on a coarser grid of about four cells a deviation.
    """
    steps = [max(1.0, sigma / 4) for sigma in (row_px, col_px)]
    margin = 4
    coarse = [int(np.ceil(size / step)) + 2 * margin for size, step in zip(shape, steps, strict=True)]
    white = rng.standard_normal(coarse, dtype=np.float32)
    sigmas = [max(sigma / step, 0.05) for sigma, step in zip((row_px, col_px), steps, strict=True)]
    smooth = cv2.GaussianBlur(white, (0, 0), sigmaX=sigmas[1], sigmaY=sigmas[0], borderType=cv2.BORDER_REFLECT)
    offset = rng.uniform(0.5, 1.5, 2)
    matrix = np.array([[1 / steps[1], 0, offset[1]], [0, 1 / steps[0], offset[0]]])
    flags = (cv2.INTER_CUBIC if max(steps) > 1 else cv2.INTER_LINEAR) | cv2.WARP_INVERSE_MAP
    if max(steps) == 1:
        return unit(smooth[margin : margin + shape[0], margin : margin + shape[1]])
    laid = cv2.warpAffine(smooth, matrix, (shape[1], shape[0]), flags=flags, borderMode=cv2.BORDER_REFLECT)
    return unit(laid)


def lay_noise(
    shape: tuple[int, int],
    angle_deg: float,
    across_px: float,
    along_px: float,
    rng: np.random.Generator,
    *,
    wobble_px: float = 0.0,
    fine: float = 0.5,
) -> np.ndarray:
    """Return noise elongated along a direction, degrees anticlockwise from the rows.

    across_px, along_px: deviations of the correlation; fine: share of a second population 2.6 times narrower; wobble_px:
    swing of the whole family to the side, as the honing head's vibration gives.
    """
    diagonal = float(np.hypot(*shape)) + 4 * across_px
    across_step = max(1.0, across_px / 9)
    along_step = max(2.0, along_px / 5)
    size = (int(diagonal / along_step) + 12, int(diagonal / across_step) + 12)
    base = np.zeros(size, np.float32)
    for share, narrow in ((1.0, 1.0), (fine, 2.6)):
        if share > 0:
            sigma = max(across_px / narrow / across_step, 0.3)
            base += share * smooth_noise(size, along_px / along_step / (1 + 0.4 * (narrow > 1)), sigma, rng)
    if wobble_px > 0:
        shift = wobble_px / across_step * smooth_noise((size[0], 1), 120 / along_step + 1.5, 1, rng)[:, 0]
        grid = np.arange(size[1], dtype=np.float32)
        base = np.stack([np.interp(grid + s, grid, line) for line, s in zip(base, shift, strict=True)])
        base = base.astype(np.float32)
    angle = np.deg2rad(angle_deg)
    along, across = np.array([np.cos(angle), -np.sin(angle)]), np.array([np.sin(angle), np.cos(angle)])
    centre = np.array([shape[1] / 2, shape[0] / 2])
    matrix = np.array([across / across_step, along / along_step])
    offset = np.array([size[1] / 2, size[0] / 2]) - matrix @ centre
    laid = cv2.warpAffine(
        base,
        np.column_stack([matrix, offset]),
        (shape[1], shape[0]),
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REFLECT,
    )
    return unit(laid)


def rank(field: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return each value's share of smaller values, 0 to 1, from a sample of the field."""
    sample = np.sort(rng.choice(field.ravel(), 8192, replace=False))
    knots = np.linspace(0, 1, 257)
    return np.interp(field, np.quantile(sample, knots), knots).astype(np.float32)


def soft_step(field: np.ndarray, low: float, high: float) -> np.ndarray:
    """Return 0 below low, 1 above high and a smooth rise between."""
    share = np.clip((field - low) / (high - low), 0, 1)
    return share * share * (3 - 2 * share)


def without_specks(mask: np.ndarray, least_px: float) -> np.ndarray:
    """Return a 0/1 mask without its parts smaller than an area."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    keep = stats[:, cv2.CC_STAT_AREA] >= least_px
    keep[0] = False
    return keep[labels].astype(np.uint8)
