"""Random fields with a length along the rows and one across them, the grain of every rubbed surface."""

import cv2
import numpy as np


def grain(rng: np.random.Generator, shape: tuple[int, int], along_px: float, across_px: float) -> np.ndarray:
    """Zero mean, unit spread; coarse grain is drawn on a coarse grid and enlarged."""
    rows, cols = shape
    step_x, step_y = max(1.0, along_px / 2), max(1.0, across_px / 2)
    small = (max(4, int(rows / step_y) + 3), max(4, int(cols / step_x) + 3))
    drawn = rng.standard_normal(small, dtype=np.float32)
    drawn = cv2.GaussianBlur(drawn, (0, 0), max(0.3, along_px / step_x / 2), sigmaY=max(0.3, across_px / step_y / 2))
    if small[0] > rows + 3 or small[1] > cols + 3 or step_x > 1 or step_y > 1:
        drawn = cv2.resize(drawn, (cols, rows), interpolation=cv2.INTER_CUBIC)
    drawn = drawn[:rows, :cols]
    return (drawn - drawn.mean()) / (drawn.std() + 1e-6)


def ramp(values: np.ndarray, low: float, high: float) -> np.ndarray:
    """0 below low, 1 above high, straight between."""
    return np.clip((values - low) / (high - low), 0, 1)


def turned(canvas: np.ndarray, angle: float, shape: tuple[int, int], *, nearest: bool = False) -> np.ndarray:
    """What a frame of that shape sees of the canvas whose rows lie at this angle (radians, from +x to +y) in the frame;
    both share their centre."""
    rows, cols = shape
    cos, sin = np.cos(angle), np.sin(angle)
    centre = np.array([(canvas.shape[1] - 1) / 2, (canvas.shape[0] - 1) / 2])
    matrix = np.array([[cos, sin], [-sin, cos]])
    shift = centre - matrix @ np.array([(cols - 1) / 2, (rows - 1) / 2])
    flags = cv2.WARP_INVERSE_MAP | (cv2.INTER_NEAREST if nearest else cv2.INTER_LINEAR)
    return cv2.warpAffine(
        canvas, np.hstack([matrix, shift[:, None]]), (cols, rows), flags=flags, borderMode=cv2.BORDER_REFLECT
    )
