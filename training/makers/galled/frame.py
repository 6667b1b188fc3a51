"""The field's grid and directions. Lengths here are pixels unless a name ends in _um; angles are radians on the screen."""

from dataclasses import dataclass

import cv2
import numpy as np

Map = np.ndarray
NODE_SPREAD = 0.68
"""Standard deviation left of unit nodes after cubic interpolation in two directions (measured)."""


@dataclass(frozen=True)
class Frame:
    """One field: its shape, pixel size, and the direction of the stroke."""

    shape: tuple[int, int]
    pixel_um: float
    stroke: float

    @property
    def reach(self) -> float:
        """From the centre to a corner."""
        return float(np.hypot(*self.shape)) / 2 + 2

    @property
    def size(self) -> int:
        return min(self.shape)

    def axes(self, angle: float) -> tuple[Map, Map]:
        """Coordinates along and across a direction, from the field's centre."""
        y = (np.arange(self.shape[0], dtype=np.float32) - self.shape[0] / 2)[:, None]
        x = (np.arange(self.shape[1], dtype=np.float32) - self.shape[1] / 2)[None, :]
        c, s = np.float32(np.cos(angle)), np.float32(np.sin(angle))
        return x * c + y * s, y * c - x * s

    def noise(self, rng: np.random.Generator, angle: float, along: float, across: float) -> Map:
        """Smooth unit noise whose grains are `along` by `across` pixels, the first in the direction of `angle`."""
        a, w = self.axes(angle)
        along, across = max(along, 1.0), max(across, 1.0)
        nodes = rng.standard_normal((int(2 * self.reach / across) + 5, int(2 * self.reach / along) + 5)).astype(
            np.float32
        )
        a += np.float32(self.reach + along * (1 + rng.random()))
        w += np.float32(self.reach + across * (1 + rng.random()))
        return cv2.remap(nodes / NODE_SPREAD, a / np.float32(along), w / np.float32(across), cv2.INTER_CUBIC)

    def shifted(self, field: Map, angle: float, by: Map | float) -> Map:
        """What lies `by` pixels behind each place, looking back along `angle`."""
        y, x = np.indices(self.shape, dtype=np.float32)
        return cv2.remap(
            field,
            (x - by * np.cos(angle)).astype(np.float32),
            (y - by * np.sin(angle)).astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )


def speckless(mask: Map, least: int) -> Map:
    """The mask without parts smaller than `least` pixels, opened first by one pixel."""
    opened = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(opened, connectivity=4)
    keep = stats[:, cv2.CC_STAT_AREA] >= least
    keep[0] = False
    return keep[labels]


def ramp(field: Map, low: float, high: float) -> Map:
    """From 0 at low to 1 at high, smoothly."""
    t = np.clip((field - low) / (high - low), 0, 1)
    return (t * t * (3 - 2 * t)).astype(np.float32)
