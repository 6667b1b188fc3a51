"""The secondary-electron picture. Yield grows as sec(theta) to the power of about 1 (from memory), but honed walls slope
little, so contrast also comes from the detector's side, from edges within the range of the electrons (0.16-1.6 um in iron at
5-20 kV, Kanaya and Okayama 1972), and from deep ground that secondaries leave less easily.
Shot noise follows the dose (N = i t / e)."""

import cv2
import numpy as np

from .frame import Frame, Map, ramp


def range_um(kilovolts: float) -> float:
    """Of electrons in iron (Z 26, A 55.85), Kanaya and Okayama 1972."""
    return 0.0276 * 55.85 * kilovolts**1.67 / (26**0.89 * 7.87)


def secondaries(rng: np.random.Generator, frame: Frame, height: Map, grey: Map) -> Map:
    """Signal about 1 on flat ground; one setting for the whole field."""
    pixel = frame.pixel_um
    gx = cv2.Sobel(height, cv2.CV_32F, 1, 0, ksize=3, scale=1 / (8 * pixel))
    gy = cv2.Sobel(height, cv2.CV_32F, 0, 1, ksize=3, scale=1 / (8 * pixel))
    long = np.sqrt(1 + gx * gx + gy * gy)
    tilt = np.radians(rng.uniform(5, 30)) if rng.random() < 0.3 else 0.0
    to = rng.uniform(0, 2 * np.pi)
    cos = (np.cos(tilt) + np.sin(tilt) * (gx * np.cos(to) + gy * np.sin(to))) / long
    signal = np.cos(tilt) / np.maximum(cos, 0.3)
    side = rng.uniform(0.25, 1.1) if rng.random() < 0.65 else rng.uniform(0, 0.12)
    to = rng.uniform(0, 2 * np.pi)
    signal += side * (gx * np.cos(to) + gy * np.sin(to)) / long
    # Convex edges within the electrons' range give more, concave corners less.
    near = np.clip(range_um(rng.uniform(5, 20)) / pixel, 0.9, 5)
    edge = height - cv2.GaussianBlur(height, (0, 0), float(near))
    signal += rng.uniform(0.1, 0.7) * np.tanh(edge / (0.35 * near * pixel)) * 0.6
    # Starved escape from deep ground; in some settings floors are bright instead.
    wide = cv2.resize(height, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    wide = cv2.GaussianBlur(wide, (0, 0), max(2.0, min(24.0, 10 / pixel) / 4))
    low = np.clip(cv2.resize(wide, frame.shape[::-1], interpolation=cv2.INTER_LINEAR) - height, -1, None)
    starve = rng.uniform(0.15, 0.7) if rng.random() < 0.8 else -rng.uniform(0.1, 0.35)
    signal *= np.exp(-starve * np.tanh(low / rng.uniform(0.6, 2.0)))
    return np.maximum(signal * (1 + grey), 0.03).astype(np.float32)


def developed(rng: np.random.Generator, frame: Frame, signal: Map) -> Map:
    """Contamination, blur, line jitter, shading, noise, and the operator's brightness, contrast and gamma; uint8."""
    rows, cols = frame.shape
    signal = np.maximum(signal, 0.02)
    if rng.random() < 0.25:
        signal = signal * (
            1 - rng.uniform(0.05, 0.22) * ramp(frame.noise(rng, 0, frame.size / 4, frame.size / 4), 0.2, 1.2)
        )
    if rng.random() < 0.12:
        y0, x0, side = rng.uniform(0, 0.6) * rows, rng.uniform(0, 0.6) * cols, rng.uniform(0.25, 0.5) * frame.size
        signal[int(y0) : int(y0 + side), int(x0) : int(x0 + side)] *= rng.uniform(0.86, 0.96)
    signal = cv2.GaussianBlur(
        signal, (0, 0), float(rng.uniform(0.9, 1.7) if rng.random() < 0.2 else rng.uniform(0.35, 0.9))
    )
    if rng.random() < 0.15:
        y, x = np.indices(frame.shape, dtype=np.float32)
        x += (rng.standard_normal(rows) * rng.uniform(0.1, 0.5)).astype(np.float32)[:, None]
        signal = cv2.remap(signal, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    y, x = np.linspace(-1, 1, rows, dtype=np.float32)[:, None], np.linspace(-1, 1, cols, dtype=np.float32)[None]
    signal = signal * (1 + rng.normal(0, 0.04) * x + rng.normal(0, 0.04) * y - rng.uniform(0, 0.05) * (x * x + y * y))
    dose = np.exp(rng.uniform(np.log(120), np.log(6000)))
    signal = signal + np.sqrt(signal / np.float32(dose)) * rng.standard_normal(frame.shape, dtype=np.float32)
    if rng.random() < 0.2:
        signal *= 1 + rng.uniform(0.005, 0.025) * rng.standard_normal((rows, 1), dtype=np.float32)
    low, high = np.quantile(signal[::3, ::3], [0.004, 0.996])
    spread = max(high - low, rng.uniform(0.15, 0.45))
    middle, reach = (high + low) / 2, rng.uniform(0.55, 1.02)
    level = np.clip(0.5 + reach * (signal - middle) / spread + rng.uniform(-0.5, 0.5) * max(1 - reach, 0), 0, 1)
    return np.clip(255 * level ** np.float32(rng.uniform(0.75, 1.35)) + 0.5, 0, 255).astype(np.uint8)


def debris(rng: np.random.Generator, frame: Frame, signal: Map) -> Map:
    """Loose particles, bright with a shadow beside them, drawn into the signal; returns the mask of particles."""
    cover = np.zeros(frame.shape, np.uint8)
    for _ in range(int(rng.integers(1, 9))):
        size = np.clip(rng.lognormal(np.log(3), 0.6) / frame.pixel_um, 2.5, frame.size / 22)
        turn = np.linspace(0, 2 * np.pi, 9, endpoint=False)
        corners = np.stack([np.cos(turn), np.sin(turn)], 1) * size * rng.uniform(0.6, 1.2, (9, 1))
        cv2.fillPoly(cover, [np.round(corners + rng.uniform(size=2) * frame.shape[::-1]).astype(np.int32)], 1)
    mask = cover > 0
    soft = cv2.GaussianBlur(cover.astype(np.float32), (0, 0), 2.5)
    shade = np.roll(soft, (2, 2), (0, 1))
    signal *= 1 - 0.4 * shade
    facets = 1.2 + 0.14 * np.clip(frame.noise(rng, rng.uniform(0, 3), 7, 4), -3, 3) + 0.5 * (1 - soft)
    signal[mask] = facets[mask]
    return mask


def charging(rng: np.random.Generator, frame: Frame, signal: Map) -> Map:
    """Bright glow with a dark trail along the scan lines; returns where it hides the ground."""
    y, x = np.indices(frame.shape, dtype=np.float32)
    y0, x0, size = rng.uniform(0, frame.shape[0]), rng.uniform(0, frame.shape[1]), rng.uniform(0.03, 0.09) * frame.size
    glow = np.exp(-(((y - y0) / size) ** 2) - ((x - x0) / (size * rng.uniform(1, 3))) ** 2)
    trail = np.exp(-(((y - y0) / size) ** 2)) * (x > x0) * np.exp(-(x - x0) / (frame.shape[1] / 3))
    hidden = glow > 0.5
    signal *= 1 - 0.2 * trail
    signal += 1.1 * np.minimum(glow, 0.8)
    signal[hidden] = 0.15 * signal[hidden] + 1.6
    return hidden
