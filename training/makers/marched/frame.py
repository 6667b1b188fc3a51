"""The grid a field is evaluated on, and coordinates turned to a direction."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Frame:
    """x, y: µm from the field's centre, y down; stroke_deg: direction of sliding; span_um: the diagonal."""

    x: np.ndarray
    y: np.ndarray
    pixel_um: float
    stroke_deg: float
    span_um: float

    @classmethod
    def of(cls, shape: tuple[int, int], pixel_um: float, stroke_deg: float) -> "Frame":
        y, x = ((np.arange(n, dtype=np.float32) - n / 2) * np.float32(pixel_um) for n in shape)
        x, y = np.meshgrid(x, y)
        return cls(x, y, pixel_um, stroke_deg, float(np.hypot(*shape) * pixel_um))

    def turned(self, direction_deg: float) -> tuple[np.ndarray, np.ndarray]:
        """Coordinates along and across a direction, µm."""
        c, s = (np.float32(f(np.deg2rad(direction_deg))) for f in (np.cos, np.sin))
        return self.x * c + self.y * s, self.y * c - self.x * s

    @property
    def stroke(self) -> tuple[np.ndarray, np.ndarray]:
        return self.turned(self.stroke_deg)


def lays_deg(stroke_deg: float, hone_angle_deg: float) -> tuple[float, float]:
    """Both lays: their included angle is bisected by the direction across the stroke."""
    return stroke_deg + 90 - hone_angle_deg / 2, stroke_deg + 90 + hone_angle_deg / 2
