"""Random functions of one and two variables with a length of their own."""

import cv2
import numpy as np


def between(rng: np.random.Generator, low: float, high: float) -> float:
    """Log-uniform draw: scales on honed ground span decades, and none is to be more usual than its neighbours."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def wander(rng: np.random.Generator, at: np.ndarray, length: float) -> np.ndarray:
    """Smooth random function of about unit deviation at positions `at` (same unit as its length)."""
    start, stop = float(at.min()), float(at.max())
    count = int(np.clip((stop - start) / length, 1, 4000)) + 3
    nodes = rng.standard_normal(count)
    place = (at - start) / max(stop - start, 1e-9) * (count - 2)
    cell = place.astype(np.int64)
    share = place - cell
    # Eased steps, so that no kink marks the nodes.
    share = share * share * (3 - 2 * share)
    return nodes[cell] * (1 - share) + nodes[np.minimum(cell + 1, count - 1)] * share


def grain(rng: np.random.Generator, shape: tuple[int, int], size_px: float) -> np.ndarray:
    """Isotropic noise (unit deviation) with features of about `size_px` pixels."""
    if size_px <= 0.4:
        return rng.standard_normal(shape, dtype=np.float32)
    step = max(1, int(size_px / 2))
    small = rng.standard_normal((shape[0] // step + 4, shape[1] // step + 4), dtype=np.float32)
    small = cv2.GaussianBlur(small, (0, 0), max(0.5, size_px / step / 1.5))
    wide = cv2.resize(small, (small.shape[1] * step, small.shape[0] * step), interpolation=cv2.INTER_CUBIC)
    return _unit(wide[step : step + shape[0], step : step + shape[1]])


def streaks(
    rng: np.random.Generator, along: np.ndarray, across: np.ndarray, length: float, width: float
) -> np.ndarray:
    """Noise (unit deviation) drawn out to `length` along and `width` across; both maps and lengths in pixels."""
    size = [int(np.ptp(map_) / step) + 6 for map_, step in ((along, length / 2), (across, width / 2))]
    sheet = cv2.GaussianBlur(rng.standard_normal(size, dtype=np.float32), (0, 0), 1.0)
    rows = ((along - along.min()) / (length / 2) + 2).astype(np.float32)
    columns = ((across - across.min()) / (width / 2) + 2).astype(np.float32)
    return _unit(cv2.remap(sheet, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT))


def _unit(map_: np.ndarray) -> np.ndarray:
    return (map_ - map_.mean()) / (map_.std() + 1e-6)
