"""The picture of heights and tones: secondary electrons seen from the detector's side, then the camera.

Contrast from tilt, the detector's side, bright rims and starved escape from deep grooves (tests/SOURCES.md); weights: common
practice, no source.
"""

import cv2
import numpy as np

from makers.sidelit.frame import Frame


def picture(frame: Frame, height: np.ndarray, light: np.ndarray) -> np.ndarray:
    """Image (rows, cols) uint8 of heights in µm and tones, both (rows, cols)."""
    return _camera(frame, signal(frame, height, light))


def signal(frame: Frame, height: np.ndarray, light: np.ndarray) -> np.ndarray:
    """Electrons that arrive (rows, cols), level plain metal about 1, of heights in µm and tones."""
    rng, px = frame.rng, frame.px
    height = cv2.GaussianBlur(height, (0, 0), 0.5)
    gx, gy = (cv2.Sobel(height, cv2.CV_32F, dx, 1 - dx, scale=1 / (8 * px)) for dx in (1, 0))
    side = rng.uniform(0, 2 * np.pi)
    # tilt: the yield grows as sec θ
    sig = light * (1 + rng.uniform(0.2, 0.7) * (np.sqrt(1 + np.clip(gx * gx + gy * gy, 0, 6)) - 1))
    sig += rng.uniform(0.10, 0.45) * np.tanh(1.3 * (gx * np.cos(side) + gy * np.sin(side))).astype(np.float32)
    # convex edges give more, concave ones less
    ridge = height - frame.blur(height, 1.0, 1.0)
    sig += rng.uniform(0.15, 0.6) * np.tanh(np.clip(ridge, 0, None) / 0.35) - 0.15 * np.tanh(np.clip(-ridge, 0, None) / 0.35)
    # starved escape from deep ground: the sky that is seen, at two scales, and the plain depth
    walls = 0.5 * np.clip(frame.blur(height, 3.0) - height, 0, None) + 0.5 * np.clip(frame.blur(height, 10.0) - height, 0, None)
    deep = np.clip(-height - 0.2, 0, None)
    sig *= 1 - rng.uniform(0.14, 0.6) * (1 - np.exp(-(0.7 * walls + 0.5 * deep)))
    # the shadow of what stands 2 µm towards the detector
    towards = np.float32([[1, 0, np.cos(side) * 2.0 / px], [0, 1, np.sin(side) * 2.0 / px]])
    cast = cv2.warpAffine(height, towards, height.shape[::-1], borderMode=cv2.BORDER_REFLECT) - height
    sig *= 1 - rng.uniform(0, 0.25) * np.tanh(np.clip(cast - 0.3, 0, None))
    # shading over the field
    a, b = rng.normal(0, 0.07, 2)
    return sig * (1 + a * frame.x / frame.half + b * frame.y / frame.half + 0.03 * frame.noise(frame.half, frame.half))


def _camera(frame: Frame, sig: np.ndarray) -> np.ndarray:
    """Focus, shot noise of 60–700 electrons a pixel, line noise, contrast and gamma: image (rows, cols) uint8."""
    rng, shape = frame.rng, frame.shape
    sig = cv2.GaussianBlur(sig.astype(np.float32), (0, 0), rng.uniform(0.45, 1.3))
    dose = np.exp(rng.uniform(np.log(60), np.log(700)))
    sig += rng.standard_normal(shape).astype(np.float32) * np.sqrt(np.clip(sig, 0.05, None) / dose)
    sig += rng.standard_normal((shape[0], 1)).astype(np.float32) * rng.uniform(0, 0.015)
    if rng.random() < 0.3:  # a frame average or a mild filter of the instrument
        sig = cv2.GaussianBlur(sig, (0, 0), 0.6)
    spread = float(np.percentile(sig, 95) - np.percentile(sig, 5)) + 0.08
    gain = rng.uniform(90, 190) / spread
    out = rng.uniform(95, 150) + gain * 0.8 * (sig - float(np.median(sig)))
    out = 255 * np.clip(out / 255, 0, 1) ** rng.uniform(0.85, 1.2)
    return np.clip(np.round(out), 0, 255).astype(np.uint8)
