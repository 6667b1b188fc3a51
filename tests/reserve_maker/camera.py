"""From the signal to grey values: blur of the probe, shot noise, line jitter, contamination, gain, brightness, gamma.

Counts: N = i·t/e electrons reach a point in the dwell time, and the count of those detected has the variance of its mean
(Poisson; drawn as a normal number, which for the counts used here differs by nothing that 8 bits show).
"""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.reserve_maker.random_fields import fractal_noise, line_noise


@dataclass(frozen=True, kw_only=True)
class Camera:
    """One setting of the recording. electrons: detected on a free plane a pixel; blur_px and stretch: probe and astigmatism;
    jitter_px: standard deviation of line shifts; brightness: grey of a free plane, 0 to 1; gain: grey for the signal's
    relative change; gamma: exponent of the display curve; shade: change of grey over the field; raster: a darker frame where
    the beam stood before; hum: grey of line-to-line steps.
    """

    electrons: float
    blur_px: float
    stretch: float
    jitter_px: float
    brightness: float
    gain: float
    gamma: float
    shade: float
    raster: bool
    hum: float


def shot_noise(signal: np.ndarray, electrons: float, rng: np.random.Generator) -> np.ndarray:
    """Return the signal with the noise of its count: standard deviation √(signal / electrons)."""
    spread = np.sqrt(np.maximum(signal, 1e-4) / np.float32(electrons))
    return signal + spread * rng.standard_normal(signal.shape, dtype=np.float32)


def contrast_gain(signal: np.ndarray, wanted: float, brightness: float) -> float:
    """Return the gain that gives the middle 98 % of a picture the wanted share of the grey range, bar heavy clipping."""
    low, high = np.quantile(signal[::3, ::3], (0.01, 0.99))
    room = min(brightness / max(1 - low, 1e-3), (1 - brightness) / max(high - 1, 1e-3))
    return float(np.clip(min(wanted / max(high - low, 1e-3), 1.15 * room), 0.3, 2.5))


def record(signal: np.ndarray, camera: Camera, rng: np.random.Generator) -> np.ndarray:
    """Return grey values from 0 to 1, (rows, cols) float32."""
    rows, cols = signal.shape
    wide = max(0.3, camera.blur_px * camera.stretch), max(0.3, camera.blur_px / camera.stretch)
    seen = cv2.GaussianBlur(signal, (0, 0), wide[0], sigmaY=wide[1])
    if camera.shade:
        slope = np.linspace(-1, 1, cols, dtype=np.float32) * np.float32(rng.normal())
        fall = np.linspace(-1, 1, rows, dtype=np.float32)[:, None] * np.float32(rng.normal())
        seen = seen * (1 + np.float32(camera.shade) * (slope + fall))
    if camera.raster:
        high, wide_px = int(rows * rng.uniform(0.25, 0.5)), int(cols * rng.uniform(0.25, 0.5))
        row, col = int(rng.uniform(0, rows - high)), int(rng.uniform(0, cols - wide_px))
        frame = np.zeros((rows, cols), np.float32)
        frame[row : row + high, col : col + wide_px] = 1
        seen = seen * (1 - np.float32(rng.uniform(0.04, 0.14)) * cv2.GaussianBlur(frame, (0, 0), 2.5))
    if camera.jitter_px:
        shift = (camera.jitter_px * line_noise(rows, 3, rng)).astype(np.float32)
        row, col = np.mgrid[0:rows, 0:cols].astype(np.float32)
        seen = cv2.remap(seen, col + shift[:, None], row, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    seen = shot_noise(seen, camera.electrons, rng)
    if camera.hum:
        seen = seen + np.float32(camera.hum) * rng.standard_normal((rows, 1), dtype=np.float32)
    grey = np.float32(camera.brightness) + np.float32(camera.gain) * (seen - 1)
    return np.clip(grey, 0, 1) ** np.float32(camera.gamma)


def stains(shape: tuple[int, int], pixel: float, rng: np.random.Generator) -> np.ndarray:
    """Return the yield factor of dried oil: a few darker patches with a darker brim."""
    field = fractal_noise(shape, 120 / pixel, rng, octaves=5)
    inside = np.clip((field - 1.1) * 3, 0, 1)
    brim = np.exp(-(((field - 1.15) / 0.08) ** 2))
    depth = rng.uniform(0.03, 0.12)
    return (1 - depth * inside - 0.6 * depth * brim).astype(np.float32)
