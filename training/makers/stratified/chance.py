"""Random numbers and random maps that the other modules share."""

import cv2
import numpy as np


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def wander(rng: np.random.Generator, count: int, length: float) -> np.ndarray:
    """A line of count Gaussian values of unit spread that stay alike over about length steps."""
    knots = rng.standard_normal(int(count / max(length, 1.0)) + 4)
    at = np.arange(count) / max(length, 1.0) + rng.random()
    left = at.astype(int)
    share = at - left
    share = share * share * (3 - 2 * share)
    return (knots[left] * (1 - share) + knots[left + 1] * share) * 1.25


def blotches(rng: np.random.Generator, shape: tuple[int, int], length_px: float) -> np.ndarray:
    """A map of unit spread that stays alike over about length_px pixels."""
    rows, cols = (max(int(side / max(length_px, 1.0)) + 3, 4) for side in shape)
    small = rng.standard_normal((rows, cols)).astype(np.float32)
    big = cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    return big / (big.std() + 1e-6)


def along(
    rng: np.random.Generator, shape: tuple[int, int], direction_rad: float, length_px: float, width_px: float
) -> np.ndarray:
    """A map of unit spread, alike over length_px in the direction and width_px across it; angles run from the row to the column."""
    diagonal = int(np.hypot(*shape)) + 4
    small = rng.standard_normal(
        (int(diagonal / max(width_px, 1.0)) + 8, int(diagonal / max(length_px, 1.0)) + 8)
    ).astype(np.float32)
    cos, sin = np.cos(direction_rad), np.sin(direction_rad)
    long, wide = max(length_px, 1.0), max(width_px, 1.0)
    middle_y, middle_x = shape[0] / 2, shape[1] / 2
    to_small = np.array(
        [
            [cos / long, sin / long, small.shape[1] / 2 - (middle_x * cos + middle_y * sin) / long],
            [-sin / wide, cos / wide, small.shape[0] / 2 - (-middle_x * sin + middle_y * cos) / wide],
        ]
    )
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    big = cv2.warpAffine(small, to_small, (shape[1], shape[0]), flags=flags, borderMode=cv2.BORDER_REFLECT)
    return big / (big.std() + 1e-6)


def across(shape: tuple[int, int], direction_rad: float) -> np.ndarray:
    """Distance in px of every pixel from the line through the middle of the field in the direction."""
    y, x = np.ogrid[: shape[0], : shape[1]]
    return ((y - shape[0] / 2) * np.cos(direction_rad) - (x - shape[1] / 2) * np.sin(direction_rad)).astype(np.float32)
