"""Directions on the surface and the noise drawn along them."""

from dataclasses import dataclass

import cv2
import numpy as np


def axes(shape: tuple[int, int], pixel_um: float, angle_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Distances from the centre along and across a direction (rows, cols), µm; 0° is along a row, 90° down a column."""
    x = (np.arange(shape[1], dtype=np.float32) - shape[1] / 2) * pixel_um
    y = (np.arange(shape[0], dtype=np.float32)[:, None] - shape[0] / 2) * pixel_um
    c, s = np.float32(np.cos(np.radians(angle_deg))), np.float32(np.sin(np.radians(angle_deg)))
    return x * c + y * s, y * c - x * s


def cloud(rng: np.random.Generator, along: np.ndarray, across: np.ndarray, lengths_um: tuple[float, float]) -> np.ndarray:
    """Smooth noise (rows, cols) of mean 0 and spread near 1, with a grain of the two lengths along and across."""
    places, counts = [], []
    for distance, length in zip((along, across), lengths_um, strict=True):
        low, high = float(distance.min()), float(distance.max())
        step = max(length, (high - low) / 900)
        places.append((distance - low) * np.float32(1 / step) + np.float32(1 + rng.random()))
        counts.append(int((high - low) / step) + 5)
    lattice = rng.standard_normal((counts[1], counts[0]), dtype=np.float32)
    return cv2.remap(lattice, places[0], places[1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT) * np.float32(1.35)


def strand(rng: np.random.Generator, distance: np.ndarray, length: float) -> np.ndarray:
    """Noise along a line, of the shape and unit of distance: spread near 1, knots one length apart."""
    low, high = float(distance.min()), float(distance.max())
    knots = np.arange(low - length, high + 2 * length, length)
    return (1.2 * np.interp(distance, knots, rng.standard_normal(knots.size))).astype(np.float32)


def soft(mask: np.ndarray, sigma_px: float) -> np.ndarray:
    """A mask (rows, cols) with borders as wide as sigma, float32 in 0 to 1."""
    return cv2.GaussianBlur(mask.astype(np.float32), (0, 0), sigma_px)


@dataclass(frozen=True)
class Frame:
    """A field's grid: pixel_um µm a pixel, and each point's distance along the stroke and across it (rows, cols), µm."""

    shape: tuple[int, int]
    pixel_um: float
    stroke_deg: float
    along: np.ndarray
    across: np.ndarray

    @classmethod
    def of(cls, shape: tuple[int, int], pixel_um: float, stroke_deg: float) -> "Frame":
        pixel_um = float(pixel_um)
        return cls(shape, pixel_um, stroke_deg, *axes(shape, pixel_um, stroke_deg))

    @property
    def side_um(self) -> float:
        """The shorter side."""
        return min(self.shape) * self.pixel_um

    def at_least(self, length_um: float, pixels: float) -> float:
        """A length in µm, drawn no finer than so many pixels."""
        return max(length_um, pixels * self.pixel_um)
