"""How much of the sky a point of the surface sees, and a detector on one side of it."""

import cv2
import numpy as np


def shut_sky(height: np.ndarray, pixel: float, range_um: float) -> np.ndarray:
    """Share of the sky hidden from each point (rows, cols): mean sine of the horizon's elevation over 16 directions within
    range_um; heights in µm."""
    reaches = np.unique(np.round(np.geomspace(1, max(range_um / pixel, 4), 5)))
    padded, border = bordered(height, reaches)
    total = np.zeros_like(height)
    for k in range(16):
        t = rise(padded, height, border, 2 * np.pi * (k + 0.5) / 16, reaches, pixel)
        total += t / np.sqrt(1 + t * t)
    return total / 16


def side_light(height: np.ndarray, pixel: float, angle: float) -> tuple[np.ndarray, np.ndarray]:
    """Tilt towards the detector (-1 to 1) and the long soft shadow away from it (0 to 1), both (rows, cols); the detector's
    angle in radians from the rows' axis, y downwards."""
    gx = cv2.Sobel(height, cv2.CV_32F, 1, 0, ksize=3, scale=1 / (8 * pixel))
    gy = cv2.Sobel(height, cv2.CV_32F, 0, 1, ksize=3, scale=1 / (8 * pixel))
    tilt = -(gx * np.float32(np.cos(angle)) + gy * np.float32(np.sin(angle)))
    reaches = np.unique(np.round(np.geomspace(2, max(40 / pixel, 8), 7)))
    padded, border = bordered(height, reaches)
    shadow = sum(rise(padded, height, border, angle + d, reaches, pixel) for d in (-0.25, 0.0, 0.25)) / 3
    shadow = cv2.GaussianBlur(np.clip(shadow / 0.25, 0, 1), (0, 0), max(0.8, 1.2 / pixel))
    return np.tanh(2.5 * tilt), shadow


def bordered(height: np.ndarray, reaches: np.ndarray) -> tuple[np.ndarray, int]:
    """The heights with their edge carried on as far as the longest of the reaches (pixels), and the border's width."""
    border = int(reaches[-1]) + 2
    return cv2.copyMakeBorder(height, border, border, border, border, cv2.BORDER_REPLICATE), border


def rise(padded: np.ndarray, height: np.ndarray, border: int, angle: float, reaches: np.ndarray, pixel: float) -> np.ndarray:
    """Tangent of the horizon's elevation, at least 0, from each pixel towards an angle (radians), looked up at some reaches
    (pixels): (rows, cols)."""
    best = np.zeros_like(height)
    rows, cols = height.shape
    done = {(0, 0)}
    for reach in reaches:
        dx, dy = round(reach * np.cos(angle)), round(reach * np.sin(angle))
        if (dx, dy) in done:
            continue
        done.add((dx, dy))
        step = cv2.subtract(padded[border + dy : border + dy + rows, border + dx : border + dx + cols], height)
        cv2.multiply(step, 1 / (pixel * float(np.hypot(dx, dy))), step)
        cv2.max(best, step, best)
    return best
