"""Directions on the picture: an axis laid over the field, and noise or canvases stretched along it."""

from dataclasses import dataclass

import cv2
import numpy as np


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """One draw, even on a logarithmic scale."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def knots(rng: np.random.Generator, count: int, spacing: float) -> np.ndarray:
    """Smooth noise of unit spread along a line of count samples, knots every spacing samples."""
    number = max(int(count / max(spacing, 1.0)) + 3, 4)
    at = rng.uniform(0, 1) + np.arange(count) * ((number - 2) / count)
    return np.interp(at, np.arange(number), rng.normal(size=number)).astype(np.float32)


@dataclass(frozen=True, kw_only=True)
class Frame:
    """A picture of shape (rows, cols) px, pixel_um µm a pixel, with an axis angle_deg from its rows' direction, clockwise on screen."""

    angle_deg: float
    shape: tuple[int, int]
    pixel_um: float

    @property
    def span(self) -> int:
        """Side in px of a square canvas that covers the picture at any angle."""
        return int(np.hypot(*self.shape)) + 4

    def _matrix(self, across: float, along: float, size: tuple[float, float]) -> np.ndarray:
        """Picture px to canvas px, with the canvas scaled by across and along (canvas px per picture px)."""
        cos, sin = np.cos(np.radians(self.angle_deg)), np.sin(np.radians(self.angle_deg))
        matrix = np.array([[cos * along, sin * along, 0], [-sin * across, cos * across, 0]])
        middle = np.array([self.shape[1] / 2, self.shape[0] / 2])
        matrix[:, 2] = np.array([size[1] / 2, size[0] / 2]) - matrix[:, :2] @ middle
        return matrix

    def lay_down(self, canvas: np.ndarray) -> np.ndarray:
        """A square canvas, whose rows run along the axis, turned onto the picture."""
        matrix = self._matrix(1.0, 1.0, canvas.shape)
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        return cv2.warpAffine(canvas, matrix, self.shape[::-1], flags=flags, borderMode=cv2.BORDER_REFLECT)

    def noise(self, rng: np.random.Generator, across_um: float, along_um: float) -> np.ndarray:
        """Noise of about unit spread on the picture, its grain across_um by along_um (µm)."""
        across, along = (min(self.pixel_um / length, 1.0) for length in (across_um, along_um))
        size = int(self.span * across) + 5, int(self.span * along) + 5
        small = rng.standard_normal(size, dtype=np.float32)
        flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
        matrix = self._matrix(across, along, size)
        return 1.25 * cv2.warpAffine(small, matrix, self.shape[::-1], flags=flags, borderMode=cv2.BORDER_REFLECT)

    def across_um(self) -> np.ndarray:
        """Distance in µm from the axis through the picture's middle."""
        rows, cols = np.indices(self.shape, dtype=np.float32)
        angle = np.radians(self.angle_deg)
        y, x = rows - self.shape[0] / 2, cols - self.shape[1] / 2
        return ((y * np.cos(angle) - x * np.sin(angle)) * self.pixel_um).astype(np.float32)
