"""Turned drawing boards: a lay or the stroke is drawn along the rows of a square board, then shown on the field.

The tilt of the specimen shortens the field's vertical by its cosine: 1.5 % at 10°, 13 % at 30°. Noise is drawn in coarse cells
that the showing makes smooth, so a streak of any length costs little."""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True, kw_only=True)
class Frame:
    """angle: of the board's columns' run on the screen, in radians from rightwards to downwards; tilt_cos: of the tilt."""

    shape: tuple[int, int]
    angle: float
    tilt_cos: float = 1.0

    @property
    def side(self) -> int:
        return int(np.ceil(np.hypot(self.shape[0] / self.tilt_cos, self.shape[1]))) + 10

    def show(self, board: np.ndarray, how: int = cv2.INTER_LINEAR) -> np.ndarray:
        """The field's view of a board, whose cells may be larger than pixels."""
        rows, cols = self.shape
        across = board.shape[0] / self.side
        along = board.shape[1] / self.side
        cos, sin = np.cos(self.angle), np.sin(self.angle)
        turn = np.array([[cos * along, sin * along / self.tilt_cos], [-sin * across, cos * across / self.tilt_cos]])
        centre = np.array([(board.shape[1] - 1) / 2, (board.shape[0] - 1) / 2])
        shift = centre - turn @ np.array([(cols - 1) / 2, (rows - 1) / 2])
        matrix = np.column_stack([turn, shift])
        return cv2.warpAffine(
            board, matrix, (cols, rows), flags=how | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REFLECT
        )


def streaks(rng: np.random.Generator, frame: Frame, along_px: float, across_px: float) -> np.ndarray:
    """Noise of unit spread, drawn out along the frame's columns."""
    cells = (int(frame.side / across_px) + 4, int(frame.side / along_px) + 4)
    seen = frame.show(rng.standard_normal(cells, dtype=np.float32), cv2.INTER_CUBIC)
    return seen / (seen.std() + 1e-6)


def grain(rng: np.random.Generator, shape: tuple[int, int], size_px: float) -> np.ndarray:
    """Noise of unit spread and no direction, in grains of about the size and half of it."""
    total = np.zeros(shape, np.float32)
    for share, size in ((0.8, size_px), (0.6, size_px / 2)):
        cells = (int(shape[0] / size) + 3, int(shape[1] / size) + 3)
        noise = rng.standard_normal(cells, dtype=np.float32)
        total += np.float32(share) * cv2.resize(noise, shape[::-1], interpolation=cv2.INTER_CUBIC)
    return total / (total.std() + 1e-6)


def wander(rng: np.random.Generator, length: int, step: float) -> np.ndarray:
    """A smooth random line of about unit spread."""
    knots = rng.standard_normal((1, int(length / step) + 4), dtype=np.float32)
    return cv2.resize(knots, (length, 1), interpolation=cv2.INTER_CUBIC)[0]
