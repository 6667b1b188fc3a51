"""Textures made in the picture plane: filtered noise, without or with a direction, and noise along a line."""

import cv2
import numpy as np


def clouds(rng: np.random.Generator, shape: tuple[int, int], size_px: float) -> np.ndarray:
    """Noise of unit spread whose blotches are about size_px wide; float32."""
    return streaks(rng, shape, size_px, size_px, 0.0)


def streaks(rng: np.random.Generator, shape: tuple[int, int], long_px: float, wide_px: float, angle_deg: float) -> np.ndarray:
    """Noise of unit spread drawn out to long_px along angle_deg (from the picture's x axis, y down) and wide_px across it."""
    reach = float(np.hypot(*shape)) + 4.0
    long_px, wide_px = (float(np.clip(size, 1.0, reach)) for size in (long_px, wide_px))
    # a coarse sheet of independent knots, bent over the picture: the cost doesn't grow with the size of the blotches
    sheet = rng.standard_normal((int(reach / wide_px) + 5, int(reach / long_px) + 5)).astype(np.float32)
    turn = np.deg2rad(angle_deg)
    cos, sin = np.cos(turn), np.sin(turn)
    rows, cols = shape
    slip = rng.uniform(0, 1, 2)
    to_sheet = np.array([[cos / long_px, sin / long_px, 0.0], [-sin / wide_px, cos / wide_px, 0.0]])
    middle = to_sheet[:, :2] @ [cols / 2, rows / 2]
    to_sheet[:, 2] = np.array([sheet.shape[1], sheet.shape[0]]) / 2 - middle - slip
    noise = cv2.warpAffine(
        sheet, to_sheet, (cols, rows), flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REFLECT
    )
    return noise / max(float(noise.std()), 1e-6)


def line_noise(rng: np.random.Generator, count: int, size: float) -> np.ndarray:
    """Smooth noise of about unit spread at count places along a line, correlated over size places."""
    size = max(size, 1.0)
    knots = rng.standard_normal(int(count / size) + 3)
    at = np.arange(count) / size + rng.uniform(0, 1)
    left = at.astype(int)
    part = at - left
    ease = part * part * (3 - 2 * part)
    return 1.2 * (knots[left] * (1 - ease) + knots[left + 1] * ease)


def loguniform(rng: np.random.Generator, low: float, high: float) -> float:
    """A number drawn evenly in its logarithm between low and high."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))
