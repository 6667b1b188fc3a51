"""The secondary-electron picture of the ground.

Yield grows as the secant of the local tilt (from memory), but walls of 6–27° give little by that alone: contrast comes
from the detector's side, from starved escape out of deep ground, from rims and ridges, and from torn, rough floors.
Counts are electrons, so their noise is shot noise: N = current · dwell / charge.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .frame import cloudy, wide_blur


@dataclass(frozen=True, kw_only=True)
class Detector:
    """Settings of one field: weights of the contrasts, side and tilt of the detector, and the camera's faults."""

    side_deg: float
    sided: float
    tilt_deg: float
    starved: float
    edges: float
    floors: float
    electrons: float
    beam_px: float


def settings(rng: np.random.Generator) -> Detector:
    bright_floor = rng.random() < 0.13
    return Detector(
        side_deg=float(rng.uniform(0, 360)),
        sided=float(rng.uniform(0.5, 1.6) if rng.random() < 0.75 else rng.uniform(0, 0.4)),
        tilt_deg=float(rng.uniform(5, 30) if rng.random() < 0.3 else 0.0),
        starved=float(rng.uniform(-0.1, 0.1) if bright_floor else rng.uniform(0.2, 0.65)),
        edges=float(rng.uniform(0.1, 0.9)),
        floors=float(rng.uniform(0.25, 0.6) if bright_floor else rng.uniform(-0.25, 0.08)),
        electrons=float(np.exp(rng.uniform(np.log(140), np.log(5000)))),
        beam_px=float(rng.uniform(0.35, 1.1) if rng.random() < 0.85 else rng.uniform(1.1, 1.8)),
    )


def signal(height_um: np.ndarray, depth_um: np.ndarray, pixel_size_um: float, detector: Detector) -> np.ndarray:
    """Relative yield, about 1 on flat plateau: tilt, detector's side, starved escape, edge brightness, floors."""
    dx = cv2.Sobel(height_um, cv2.CV_32F, 1, 0, ksize=3, scale=1 / (8 * pixel_size_um))
    dy = cv2.Sobel(height_um, cv2.CV_32F, 0, 1, ksize=3, scale=1 / (8 * pixel_size_um))
    side = np.deg2rad(detector.side_deg)
    facing = (dx * np.cos(side) + dy * np.sin(side)).clip(-1.2, 1.2)
    facing = 0.7 * np.tanh(facing / 0.7)
    tilt = np.tan(np.deg2rad(detector.tilt_deg))
    secant = 0.75 + 0.25 * np.sqrt(1 + (facing + tilt) ** 2 + (dx * np.sin(side) - dy * np.cos(side)) ** 2) / np.sqrt(
        1 + tilt**2
    )
    near = float(np.clip(1.2 / pixel_size_um, 1.0, 5))
    far = float(np.clip(6 / pixel_size_um, 3.5, 24))
    smooth = cv2.GaussianBlur(height_um, (0, 0), 0.8)
    crest = (height_um - cv2.GaussianBlur(height_um, (0, 0), near)).clip(-0.6, 0.6)
    sunk = np.maximum(wide_blur(height_um, far) - smooth, 0) * 0.6 + 0.5 * depth_um
    out = secant + detector.sided * facing - detector.starved * (1 - np.exp(-sunk / 1.1))
    out += detector.edges * np.where(crest > 0, 1.3, 0.3) * crest
    return out + detector.floors * (1 - np.exp(-np.maximum(depth_um - 0.3, 0) / 0.7))


def charging(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Charge-up of a spot: a bright patch that drags along the fast scan (rows), 0–1."""
    out = np.zeros(shape, np.float32)
    for _ in range(int(rng.integers(1, 4))):
        y, x = rng.uniform(0, shape[0]), rng.uniform(0, shape[1])
        for _ in range(int(rng.integers(4, 12))):
            axes = (int(rng.uniform(4, 30)), int(rng.uniform(2, 7)))
            at = (int(x + rng.normal(0, 12)), int(y + rng.normal(0, 5)))
            cv2.ellipse(out, at, axes, 0, 0, 360, float(rng.uniform(0.5, 1)), -1)
    rows = 1 + 0.15 * rng.standard_normal((shape[0], 1), dtype=np.float32)
    return cv2.GaussianBlur(out, (0, 0), sigmaX=4, sigmaY=1.5) * rows


def exposed(rng: np.random.Generator, light: np.ndarray, detector: Detector) -> np.ndarray:
    """Beam blur, shading, shot noise, line jitter, and brightness and contrast set as an operator would."""
    rows, cols = light.shape
    light = cv2.GaussianBlur(light.astype(np.float32), (0, 0), detector.beam_px)
    light = light * (1 + np.float32(rng.uniform(0, 0.1)) * cloudy(rng, light.shape, max(rows, cols) * 0.7))
    if rng.random() < 0.15:
        jitter = np.round(rng.normal(0, 0.6, rows)).astype(int)
        light = np.take_along_axis(light, (np.arange(cols)[None, :] + jitter[:, None]).clip(0, cols - 1), 1)
    light = np.maximum(light, 0.03)
    light = light + rng.standard_normal(light.shape, dtype=np.float32) * np.sqrt(light / detector.electrons)
    if rng.random() < 0.3:
        light = light + rng.normal(0, 0.012, (rows, 1)).astype(np.float32)
    low, middle, high = np.quantile(light[::3, ::3], [0.01, 0.5, 0.99])
    spread = max(high - low, 0.3)
    gain = rng.uniform(95, 215) / spread
    level = max(rng.uniform(75, 165), (middle - low) * gain * rng.uniform(0.8, 1.0) + 6)
    level = min(level, 250 - (high - middle) * gain * rng.uniform(0.8, 1.0))
    grey = (light - middle) * gain + level
    gamma = rng.uniform(0.8, 1.25)
    return (255 * (np.clip(grey, 0, 255) / 255) ** gamma + 0.5).clip(0, 255).astype(np.uint8)
