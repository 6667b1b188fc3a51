"""The sheet an illustration is drawn on: tone, texture gains and truth as layers, and the ribbons that are drawn on them."""

from dataclasses import dataclass

import cv2
import numpy as np

SUB = 3
"""Binary places of sub-pixel corners."""


@dataclass
class Sheet:
    """Layers of one drawing, all (rows, cols): tone (1 = full scale, plateau 0), rough (gain of the isotropic grain),
    fine (gain of the finishing marks), codes (mask codes)."""

    tone: np.ndarray
    rough: np.ndarray
    fine: np.ndarray
    codes: np.ndarray

    @classmethod
    def blank(cls, shape: tuple[int, int]) -> "Sheet":
        """An empty plateau of `shape` pixels."""
        return cls(*(np.full(shape, v, np.float32) for v in (0, 0.25, 1)), np.zeros(shape, np.uint8))

    def copy(self) -> "Sheet":
        """A drawing of its own, alike so far."""
        return Sheet(self.tone.copy(), self.rough.copy(), self.fine.copy(), self.codes.copy())

    def paste(self, other: "Sheet", where: np.ndarray) -> None:
        """Take the other drawing over where the bool picture `where` is True."""
        for name in ("tone", "rough", "fine", "codes"):
            np.copyto(getattr(self, name), getattr(other, name), where=where)


def fixed(points: np.ndarray) -> np.ndarray:
    """Corners (x, y) in pixels as the fixed-point integers the drawing calls take."""
    return np.round(np.asarray(points) * (1 << SUB)).astype(np.int32)


def fill(layer: np.ndarray, points: np.ndarray, value: float) -> None:
    """Fill a polygon of corners (n, 2) in pixels."""
    cv2.fillPoly(layer, [fixed(points)], float(value), cv2.LINE_8, SUB)


def stroke(layer: np.ndarray, points: np.ndarray, value: float, thick: float = 1) -> None:
    """Draw an open line through (n, 2) points in pixels, `thick` pixels wide."""
    cv2.polylines(layer, [fixed(points)], False, float(value), max(1, int(round(thick))), cv2.LINE_8, SUB)


def ribbon(path: np.ndarray, normals: np.ndarray, low: np.ndarray | float, high: np.ndarray | float) -> np.ndarray:
    """Corners of the band between two offsets (pixels, scalar or one a point) from a path, along its normals."""
    low, high = (np.broadcast_to(v, len(path))[:, None] for v in (low, high))
    return np.concatenate([path + normals * low, (path + normals * high)[::-1]])


def blob(
    rng: np.random.Generator,
    centre: np.ndarray,
    long_px: float,
    wide_px: float,
    angle: float,
    ragged: float = 0.25,
    corners: int = 24,
) -> np.ndarray:
    """Corners of an irregular patch: half axes in pixels, long axis at `angle` radians."""
    turn = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    # Neighbouring corners go together, or the patch would be a star
    bumps = rng.standard_normal(corners)
    bumps = 0.8 * (bumps + np.roll(bumps, 1) + np.roll(bumps, 2)) + 0.2 * rng.standard_normal(corners)
    radius = np.exp(ragged * 0.6 * bumps)
    along, across = radius * np.cos(turn) * long_px, radius * np.sin(turn) * wide_px
    c, s = np.cos(angle), np.sin(angle)
    return np.stack([centre[0] + along * c - across * s, centre[1] + along * s + across * c], 1)


def grain(
    rng: np.random.Generator, shape: tuple[int, int], along_px: float, across_px: float, angle: float = 0.0
) -> np.ndarray:
    """Noise of unit spread (rows, cols) whose features measure along_px by across_px pixels, long side at `angle` radians."""
    size = float(np.hypot(*shape)) + 4
    small = rng.standard_normal((int(size / max(across_px, 1)) + 3, int(size / max(along_px, 1)) + 3), dtype=np.float32)
    c, s = np.cos(angle), np.sin(angle)
    rows, cols = shape
    sx, sy = (small.shape[1] - 1) / size, (small.shape[0] - 1) / size
    turn = np.array([[sx * c, sx * s], [-sy * s, sy * c]])
    shift = np.array([small.shape[1] / 2, small.shape[0] / 2]) - turn @ np.array([cols / 2, rows / 2])
    out = cv2.warpAffine(
        small,
        np.c_[turn, shift],
        (cols, rows),
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REFLECT,
    )
    return out / max(float(out.std()), 1e-6)
