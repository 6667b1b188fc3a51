"""From heights to a micrograph: local yield by slope, rim and shadow, then beam, counting noise and tone. Heights in µm."""

import cv2
import numpy as np

from .grain import fine, log_uniform


def emission(
    rng: np.random.Generator, height: np.ndarray, depth: np.ndarray, pixel_size_um: float, backscatter: bool
) -> np.ndarray:
    """Yield relative to flat iron; depth is the open depth in µm below the plateau, which starves the escape."""
    gy, gx = np.gradient(height, pixel_size_um)
    gy, gx = np.clip(gy, -2.5, 2.5), np.clip(gx, -2.5, 2.5)
    side = rng.uniform(0, 2 * np.pi)
    toward = gx * np.cos(side) + gy * np.sin(side)
    tilt = np.sqrt(1 + gx**2 + gy**2) - 1
    edge_px = rng.uniform(0.8, 2)
    convex = (height - cv2.GaussianBlur(height, (0, 0), edge_px)) / pixel_size_um
    rim, slope, facing = log_uniform(rng, 0.15, 0.9), rng.uniform(0.5, 1.4), rng.uniform(-1, 1)
    facing = np.sign(facing) * (0.12 + 0.5 * abs(facing)) if not backscatter else np.sign(facing) * rng.uniform(0.4, 0.9)
    out = 1 + facing * np.tanh(toward)
    if not backscatter:
        out += slope * np.minimum(tilt, 1) + rim * np.tanh(convex * 1.5)
    # what stands higher on the detector's side within a short way hides the ground from it
    rise = np.tan(np.radians(rng.uniform(12, 35)))
    hidden = np.zeros_like(height)
    for far in (2, 4, 7, 11):
        dx, dy = np.cos(side) * far * np.sign(facing), np.sin(side) * far * np.sign(facing)
        moved = cv2.warpAffine(height, np.float32([[1, 0, dx], [0, 1, dy]]), height.shape[::-1], borderMode=cv2.BORDER_REPLICATE)
        hidden = np.maximum(hidden, (moved - height) / (far * pixel_size_um) - rise)
    out *= 1 - rng.uniform(0.2, 0.6) * np.clip(hidden * 2, 0, 1)
    starve = log_uniform(rng, 0.25, 0.65)
    return out * (1 - starve * (1 - np.exp(-depth / log_uniform(rng, 0.8, 3))))


def record(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """The instrument: beam, drift, line jitter, shot noise and tone; uint8, sometimes passed through JPEG."""
    rows, cols = signal.shape
    signal = cv2.GaussianBlur(signal, (0, 0), log_uniform(rng, 0.35, 1.3))
    if rng.random() < 0.3:
        jitter = rng.normal(0, log_uniform(rng, 0.05, 0.5), rows).astype(np.float32)[:, None]
        x = np.arange(cols, dtype=np.float32)[None, :] + jitter
        y = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, 1)
        signal = cv2.remap(signal, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    drift = cv2.GaussianBlur(rng.normal(0, 1, (rows, 1)).astype(np.float32), (1, 101), 25)
    signal = signal * (1 + drift / (drift.std() + 1e-6) * log_uniform(rng, 0.002, 0.03))
    slope = (np.linspace(-1, 1, cols)[None, :] * rng.normal(0, 0.06) + np.linspace(-1, 1, rows)[:, None] * rng.normal(0, 0.06))
    signal = np.maximum(signal * (1 + slope), 0.02).astype(np.float32)
    dose = log_uniform(rng, 150, 5000)
    signal = signal + rng.standard_normal(signal.shape, dtype=np.float32) * np.sqrt(signal / dose)
    if rng.random() < 0.3:
        signal = signal + fine(rng, signal.shape, 1.0) * 0.02
    low, high = np.percentile(signal[::3, ::3], [0.5, 99.5])
    bottom, top = rng.uniform(4, 50), rng.uniform(185, 250)
    tone = np.clip((signal - low) / (high - low + 1e-6), -0.1, 1.15)
    tone = np.sign(tone) * np.abs(tone) ** log_uniform(rng, 0.65, 1.5)
    image = np.clip(bottom + tone * (top - bottom), 0, 255).astype(np.uint8)
    if rng.random() < 0.3:
        _, packed = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 96))])
        image = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return image
