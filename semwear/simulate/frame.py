"""The place of a field's pixels on the specimen, and fast access to the pixels near a straight line.

Specimen coordinates are in µm from the field's centre, x along the rows to the right and y upwards on the screen, so
that directions grow anticlockwise. With the specimen tilted about the picture's rows, a row stands for
pixel size / cos(tilt) on the specimen; the scale of the picture is the one along a row.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np


@dataclass(frozen=True)
class Frame:
    """Grid of a field: `shape` (rows, cols), `pixel_size_um` along a row, `tilt_deg` about the rows."""

    shape: tuple[int, int]
    pixel_size_um: float
    tilt_deg: float = 0.0

    @cached_property
    def x_um(self) -> np.ndarray:
        """Specimen x of every column, (1, cols) float32."""
        cols = self.shape[1]
        return ((np.arange(cols, dtype=np.float32) - (cols - 1) / 2) * self.pixel_size_um)[None, :].astype(np.float32)

    @cached_property
    def y_um(self) -> np.ndarray:
        """Specimen y of every row, (rows, 1) float32."""
        rows = self.shape[0]
        step = self.pixel_size_um / np.cos(np.radians(self.tilt_deg))
        return (((rows - 1) / 2 - np.arange(rows, dtype=np.float32)) * step)[:, None].astype(np.float32)

    @property
    def half_diagonal_um(self) -> float:
        """Half the field's diagonal on the specimen."""
        return float(np.hypot(self.x_um[0, -1], self.y_um[0, 0])) + self.pixel_size_um

    @property
    def shorter_side_um(self) -> float:
        """The field's shorter side."""
        return min(self.shape) * self.pixel_size_um

    def along_across(self, direction_deg: float) -> tuple[np.ndarray, np.ndarray]:
        """Return the coordinates along and across a direction on the specimen, two (rows, cols) float32 in µm."""
        angle = np.radians(direction_deg)
        cos, sin = np.float32(np.cos(angle)), np.float32(np.sin(angle))
        return self.x_um * cos + self.y_um * sin, self.y_um * cos - self.x_um * sin

    def seen_direction_deg(self, direction_deg: float) -> float:
        """Return where a specimen direction points in the picture, degrees in [0, 180).

        >>> round(Frame((9, 9), 1.0, 0.0).seen_direction_deg(60.0), 6)
        60.0
        >>> Frame((9, 9), 1.0, 15.0).seen_direction_deg(45.0) < 45.0
        True
        """
        angle = np.radians(direction_deg)
        seen = np.degrees(np.arctan2(np.sin(angle) * np.cos(np.radians(self.tilt_deg)), np.cos(angle)))
        return float(seen % 180.0)

    def specimen_direction_deg(self, seen_deg: float) -> float:
        """Return the specimen direction that is seen at `seen_deg` in the picture, degrees in [0, 180)."""
        angle = np.radians(seen_deg)
        along = np.degrees(np.arctan2(np.sin(angle) / np.cos(np.radians(self.tilt_deg)), np.cos(angle)))
        return float(along % 180.0)


class Strip:
    """Pixels of a frame sorted by their place across one direction: a band of them costs only its own size."""

    def __init__(self, frame: Frame, direction_deg: float):
        along, across = frame.along_across(direction_deg)
        self.along_um, self.across_um = along.ravel(), across.ravel()
        self._low = float(self.across_um.min())
        self._step = max(float(self.across_um.max()) - self._low, 1e-6) / 60000.0
        place = ((self.across_um - np.float32(self._low)) / np.float32(self._step)).astype(np.uint16)
        self._order = np.argsort(place, kind="stable").astype(np.int32)
        self._edges = np.concatenate([[0], np.cumsum(np.bincount(place, minlength=60002))])

    def band(self, low_um: float, high_um: float) -> np.ndarray:
        """Return the flat indices, int32, of pixels whose place across lies in [low_um, high_um] (a step wider)."""
        first = int(np.clip((low_um - self._low) / self._step, 0, 60001))
        last = int(np.clip((high_um - self._low) / self._step + 1, 0, 60001))
        return self._order[self._edges[first] : self._edges[last]]
