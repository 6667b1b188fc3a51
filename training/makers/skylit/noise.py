"""Random lines and fields of zero mean and unit spread."""

import cv2
import numpy as np

from .grid import Grid


class Line:
    """Smooth random function of one coordinate from -half to half with a given correlation length, both µm."""

    def __init__(self, rng: np.random.Generator, half: float, length: float):
        self.start, self.step = -half * 1.1, length / 2.5
        values = rng.standard_normal(int(2.2 * half / self.step) + 8)
        values = np.convolve(values, [0.12, 0.26, 0.34, 0.26, 0.12], "same")
        self.values = ((values - values.mean()) / (values.std() + 1e-9)).astype(np.float32)

    def __call__(self, t: np.ndarray) -> np.ndarray:
        at = np.clip((t - self.start) / self.step, 0, len(self.values) - 1.001)
        low = at.astype(np.int32)
        share = (at - low).astype(np.float32)
        return self.values[low] * (1 - share) + self.values[low + 1] * share


def blobs(rng: np.random.Generator, shape: tuple[int, int], size_px: float) -> np.ndarray:
    """Isotropic noise (rows, cols), features of about size_px pixels."""
    step = max(1.0, size_px / 2)
    small = rng.standard_normal((int(shape[0] / step) + 4, int(shape[1] / step) + 4)).astype(np.float32)
    small = cv2.GaussianBlur(small, (0, 0), 0.9)
    small /= small.std() + 1e-9
    if step == 1.0:
        return small[: shape[0], : shape[1]]
    return cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def streaks(rng: np.random.Generator, grid: Grid, across_um: float, along_um: float) -> np.ndarray:
    """Noise (rows, cols) drawn out along the stroke: features across_um wide and along_um long, resolved by the pixel."""
    wide, long = max(across_um, 1.1 * grid.pixel), max(along_um, 3 * grid.pixel)
    rows, cols = int(2 * grid.half / long * 2) + 4, int(2 * grid.half / wide * 2) + 4
    table = rng.standard_normal((rows, cols)).astype(np.float32)
    table = cv2.GaussianBlur(table, (0, 0), 0.7)
    table /= table.std() + 1e-9
    x, y = (grid.p + grid.half) / wide * 2, (grid.q + grid.half) / long * 2
    return cv2.remap(table, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)


def smooth(t: np.ndarray) -> np.ndarray:
    """Soft step from 0 at t = 0 to 1 at t = 1."""
    t = np.clip(t, 0, 1)
    return t * t * (3 - 2 * t)
