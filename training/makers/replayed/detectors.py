"""Signals of two opposite detectors over the surface.

Their sum follows yield (sec θ, slope), the escape at edges and the trapping in narrow deep places; their difference
follows the slope towards one of them (Reimer, Scanning Electron Microscopy, 1998, from memory). Graphite emits less
(backscatter coefficient of carbon 0.06, of iron 0.28); films and stains change the tone only."""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True, kw_only=True)
class Setting:
    """The microscope as set for one sitting: weights of the signals and the escape length."""

    azimuth: float
    difference: float
    yield_: float
    edge: float
    escape_px: float
    trapping: float
    floor: float
    moved: float
    tilt: float


def draw_setting(rng: np.random.Generator, pixel_size_um: float) -> Setting:
    """Symmetric or from one side, upright or tilted up to 30°; edges glow over the beam's range of 0.2–1.6 µm."""
    floor = rng.choice([rng.uniform(-0.9, -0.2), rng.uniform(-0.15, 0.1), rng.uniform(0.2, 0.6)], p=[0.62, 0.2, 0.18])
    moved = rng.uniform(0.12, 0.45) if rng.random() < 0.55 else -rng.uniform(0.08, 0.22)
    if moved < 0 < floor:
        moved *= 0.4
    if moved * floor > 0:
        moved = np.sign(moved) * min(abs(moved), 0.5 * abs(floor))
    return Setting(
        azimuth=rng.uniform(0, 2 * np.pi),
        difference=float(rng.choice([rng.uniform(0, 0.3), rng.uniform(0.3, 1.6)], p=[0.35, 0.65])),
        yield_=rng.uniform(0.3, 2.0),
        edge=rng.uniform(0.1, 0.9),
        escape_px=float(np.clip(rng.uniform(0.2, 1.6) / pixel_size_um, 0.9, 4)),
        trapping=rng.uniform(0.1, 1.0),
        floor=float(floor),
        moved=float(moved),
        tilt=float(np.radians(rng.uniform(3, 30))) if rng.random() < 0.35 else 0.0,
    )


def signal(height: np.ndarray, pixel_size_um: float, setting: Setting) -> np.ndarray:
    """Topographic signal, zero on flat ground."""
    gx = cv2.Scharr(height, cv2.CV_32F, 1, 0, scale=1 / 32 / pixel_size_um)
    gy = cv2.Scharr(height, cv2.CV_32F, 0, 1, scale=1 / 32 / pixel_size_um)
    toward = gx * np.float32(np.cos(setting.azimuth)) + gy * np.float32(np.sin(setting.azimuth))
    slope2 = gx * gx + gy * gy
    lean = np.float32(np.tan(setting.tilt))
    secant = np.sqrt(1 + slope2 + 2 * lean * toward + lean * lean) - np.float32(np.sqrt(1 + lean * lean))
    out = setting.yield_ * np.minimum(secant, 1.2) + setting.difference * toward / np.sqrt(1 + slope2)
    near = cv2.GaussianBlur(height, (0, 0), setting.escape_px)
    glow = (height - near) / np.float32(pixel_size_um * setting.escape_px)
    out += setting.edge * np.clip(glow, -0.6, 1.0)
    wide = max(4.0, 5 * setting.escape_px)
    far = cv2.blur(near, (int(2 * wide) | 1,) * 2)
    out -= setting.trapping * np.clip((far - height) / np.float32(wide * pixel_size_um), 0, 1)
    return out
