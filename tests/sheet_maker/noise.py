"""Smooth random fields: isotropic ones and ones drawn out along a direction."""

import cv2
import numpy as np

Rng = np.random.Generator


def unit_vector(angle_deg: float) -> np.ndarray:
    """Return (x, y) in pixels, y downwards, of a direction anticlockwise from the rows."""
    angle = np.deg2rad(angle_deg)
    return np.array([np.cos(angle), -np.sin(angle)])


def unlike_zero(field: np.ndarray) -> np.ndarray:
    """Return the field with mean 0 and standard deviation 1."""
    return ((field - field.mean()) / (field.std() + 1e-9)).astype(np.float32)


def blotches(rng: Rng, shape: tuple[int, int], scale_px: float) -> np.ndarray:
    """Return Gaussian noise of a correlation length, mean 0, standard deviation 1."""
    step = max(1.0, scale_px / 2.5)
    rows, cols = (int(np.ceil(n / step)) + 3 for n in shape)
    coarse = cv2.GaussianBlur(rng.standard_normal((rows, cols), dtype=np.float32), (0, 0), scale_px / step / 1.5)
    if step > 1:
        coarse = cv2.resize(coarse, None, fx=step, fy=step, interpolation=cv2.INTER_CUBIC)
    return unlike_zero(coarse[: shape[0], : shape[1]])


def curve(rng: Rng, n: int, scale: float) -> np.ndarray:
    """Return a smooth random line of n values, mean about 0, standard deviation about 1."""
    knots = max(4, int(n / max(scale, 1.0)) + 4)
    at = np.linspace(0.5, knots - 1.5, n)
    low = at.astype(int)
    part = at - low
    part = part * part * (3 - 2 * part)
    values = rng.standard_normal(knots)
    return ((1 - part) * values[low] + part * values[low + 1]).astype(np.float32) * 1.15


def blob(rng: Rng, radius: float, n: int = 32, *, unevenness: float = 0.3) -> np.ndarray:
    """Return a rounded, lopsided outline (n, 2) about the origin: a circle with a few random harmonics."""
    angle = np.linspace(0, 2 * np.pi, n, endpoint=False)
    reach = np.ones(n)
    for order in range(2, 12):
        reach += unevenness * rng.normal(0, 1.5 / order**1.1) * np.cos(order * angle + rng.uniform(0, 2 * np.pi))
    reach = radius * np.clip(reach, 0.25, 2)
    stretch, turn = rng.uniform(0.55, 1.0), rng.uniform(0, np.pi)
    ring = np.stack([np.cos(angle) * reach, np.sin(angle) * reach * stretch], 1)
    return ring @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])


def frame_matrix(shape: tuple[int, int], angle_deg: float, step: float) -> tuple[np.ndarray, tuple[int, int], float]:
    """Return the map from picture to a frame whose columns run along a direction, in steps, and whose rows run across.

    Frame columns are ``step`` px apart, rows 1 px. Returns the 2 × 3 matrix, the frame's shape and its half side in px.
    """
    rows, cols = shape
    half = float(np.hypot(rows, cols) / 2 + 24)
    along = unit_vector(angle_deg)
    across = np.array([-along[1], along[0]])
    centre = np.array([(cols - 1) / 2, (rows - 1) / 2])
    matrix = np.stack(
        [
            np.append(along / step, (half - along @ centre) / step),
            np.append(across, half - across @ centre),
        ]
    )
    return matrix, (int(2 * half) + 1, int(2 * half / step) + 2), half


def from_frame(frame: np.ndarray, matrix: np.ndarray, shape: tuple[int, int]) -> np.ndarray:
    """Return a frame's field on the picture's grid."""
    return cv2.warpAffine(
        frame, matrix, shape[::-1], flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
    )


def streaks(rng: Rng, shape: tuple[int, int], angle_deg: float, *, along_px: float, across_px: float) -> np.ndarray:
    """Return noise drawn out along a direction, mean 0, standard deviation 1."""
    step = max(1.0, along_px / 4)
    matrix, frame_shape, _ = frame_matrix(shape, angle_deg, step)
    frame = rng.standard_normal(frame_shape, dtype=np.float32)
    frame = cv2.GaussianBlur(frame, (0, 0), sigmaX=max(0.6, along_px / step / 2), sigmaY=max(0.35, across_px / 2))
    return unlike_zero(from_frame(frame, matrix, shape))
