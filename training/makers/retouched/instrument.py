"""What the microscope adds to a painted surface: beam, jitter, drift, noise, the knobs and the file; lengths in pixels."""

import cv2
import numpy as np

from .textures import filtered, loguniform


def _shading(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Brightness that falls off across the field and drifts from line to line, about 1."""
    rows, cols = shape
    y, x = np.linspace(-1, 1, rows, dtype=np.float32)[:, None], np.linspace(-1, 1, cols, dtype=np.float32)[None, :]
    turn, strength = rng.uniform(0, 2 * np.pi), loguniform(rng, 0.005, 0.2)
    field = 1 + strength * (np.cos(turn) * x + np.sin(turn) * y) - loguniform(rng, 0.002, 0.1) * (x * x + y * y)
    lines = np.interp(np.arange(rows), np.linspace(0, rows, 9), rng.standard_normal(9)) * loguniform(rng, 0.002, 0.06)
    flicker = rng.standard_normal(rows) * loguniform(rng, 0.0005, 0.012)
    return (field * (1 + lines + flicker)[:, None]).astype(np.float32)


def photograph(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """The micrograph (uint8) of a painted surface whose plateau is about 1."""
    rows, cols = signal.shape
    picture = cv2.GaussianBlur(signal, (0, 0), loguniform(rng, 0.35, 1.7))
    if rng.random() < 0.4:
        shake = (rng.standard_normal(rows) * loguniform(rng, 0.03, 0.5)).astype(np.float32)
        xs = np.arange(cols, dtype=np.float32)[None, :] + shake[:, None]
        ys = np.broadcast_to(np.arange(rows, dtype=np.float32)[:, None], signal.shape)
        picture = cv2.remap(picture, xs, np.ascontiguousarray(ys), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    picture = np.clip(picture * _shading(rng, signal.shape), 0.02, None)
    dose = loguniform(rng, 200, 8000)  # electrons a pixel at the plateau; the noise of a count is its root
    noise = rng.standard_normal(signal.shape, dtype=np.float32)
    if rng.random() < 0.3:
        noise = 1.3 * cv2.GaussianBlur(noise, (0, 0), sigmaX=loguniform(rng, 0.3, 0.9), sigmaY=0.3)
    picture = picture + noise * np.sqrt(picture / dose)
    if rng.random() < 0.1:
        picture += 0.02 * filtered(rng, signal.shape, 1.0, 0.3)
    picture = np.sign(picture) * np.abs(picture) ** np.float32(loguniform(rng, 0.6, 1.6))
    low, middle, high = np.percentile(picture[::3, ::3], [0.5, 50, 99.5])
    level, swing = rng.uniform(65, 185), loguniform(rng, 28, 115)
    gain = swing / max(high - middle, middle - low, 1e-3)
    gain = min(gain, (250 - level) / max(high - middle, 1e-3), (level - 5) / max(middle - low, 1e-3))
    out = np.clip(np.round(level + (picture - middle) * gain), 0, 255).astype(np.uint8)
    if rng.random() < 0.35:
        _, packed = cv2.imencode(".jpg", out, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(45, 97))])
        out = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return out
