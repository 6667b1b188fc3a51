"""Ribbons: a centre line with a half width at each of its points, filled with smooth edges between two lines along it."""

from dataclasses import dataclass

import cv2
import numpy as np

FRACTION_BITS = 4


@dataclass(frozen=True)
class Ribbon:
    """Points (n, 2) as (column, row) in px; half (n,) half width in px; normals (n, 2) of unit length."""

    points: np.ndarray
    half: np.ndarray
    normals: np.ndarray

    def part(self, start: int, stop: int) -> "Ribbon":
        return Ribbon(self.points[start:stop], self.half[start:stop], self.normals[start:stop])

    def line(self, across) -> np.ndarray:
        """The line at `across` half widths beside the centre line: a number or one number a point."""
        return self.points + self.normals * (self.half * across)[:, None]


def ribbon(points: np.ndarray, half: np.ndarray) -> Ribbon:
    tangents = np.gradient(points, axis=0)
    tangents /= np.maximum(np.linalg.norm(tangents, axis=1, keepdims=True), 1e-6)
    return Ribbon(points, np.asarray(half, float), np.column_stack([-tangents[:, 1], tangents[:, 0]]))


def fill(layer: np.ndarray, polygon: np.ndarray, value: float) -> None:
    """Paints a polygon of (column, row) px onto a uint8 layer."""
    corners = np.round(polygon * 2**FRACTION_BITS).astype(np.int32)
    cv2.fillPoly(layer, [corners], float(np.clip(value, 0, 255)), cv2.LINE_AA, FRACTION_BITS)


def fill_between(layer: np.ndarray, stroke: Ribbon, low, high, value: float) -> None:
    """Paints the strip between two lines along the ribbon, given in half widths from the centre line."""
    # The filler paints an outline even where a polygon has no width: gaps of the ribbon must be left out.
    there = stroke.half > 0.3
    lower, upper = stroke.line(low), stroke.line(high)
    for run in np.split(np.arange(len(there)), np.flatnonzero(np.diff(there)) + 1):
        if len(run) > 1 and there[run[0]]:
            fill(layer, np.vstack([lower[run], upper[run][::-1]]), value)


def trace(layer: np.ndarray, line: np.ndarray, value: float, thickness: int = 1) -> None:
    corners = np.round(line * 2**FRACTION_BITS).astype(np.int32)
    cv2.polylines(layer, [corners], False, float(np.clip(value, 0, 255)), thickness, cv2.LINE_AA, FRACTION_BITS)


def jagged(rng: np.random.Generator, count: int, smooth: float) -> np.ndarray:
    """Random numbers along a line, (count,), spread 1, correlated over about `smooth` points."""
    reach = max(int(smooth), 1)
    raw = rng.standard_normal(count + 2 * reach)
    return np.convolve(raw, np.hanning(2 * reach + 1) / np.sqrt(0.75 * reach), "same")[reach : reach + count]


def blob(rng: np.random.Generator, centre: np.ndarray, long: float, short: float, angle_deg: float, ragged: float = 0.2) -> np.ndarray:
    """Outline (n, 2) of an uneven oval; half axes in px, the long one at `angle_deg`."""
    turns = np.linspace(0, 2 * np.pi, 26)[:-1]
    radius = np.ones(25)
    for wave in range(2, 8):
        radius += ragged / wave**0.6 * rng.standard_normal() * np.cos(wave * turns + rng.uniform(0, 6.3))
    along, across = long * radius * np.cos(turns), short * radius * np.sin(turns)
    angle = np.deg2rad(angle_deg)
    return centre + np.column_stack([along * np.cos(angle) - across * np.sin(angle), along * np.sin(angle) + across * np.cos(angle)])
