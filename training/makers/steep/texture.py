"""Random grain, drawn out along a direction where wanted."""

import cv2
import numpy as np


def grain(
    rng: np.random.Generator, shape: tuple[int, int], along_px: float, across_px: float, angle_rad: float = 0.0
) -> np.ndarray:
    """Noise of mean 0 and spread 1 of this shape, correlated over along_px in the direction angle_rad (from +columns
    towards +rows) and over across_px across it; sizes in pixels."""
    along_px, across_px = max(along_px, 1.0), max(across_px, 1.0)
    reach = float(np.hypot(*shape))
    cells = (min(int(reach / across_px) + 4, 640), min(int(reach / along_px) + 4, 640))
    coarse = rng.standard_normal(cells).astype(np.float32)
    cos, sin = np.cos(angle_rad), np.sin(angle_rad)
    # The map from picture to cells, so that cells wrap where the picture outgrows them.
    to_cells = np.array(
        [
            [cos / along_px, sin / along_px, rng.uniform(0, cells[1])],
            [-sin / across_px, cos / across_px, rng.uniform(0, cells[0])],
        ]
    )
    drawn = cv2.warpAffine(
        coarse, to_cells, (shape[1], shape[0]), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_WRAP
    )
    return (drawn - drawn.mean()) / (drawn.std() + 1e-6)


def wander(rng: np.random.Generator, count: int, step: float) -> np.ndarray:
    """A random line of count samples, mean spread 1, correlated over step samples."""
    knots = rng.standard_normal(int(count / max(step, 1.0)) + 3)
    return np.interp(np.arange(count) / max(step, 1.0) + rng.uniform(0, 1), np.arange(len(knots)), knots)


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """A number between low and high, each octave as likely as the next."""
    return float(np.exp(rng.uniform(np.log(low), np.log(max(high, low * 1.0001)))))
