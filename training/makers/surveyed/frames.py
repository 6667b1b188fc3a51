"""Frames turned to a direction of the surface, and correlated random fields drawn in them.

Honing and rubbing leave textures that are long in one direction; each is drawn in a square frame whose columns run
along that direction and is then turned onto the picture's pixels. A field of given correlation length is white noise
on a grid of about half that length, smoothed and enlarged, which has a nearly Gaussian autocorrelation.
"""

from dataclasses import dataclass
from functools import cached_property
from math import ceil, cos, hypot, sin

import cv2
import numpy as np

Array = np.ndarray
Rng = np.random.Generator


def correlated(rng: Rng, shape: tuple[int, int], lengths: tuple[float, float]) -> Array:
    """Gaussian field of unit spread whose correlation lengths are given in pixels by rows and columns."""
    steps = [max(length / 2.0, 1.0) for length in lengths]
    grid = [ceil(size / step) + 4 for size, step in zip(shape, steps, strict=True)]
    noise = rng.standard_normal(grid, dtype=np.float32)
    sigma_y, sigma_x = (max(length / step / 2.0, 0.3) for length, step in zip(lengths, steps, strict=True))
    noise = cv2.GaussianBlur(noise, (0, 0), sigmaX=sigma_x, sigmaY=sigma_y)
    noise /= max(float(noise.std()), 1e-6)
    (sy, sx), (oy, ox) = steps, rng.uniform(0.5, 1.5, 2)
    onto = np.array([[1 / sx, 0, ox], [0, 1 / sy, oy]], np.float32)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(noise, onto, shape[::-1], flags=flags, borderMode=cv2.BORDER_REFLECT)


def rough(rng: Rng, shape: tuple[int, int], coarse: float, octaves: int) -> Array:
    """Isotropic roughness of several scales, each half as long and 0.65 as high as the one before."""
    total, weight = np.zeros(shape, np.float32), 0.0
    for octave in range(octaves):
        part = 0.65**octave
        total += part * correlated(rng, shape, (max(coarse / 2**octave, 1.2),) * 2)
        weight += part**2
    return total / weight**0.5


@dataclass(frozen=True)
class Frame:
    """Square frame over a picture of the given shape; its columns run at angle (radians, from x towards y)."""

    shape: tuple[int, int]
    angle: float
    bend: float = 0.0

    @cached_property
    def side(self) -> int:
        return ceil(hypot(*self.shape)) + 8

    @cached_property
    def along(self) -> Array:
        """Pixels along the direction, from the picture's centre."""
        rows, cols = self.shape
        y, x = np.arange(rows, dtype=np.float32) - rows / 2, np.arange(cols, dtype=np.float32) - cols / 2
        return np.float32(sin(self.angle)) * y[:, None] + np.float32(cos(self.angle)) * x[None, :]

    @cached_property
    def across(self) -> Array:
        """Pixels across it, a slight bend (sag over side) included."""
        rows, cols = self.shape
        y, x = np.arange(rows, dtype=np.float32) - rows / 2, np.arange(cols, dtype=np.float32) - cols / 2
        straight = np.float32(cos(self.angle)) * y[:, None] - np.float32(sin(self.angle)) * x[None, :]
        return straight + np.float32(4 * self.bend / self.side) * self.along**2 if self.bend else straight

    def turned(self, drawn: Array, nearest: bool = False) -> Array:
        """A map drawn in the frame, on the picture's pixels."""
        how = cv2.INTER_NEAREST if nearest else cv2.INTER_LINEAR
        half = np.float32(self.side / 2)
        return cv2.remap(drawn, self.along + half, self.across + half, how, borderMode=cv2.BORDER_REPLICATE)

    def streaks(self, rng: Rng, across: float, along: float) -> Array:
        """Correlated field of unit spread, long along the direction, on the picture's pixels."""
        return self.turned(correlated(rng, (self.side, self.side), (across, along)))
