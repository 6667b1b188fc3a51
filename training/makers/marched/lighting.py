"""A renderer's lighting of the height field: emission by slope, key lights for detectors, occlusion, rim light."""

import cv2
import numpy as np


def emission(slope: np.ndarray, power: float) -> np.ndarray:
    """Secondary yield over that of level ground: sec θ to a power near 1, with slope = tan θ."""
    return (1 + slope * slope) ** np.float32(power / 2)


def occlusion(height: np.ndarray, pixel_um: float) -> np.ndarray:
    """How far ground is starved of sky, 0–1: its depth below surroundings at three reaches, each over that reach."""
    starved = np.zeros_like(height)
    for reach_um in (1.5, 5.0, 16.0):
        step = max(1, int(reach_um / pixel_um / 2))  # wide reaches need no fine grid
        size = tuple(max(2, n // step) for n in height.shape[::-1])
        small = cv2.resize(height, size, interpolation=cv2.INTER_AREA)
        around = cv2.GaussianBlur(small, (0, 0), max(0.6, reach_um / pixel_um / step))
        around = cv2.resize(around, height.shape[::-1], interpolation=cv2.INTER_LINEAR)
        starved += np.maximum(around - height, 0) / np.float32(reach_um)
    return 1 - np.exp(-2.0 * starved)


def light(rng: np.random.Generator, height: np.ndarray, pixel_um: float, backscattered: bool) -> np.ndarray:
    """Brightness of bare iron, 1 on level ground; height in µm."""
    dy, dx = (g / np.float32(pixel_um) for g in np.gradient(height))
    slope = np.minimum(np.hypot(dx, dy), 4)
    lit = emission(slope, 0.3 if backscattered else rng.uniform(0.8, 1.3))
    lit = np.minimum(lit, 2.5)
    for strength in (rng.uniform(0.15, 1.2), rng.choice([0, 0.3])):
        angle = rng.uniform(0, 2 * np.pi)
        lean = (dx * np.float32(np.cos(angle)) + dy * np.float32(np.sin(angle))) / np.sqrt(1 + slope * slope)
        lit = lit * (1 + np.float32(strength * (1.0 if backscattered else 0.7)) * lean)
    # Electrons leave a sharp crest on both its sides.
    crest = height - cv2.GaussianBlur(height, (0, 0), max(0.8, 0.5 / pixel_um))
    lit = lit + np.float32(rng.uniform(0.1, 0.9) * (0.3 if backscattered else 1)) * np.clip(crest / 0.3, 0, 1.5)
    return np.maximum(lit * (1 - np.float32(rng.uniform(0.2, 0.85)) * occlusion(height, pixel_um)), 0.02)
