"""From the signal to the picture: beam, shading, contrast, gamma, shot noise and unsteady lines."""

import cv2
import numpy as np

from .finished_noise import grown, smooth_field


def photograph(rng: np.random.Generator, signal: np.ndarray, hidden: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Return a picture (rows, cols) uint8 of a signal that is about 1 on the plateau; hidden pixels set no contrast."""
    shape = signal.shape
    signal = _beam(rng, _jitter(rng, signal))
    seen = signal[~hidden] if (~hidden).any() else signal.ravel()
    low, middle, high = np.quantile(seen[:: max(1, seen.size // 20000)], (0.005, 0.5, 0.995))
    shading = np.zeros(shape, np.float32)
    if rng.random() < 0.5:
        rows, cols = np.meshgrid(*(np.linspace(-1, 1, side, dtype=np.float32) for side in shape), indexing="ij")
        slope = rng.normal(0, 0.12, 2)
        shading = slope[0] * rows + slope[1] * cols + rng.normal(0, 0.05) * (rows**2 + cols**2)
    noise_share = float(np.exp(rng.uniform(np.log(0.01), np.log(0.26))))
    span = min(float(np.exp(rng.uniform(np.log(75), np.log(235)))), 243 / (1 + 2 * noise_share))
    grey = (signal - middle) / max(high - low, 0.08) + 0.6 * shading
    below, above = (middle - low) / max(high - low, 0.08), (high - middle) / max(high - low, 0.08)
    margin = 6 + 0.5 * noise_share * span
    room = span * below + margin, 255 - margin - span * above
    black = rng.uniform(min(room), max(room))
    exposure = black + span * grey
    gamma = float(np.exp(rng.normal(0, 0.22)))
    exposure = 255 * (np.clip(exposure, 0, 330) / 255) ** gamma
    noisy = noise_share * span
    shot = rng.standard_normal(shape, dtype=np.float32)
    if rng.random() < 0.35:  # averaged frames that drifted, or a picture that was resized
        shot = cv2.GaussianBlur(shot, (0, 0), rng.uniform(0.4, 0.9)) * 1.6
    picture = exposure + noisy * shot * np.sqrt(np.clip(exposure, 5, None) / 128)
    if rng.random() < 0.3:  # each line has its own brightness
        picture += rng.uniform(0.1, 0.6) * noisy * rng.standard_normal((shape[0], 1), dtype=np.float32)
    if rng.random() < 0.15:
        picture += 0.02 * span * smooth_field(rng, shape, 120 * pixel_size_um, pixel_size_um)
    return np.clip(np.round(picture), 0, 255).astype(np.uint8)


def _beam(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    width_px = rng.uniform(0.25, 0.8) if rng.random() < 0.75 else rng.uniform(0.8, 1.6)
    signal = grown(signal, width_px, 1.0)
    if rng.random() < 0.2:  # sharpened afterwards
        signal = signal + rng.uniform(0.2, 0.8) * (signal - grown(signal, 1.2, 1.0))
    return signal


def _jitter(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """Lines that the beam starts a little early or late."""
    if rng.random() > 0.25:
        return signal
    shifts = rng.normal(0, rng.uniform(0.1, 0.5), signal.shape[0]).astype(np.float32)
    cols = np.arange(signal.shape[1], dtype=np.float32)[None, :] + shifts[:, None]
    rows = np.broadcast_to(np.arange(signal.shape[0], dtype=np.float32)[:, None], signal.shape)
    return cv2.remap(signal, cols, np.ascontiguousarray(rows), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
