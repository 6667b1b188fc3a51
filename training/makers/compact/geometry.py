"""Pixels as places on the specimen, and random functions of one and two of their coordinates."""

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter1d


@dataclass(frozen=True)
class Frame:
    """Places of the pixels in µm from the field's middle (y downwards), and the stroke's direction in that frame.

    Tilt about the row axis foreshortens columns by its cosine, so a row of pixels stands for 1/cos more of the specimen.
    """

    x: np.ndarray
    y: np.ndarray
    pixel_um: float
    stroke_rad: float

    @classmethod
    def of(cls, pixel_um: float, shape: tuple[int, int], stroke_rad: float, tilt_deg: float = 0.0) -> "Frame":
        rows, cols = (np.arange(n, dtype=np.float32) - (n - 1) / 2 for n in shape)
        x, y = np.meshgrid(cols * pixel_um, rows * pixel_um / np.cos(np.radians(tilt_deg)))
        return cls(x.astype(np.float32), y.astype(np.float32), pixel_um, stroke_rad)

    def along(self, angle_rad: float) -> np.ndarray:
        """Coordinate along a direction, µm."""
        return self.x * np.float32(np.cos(angle_rad)) + self.y * np.float32(np.sin(angle_rad))

    def across(self, angle_rad: float) -> np.ndarray:
        """Coordinate at right angles to a direction, µm."""
        return self.along(angle_rad + np.pi / 2)

    def steps(self, coordinate_um: np.ndarray) -> np.ndarray:
        """Index of each place in a table with one entry a pixel length, first entry at the field's circumscribed circle."""
        return ((coordinate_um + self.reach_um) / self.pixel_um).astype(np.int32)

    @property
    def reach_um(self) -> float:
        return float(np.hypot(self.x[0, 0], self.y[0, 0])) + self.pixel_um

    @property
    def table_size(self) -> int:
        return int(2 * self.reach_um / self.pixel_um) + 2


def wander(rng: np.random.Generator, size: int | tuple[int, int], scale: float) -> np.ndarray:
    """Smooth random functions of one coordinate (the last axis) with mean 0 and spread 1 before any cut."""
    scale = max(scale, 0.3)
    smooth = gaussian_filter1d(rng.standard_normal(size).astype(np.float32), scale, axis=-1, mode="wrap", truncate=3)
    return smooth * np.float32(max(1.0, np.sqrt(2 * np.sqrt(np.pi) * scale)))


def grain(rng: np.random.Generator, frame: Frame, angle_rad: float, long_um: float, wide_um: float) -> np.ndarray:
    """Random map of spread 1 whose grains measure long_um along a direction and wide_um across it."""
    long_um, wide_um = (max(size, 0.7 * frame.pixel_um) for size in (long_um, wide_um))
    cells = rng.standard_normal([int(2 * frame.reach_um / size) + 5 for size in (wide_um, long_um)], dtype=np.float32)
    s = (frame.along(angle_rad) + frame.reach_um) / long_um + 2
    t = (frame.across(angle_rad) + frame.reach_um) / wide_um + 2
    map_ = cv2.remap(cells, s.astype(np.float32), t.astype(np.float32), cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    return map_ / max(float(map_.std()), 0.05)
