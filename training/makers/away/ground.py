"""Coordinates of a field in µm and noise that runs along a direction."""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Frame:
    """Pixel grid of a field; x runs along a row, y runs up the screen, both in µm."""

    rows: int
    cols: int
    pixel_um: float

    def axes(self, angle_deg: float) -> tuple[np.ndarray, np.ndarray]:
        """Coordinates along (u) and across (v) a direction, µm from the middle of the field."""
        x = (np.arange(self.cols, dtype=np.float32) - self.cols / 2) * self.pixel_um
        y = (self.rows / 2 - np.arange(self.rows, dtype=np.float32)) * self.pixel_um
        c, s = np.float32(np.cos(np.deg2rad(angle_deg))), np.float32(np.sin(np.deg2rad(angle_deg)))
        return x[None, :] * c + y[:, None] * s, y[:, None] * c - x[None, :] * s

    @property
    def half_um(self) -> float:
        return 0.5 * self.pixel_um * float(np.hypot(self.rows, self.cols)) + 4 * self.pixel_um


def smoothstep(x: np.ndarray, low: float, high: float) -> np.ndarray:
    t = np.clip((x - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


def grain(rng: np.random.Generator, frame: Frame, angle_deg: float, along_um: float, across_um: float) -> np.ndarray:
    """Noise of mean 0 and deviation 1 whose cells are along_um × across_um, lengthwise at angle_deg."""
    along, across = (float(max(um, 0.8 * frame.pixel_um)) for um in (along_um, across_um))
    u, v = frame.axes(angle_deg)
    half = frame.half_um
    table = rng.standard_normal((int(2 * half / across) + 6, int(2 * half / along) + 6), dtype=np.float32)
    field = cv2.remap(
        table, (u + half) / along + 2, (v + half) / across + 2, cv2.INTER_CUBIC, borderMode=cv2.BORDER_WRAP
    )
    return (field - field.mean()) / max(float(field.std()), 1e-6)


def clouds(rng: np.random.Generator, frame: Frame, size_um: float, octaves: int = 3) -> np.ndarray:
    """Round noise of several sizes, mean 0 and deviation 1."""
    total = np.zeros((frame.rows, frame.cols), np.float32)
    for i in range(octaves):
        total += grain(rng, frame, rng.uniform(0, 180), size_um / 2**i, size_um / 2**i) * 0.62**i
    return total / max(float(total.std()), 1e-6)


def wander(rng: np.random.Generator, lines: int, samples: int, knots: int) -> np.ndarray:
    """Smooth random curves, one a row, deviation about 1."""
    rough = rng.standard_normal((lines, max(knots, 4))).astype(np.float32)
    return cv2.resize(rough, (samples, lines), interpolation=cv2.INTER_CUBIC) if lines else rough[:, :samples]
