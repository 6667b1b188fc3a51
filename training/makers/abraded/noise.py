"""Random fields and curves of unit standard deviation, with lengths in pixels."""

import cv2
import numpy as np


def field(rng: np.random.Generator, shape: tuple[int, int], rows: float, cols: float) -> np.ndarray:
    """Smooth random field (float32, mean 0, std 1) whose correlation length is `rows` by `cols` px."""
    height, width = shape
    # A coarse grid stretched by cubic interpolation costs far less than blurring white noise with a wide kernel.
    coarse = (max(3, int(height / max(rows, 1.0)) + 3), max(3, int(width / max(cols, 1.0)) + 3))
    grid = rng.standard_normal(coarse, dtype=np.float32)
    out = (
        grid
        if coarse[0] > height and coarse[1] > width
        else cv2.resize(grid, (width, height), interpolation=cv2.INTER_CUBIC)
    )
    out = out[:height, :width]
    return (out - out.mean()) / (out.std() + 1e-6)


def curve(rng: np.random.Generator, length: int, step: float) -> np.ndarray:
    """Smooth random curve (float32, about mean 0, std 1) of `length` samples with correlation length `step` samples."""
    knots = rng.standard_normal((1, max(4, int(length / max(step, 1.0)) + 4)), dtype=np.float32)
    return cv2.resize(knots, (length, 1), interpolation=cv2.INTER_CUBIC)[0]


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """One draw from the log-uniform distribution on [low, high]."""
    return float(np.exp(rng.uniform(np.log(low), np.log(max(high, low * 1.001)))))


class Frame:
    """Square canvas whose rows run along a direction of the picture; draws there come back to the picture by one warp.

    angle: radians from the picture's row axis (x) towards its columns (y); all lengths px.
    """

    def __init__(self, shape: tuple[int, int], angle: float) -> None:
        """Lay a canvas that covers the whole picture of `shape` with its row axis along `angle`."""
        self.picture = shape
        self.size = int(np.hypot(*shape)) + 8
        along = np.array([np.cos(angle), np.sin(angle)])
        across = np.array([-along[1], along[0]])
        centre = np.array([shape[1] / 2, shape[0] / 2])
        turn = np.stack([across, along])
        self.matrix = np.column_stack([turn, self.size / 2 - turn @ centre]).astype(np.float32)
        self.along, self.across = along, across

    def to_picture(self, canvas: np.ndarray, *, nearest: bool = False) -> np.ndarray:
        """The canvas (columns across, rows along) seen in the picture's own pixel grid."""
        flags = (cv2.INTER_NEAREST if nearest else cv2.INTER_LINEAR) | cv2.WARP_INVERSE_MAP
        return cv2.warpAffine(canvas, self.matrix, self.picture[::-1], flags=flags, borderMode=cv2.BORDER_REPLICATE)
