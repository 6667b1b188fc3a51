"""Random draws, filtered noise and turned frames that the rest of the package is woven from. Lengths in pixels."""

import cv2
import numpy as np


def spread(rng: np.random.Generator, low: float, high: float) -> float:
    """Log-uniform draw between low and high, in their own unit."""
    return float(np.exp(rng.uniform(np.log(low), np.log(max(high, low * 1.0001)))))


def cloud(rng: np.random.Generator, shape: tuple[int, int], rows_px: float, cols_px: float) -> np.ndarray:
    """Noise of mean 0 and unit deviation whose lumps are rows_px by cols_px long; no unit."""
    # Noise on a coarse mesh, stretched: as smooth as a wide filter and a hundred times cheaper.
    small = (int(shape[0] / max(rows_px, 1.0)) + 4, int(shape[1] / max(cols_px, 1.0)) + 4)
    mesh = rng.standard_normal(small, dtype=np.float32)
    wide = cv2.resize(mesh, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    return (wide - wide.mean()) / (wide.std() + 1e-6)


def thread(rng: np.random.Generator, length: int, step_px: float) -> np.ndarray:
    """The same in one dimension: a wandering line of unit deviation."""
    knots = rng.standard_normal(int(length / max(step_px, 1.0)) + 4).astype(np.float32)
    return cv2.resize(knots[None], (length, 1), interpolation=cv2.INTER_CUBIC)[0]


class Frame:
    """A square sheet laid on the picture at an angle (degrees, counter-clockwise from the row): its rows run along that direction."""

    def __init__(self, angle_deg: float, shape: tuple[int, int]):
        turn = np.deg2rad(angle_deg)
        self.shape = shape
        self.side = int(np.hypot(*shape)) + 8
        self.along = np.array([np.cos(turn), -np.sin(turn)])
        self.across = np.array([np.sin(turn), np.cos(turn)])
        middle = np.array([shape[1], shape[0]]) / 2
        shift = middle - (self.along + self.across) * self.side / 2
        self._matrix = np.column_stack([self.across, self.along, shift])

    def lay(self, sheet: np.ndarray, beyond: tuple[float, ...] = (0.0,)) -> np.ndarray:
        """The sheet as it lies on the picture."""
        size = (self.shape[1], self.shape[0])
        return cv2.warpAffine(sheet, self._matrix, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=beyond)

    def offset(self) -> np.ndarray:
        """Distance of every pixel from the picture's middle, across the frame's direction, in pixels."""
        rows, cols = np.ogrid[: self.shape[0], : self.shape[1]]
        return ((cols - self.shape[1] / 2) * self.across[0] + (rows - self.shape[0] / 2) * self.across[1]).astype(np.float32)
