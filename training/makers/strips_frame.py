"""Straightened frames: a frame's columns run along one direction of the picture, its rows across it."""

import math
from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True, kw_only=True)
class Frame:
    """A rotated canvas that covers a picture of `shape`; angle in radians, from the picture's rows towards its columns."""

    shape: tuple[int, int]
    angle: float

    @property
    def size(self) -> tuple[int, int]:
        """(rows, columns) of the canvas, px."""
        height, width = self.shape
        cos, sin = abs(math.cos(self.angle)), abs(math.sin(self.angle))
        return int(width * sin + height * cos) + 9, int(width * cos + height * sin) + 9

    def matrix(self, along: float = 1.0, across: float = 1.0) -> np.ndarray:
        """Picture (x, y) to canvas (column, row), for a canvas whose cells are `along` by `across` px."""
        rows, columns = self.size
        height, width = self.shape
        cos, sin = math.cos(self.angle), math.sin(self.angle)
        x, y = (width - 1) / 2, (height - 1) / 2
        matrix = np.array(
            [[cos, sin, (columns - 1) / 2 - x * cos - y * sin], [-sin, cos, (rows - 1) / 2 + x * sin - y * cos]]
        )
        return matrix / np.array([[along], [across]])

    def to_picture(self, canvas: np.ndarray, *, nearest: bool = False) -> np.ndarray:
        """The canvas laid over the picture."""
        flags = cv2.WARP_INVERSE_MAP | (cv2.INTER_NEAREST if nearest else cv2.INTER_LINEAR)
        return cv2.warpAffine(canvas, self.matrix(), self.shape[::-1], flags=flags, borderMode=cv2.BORDER_REPLICATE)

    def noise(self, rng: np.random.Generator, along: float, across: float) -> np.ndarray:
        """Noise of about unit spread in the picture, `along` and `across` px long in this frame."""
        rows, columns = self.size
        along, across = max(along, 1.0), max(across, 1.0)
        cells = rng.standard_normal((int(rows / across) + 4, int(columns / along) + 4), dtype=np.float32)
        matrix = self.matrix(along, across) + np.array([[0, 0, 1.5], [0, 0, 1.5]])
        flags = cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR
        warped = cv2.warpAffine(cells, matrix, self.shape[::-1], flags=flags, borderMode=cv2.BORDER_REFLECT)
        return warped * 1.4

    def visible(self, row: float, pad: float) -> tuple[int, int]:
        """First and last column where the canvas row lies over the picture, widened by `pad` px."""
        rows, columns = self.size
        height, width = self.shape
        cos, sin = math.cos(self.angle), math.sin(self.angle)
        down = row - (rows - 1) / 2
        low, high = -columns / 2, columns / 2
        for slope, start, half in ((cos, -sin * down, width / 2 + pad), (sin, cos * down, height / 2 + pad)):
            if abs(slope) < 1e-6:
                if abs(start) > half:
                    return 0, 0
                continue
            ends = sorted(((-half - start) / slope, (half - start) / slope))
            low, high = max(low, ends[0]), min(high, ends[1])
        return max(0, int(low + columns / 2)), min(columns, int(high + columns / 2) + 1)


def sheet(rng: np.random.Generator, rows: int, columns: int, along: float, across: float) -> np.ndarray:
    """Noise of about unit spread on a straight sheet, `along` the columns and `across` the rows, px."""
    along, across = max(along, 1.0), max(across, 1.0)
    cells = rng.standard_normal((int(rows / across) + 3, int(columns / along) + 3), dtype=np.float32)
    return cv2.resize(cells, (columns, rows), interpolation=cv2.INTER_CUBIC) * 1.25


def line(rng: np.random.Generator, count: int, length: float) -> np.ndarray:
    """A smooth random line of `count` points and about unit spread, bends `length` points long."""
    return sheet(rng, 1, count, length, 1.0)[0]


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """One draw, even in the logarithm."""
    return float(math.exp(rng.uniform(math.log(low), math.log(max(high, low * 1.0001)))))
