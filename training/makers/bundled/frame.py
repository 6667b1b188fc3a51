"""Turned co-ordinates and streaky noise: everything honing and wear leave runs along one direction.

A frame gives each pixel its place along and across a direction, in pixels from the field's centre. Noise is drawn on
a grid that is coarse along and fine across and read off at the pixels, so that a streak has no stair steps.
"""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Frame:
    """Places along and across a direction (degrees on the screen, rows downwards) and the reach of both."""

    angle_deg: float
    along: np.ndarray
    across: np.ndarray
    reach: float

    @property
    def unit(self) -> tuple[float, float]:
        angle = np.deg2rad(self.angle_deg)
        return float(np.cos(angle)), float(np.sin(angle))


def turned(shape: tuple[int, int], angle_deg: float) -> Frame:
    rows, cols = shape
    cos, sin = np.cos(np.deg2rad(angle_deg)), np.sin(np.deg2rad(angle_deg))
    y = (np.arange(rows, dtype=np.float32) - (rows - 1) / 2)[:, None]
    x = (np.arange(cols, dtype=np.float32) - (cols - 1) / 2)[None, :]
    along = (x * cos + y * sin).astype(np.float32)
    across = (y * cos - x * sin).astype(np.float32)
    return Frame(float(angle_deg), along, across, float(np.hypot(rows, cols) / 2 + 6))


def streaky(rng: np.random.Generator, frame: Frame, along_px: float, across_px: float) -> np.ndarray:
    """Noise of about unit spread with these correlation lengths along and across the frame's direction."""
    along_px, across_px = max(along_px, 1.0), max(across_px, 1.0)
    size = [int(np.ceil(2 * frame.reach / step)) + 4 for step in (across_px, along_px)]
    grid = rng.standard_normal(size, dtype=np.float32)
    shift = rng.uniform(0, 1, 2)
    map_x = (frame.along + frame.reach) / along_px + np.float32(1 + shift[0])
    map_y = (frame.across + frame.reach) / across_px + np.float32(1 + shift[1])
    drawn = cv2.remap(grid, map_x.astype(np.float32), map_y.astype(np.float32), cv2.INTER_CUBIC)
    return drawn * np.float32(1.2)


def cloudy(rng: np.random.Generator, shape: tuple[int, int], size_px: float) -> np.ndarray:
    """Isotropic noise of about unit spread and this correlation length."""
    size_px = max(size_px, 1.0)
    rows, cols = (int(np.ceil(side / size_px)) + 3 for side in shape)
    grid = rng.standard_normal((rows, cols), dtype=np.float32)
    full = cv2.resize(grid, (int(cols * size_px) + 1, int(rows * size_px) + 1), interpolation=cv2.INTER_CUBIC)
    top, left = (int(rng.integers(0, side - want + 1)) for side, want in zip(full.shape, shape, strict=True))
    return full[top : top + shape[0], left : left + shape[1]] * np.float32(1.2)


def above_share(noise: np.ndarray, share: float) -> float:
    """The level that this share of the noise lies above."""
    return float(np.quantile(noise[::5, ::5], 1 - min(max(share, 0.0), 1.0)))


def soft(mask: np.ndarray, sigma_px: float) -> np.ndarray:
    return cv2.GaussianBlur(mask.astype(np.float32), (0, 0), sigma_px)


def wide_blur(values: np.ndarray, sigma_px: float) -> np.ndarray:
    """Gaussian blur, on a shrunken copy where it is wide."""
    step = int(max(1, sigma_px // 3))
    if step == 1:
        return cv2.GaussianBlur(values, (0, 0), sigma_px)
    rows, cols = values.shape
    small = cv2.resize(values, (max(cols // step, 2), max(rows // step, 2)), interpolation=cv2.INTER_AREA)
    return cv2.resize(cv2.GaussianBlur(small, (0, 0), sigma_px / step), (cols, rows), interpolation=cv2.INTER_LINEAR)
