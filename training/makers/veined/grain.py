"""Random fields that everything else is made from: clouds of a given size, and turning a strip picture into the field."""

import cv2
import numpy as np


def between(rng: np.random.Generator, low: float, high: float) -> float:
    """Log-uniform draw, in the unit of low and high."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def cloud(rng: np.random.Generator, shape: tuple[int, int], size_px: float, along_px: float | None = None) -> np.ndarray:
    """Smooth noise of mean about 0 and deviation about 1, its lumps size_px high and along_px (or size_px) wide."""
    rows, cols = shape
    down, across = max(size_px, 1.0), max(along_px or size_px, 1.0)
    coarse = rng.standard_normal((int(rows / down) + 4, int(cols / across) + 4), dtype=np.float32)
    # A transform rather than a plain resize: lumps then keep their size where they are larger than the field.
    place = np.array([[across, 0, -across * rng.uniform(1, 2)], [0, down, -down * rng.uniform(1, 2)]])
    made = cv2.warpAffine(coarse, place, (cols, rows), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    return made * 1.3


def step(value: np.ndarray, soft: float) -> np.ndarray:
    """0 below zero, 1 above, with a ramp that is 2 × soft wide (in the unit of value)."""
    return np.clip(value / (2 * max(soft, 1e-6)) + 0.5, 0, 1).astype(np.float32)


def canvas_side(shape: tuple[int, int]) -> int:
    """Side in pixels of the square that covers the field at any turn."""
    return int(np.hypot(*shape)) + 8


def turned(strip: np.ndarray, angle_deg: float, shape: tuple[int, int]) -> np.ndarray:
    """The field cut from a square canvas whose rows (lines of constant row) run at angle_deg, counted from the field's
    rows anticlockwise as seen in the picture."""
    turn = np.deg2rad(angle_deg)
    cos, sin = np.cos(turn), np.sin(turn)
    centre, mid = (strip.shape[0] - 1) / 2, ((shape[1] - 1) / 2, (shape[0] - 1) / 2)
    # Maps a field pixel to the canvas: along = x cos - y sin, across = x sin + y cos (y runs down).
    back = np.array([[cos, -sin, centre - cos * mid[0] + sin * mid[1]], [sin, cos, centre - sin * mid[0] - cos * mid[1]]])
    return cv2.warpAffine(
        strip, back, (shape[1], shape[0]), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
    )
