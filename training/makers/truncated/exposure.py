"""From signal to a stored picture: stains, charging, focus, line jitter, electrons counted (shot
noise falls with the square root of their number, N = i·t/e), contrast, brightness and gamma, all of one field's setting."""

import cv2
import numpy as np

from .frame import Frame, noise


def stain(rng: np.random.Generator, shape: tuple[int, int], contrast: float) -> np.ndarray:
    """Grey factor of films, contamination and uneven collection, in keeping with the contrast of the relief."""
    rows, cols = shape
    x, y = np.linspace(-0.5, 0.5, cols, dtype=np.float32)[None], np.linspace(-0.5, 0.5, rows, dtype=np.float32)[:, None]
    factor = 1 + rng.normal(0, 0.05) * x + rng.normal(0, 0.05) * y
    factor = factor + rng.uniform(0, 0.03) * noise(rng, shape, (rows / 4, cols / 4))
    if rng.random() < 0.35:
        turned = Frame(float(rng.uniform(0, 180)), shape)
        size = min(shape) / rng.uniform(3, 9)
        film = noise(rng, turned.size, (size, size)) + 0.5 * noise(rng, turned.size, (size / 3, size / 2))
        patch = turned.to_screen(np.clip(film - rng.uniform(0.3, 1.2), 0, 1))
        factor = factor * (1 - rng.uniform(0.03, 0.15) * patch * (1 if rng.random() < 0.75 else -0.6))
    return 1 + (factor - 1) * np.clip(contrast / 0.08, 0.15, 1.2)


def debris(rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Height (pixels' side = 1) of loose particles and where they lie."""
    rows, cols = shape
    height = np.zeros(shape, np.float32)
    for _ in range(int(rng.choice([0, rng.integers(1, 5), rng.integers(5, 14)], p=[0.65, 0.27, 0.08]))):
        radius = float(np.clip(rng.lognormal(np.log(1.5), 0.5) / pixel_size_um, 2, 22))
        turn = np.linspace(0, 2 * np.pi, 11, endpoint=False)
        away = radius * rng.uniform(0.6, 1.3, 11)
        points = np.stack([np.cos(turn), np.sin(turn)], 1) * away[:, None] + rng.uniform(0, 1, 2) * (cols, rows)
        cv2.fillPoly(height, [np.round(points * 8).astype(np.int32)], radius, cv2.LINE_8, 3)
    return cv2.GaussianBlur(height, (0, 0), 1.3), height > 0


def charge(rng: np.random.Generator, grey: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Streaks and a flare along the scan lines, in grey levels, and where they hide the surface."""
    rows, cols = grey.shape
    lines = np.clip(noise(rng, (rows, 1), (rng.uniform(1, 5), 1)) - 1.3, 0, 2) * rng.uniform(5, 30)
    flare = np.zeros(grey.shape, np.float32)
    if rng.random() < 0.5:
        x, y = np.arange(cols)[None] - rng.uniform(0, cols), np.arange(rows)[:, None] - rng.uniform(0, rows)
        wide, high = rng.uniform(0.08, 0.3) * cols, rng.uniform(0.02, 0.07) * rows
        flare = rng.uniform(80, 240) * np.exp(-((x / wide) ** 2) - (y / high) ** 2).astype(np.float32)
    return grey + lines + flare, flare > 110


def expose(rng: np.random.Generator, signal: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Picture (uint8) and where charging hides the surface."""
    focus = rng.uniform(0.35, 0.9) if rng.random() < 0.8 else rng.uniform(0.9, 1.8)
    signal = cv2.GaussianBlur(signal.astype(np.float32), (0, 0), focus)
    low, middle, high = np.percentile(signal[::3, ::3], [2, 50, 98])
    spread = max((high - low) / 4, 0.004)
    contrast, bright = rng.uniform(17, 42), rng.uniform(80, 165)
    scaled = (signal - middle) / spread
    scaled = np.where(np.abs(scaled) > 2, np.sign(scaled) * (2 + 1.3 * np.tanh((np.abs(scaled) - 2) / 2.2)), scaled)
    noisy = np.exp(rng.uniform(np.log(0.05), np.log(0.75)))
    scaled = scaled + noisy * np.sqrt(np.clip(1 + 0.25 * scaled, 0.3, 2)) * rng.standard_normal(
        signal.shape, dtype=np.float32
    )
    grey = bright + contrast * scaled
    if rng.random() < 0.3:
        grey = 255 * np.clip(grey / 255, 0, 1) ** rng.uniform(0.75, 1.35)
    hidden = np.zeros(signal.shape, bool)
    if rng.random() < 0.1:
        grey, hidden = charge(rng, grey)
    if rng.random() < 0.12:
        grey = grey + rng.uniform(1, 4) * rng.standard_normal((signal.shape[0], 1))
    return np.clip(np.rint(grey), 0, 255).astype(np.uint8), hidden


def jitter(rng: np.random.Generator, image: np.ndarray) -> np.ndarray:
    """Scan lines shifted by up to about a pixel."""
    rows, cols = image.shape
    shift = rng.uniform(0.2, 0.8) * rng.standard_normal((rows, 1), dtype=np.float32)
    x = np.arange(cols, dtype=np.float32)[None] + np.clip(shift, -1.5, 1.5)
    y = np.broadcast_to(np.arange(rows, dtype=np.float32)[:, None], image.shape)
    return cv2.remap(
        image, np.ascontiguousarray(x), np.ascontiguousarray(y), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
