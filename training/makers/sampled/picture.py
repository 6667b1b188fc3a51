"""The secondary-electron picture of a ground.

Yield grows as the secant of the angle between beam and normal (n ≈ 1, from memory); walls slope 6–27°, so tilt alone gives
little contrast. The rest is the detector's side, bright rims within the electrons' range (Kanaya, Okayama 1972: iron at
5–20 kV 0.16–1.6 µm), floors that are starved or, rough or carbon-filled, of another grey, and shot noise (1/√N).
"""

import cv2
import numpy as np

from .lines import log_uniform, smooth_noise
from .surface import Ground


def blur(map_: np.ndarray, sigma: float) -> np.ndarray:
    return cv2.GaussianBlur(map_, (0, 0), max(float(sigma), 0.3))


def blobs(rng: np.random.Generator, shape: tuple[int, int], number: int, size: float, stretch: float) -> np.ndarray:
    """Irregular flakes (0–1), number of them, of the given size in px."""
    mask = np.zeros(shape, np.uint8)
    for _ in range(number):
        turns = np.sort(rng.uniform(0, 2 * np.pi, 9))
        radius = size * np.exp(0.4 * rng.standard_normal()) * rng.uniform(0.4, 1.2, 9)
        slant = rng.uniform(0, np.pi)
        x, y = radius * np.cos(turns) * stretch, radius * np.sin(turns) / stretch
        points = np.stack([x * np.cos(slant) - y * np.sin(slant), x * np.sin(slant) + y * np.cos(slant)], axis=1)
        points += rng.uniform(0, 1, 2) * shape[::-1]
        cv2.fillPoly(mask, [points.round().astype(np.int32)], 1)
    edge = blur(mask.astype(np.float32), 0.2 * size) + 0.16 * smooth_noise(rng, shape, 2 + 0.15 * size, 2 + 0.15 * size)
    return ((edge > 0.5) & (cv2.dilate(mask, np.ones((5, 5), np.uint8)) > 0)).astype(np.float32)


def emission(rng: np.random.Generator, ground: Ground, height: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Electrons collected, 1 on flat metal."""
    relief = blur(height, 0.6)
    slope_x = cv2.Sobel(relief, cv2.CV_32F, 1, 0, scale=0.125 / pixel_size_um)
    slope_y = cv2.Sobel(relief, cv2.CV_32F, 0, 1, scale=0.125 / pixel_size_um)
    steep = np.sqrt(1 + slope_x**2 + slope_y**2)
    azimuth = rng.uniform(0, 2 * np.pi)
    toward = -(slope_x * np.cos(azimuth) + slope_y * np.sin(azimuth)) / steep
    tilt = np.radians(rng.choice([0, rng.uniform(0, 30)], p=[0.65, 0.35]))
    cosine = np.clip(np.cos(tilt) / steep + toward * np.sin(tilt), 0.2, 1)
    signal = np.cos(tilt) / cosine
    signal += rng.choice([0.05, rng.uniform(0.1, 0.9)]) * toward
    reach = np.clip(rng.uniform(0.16, 1.6) / pixel_size_um, 1.0, 8.0)
    edge = relief - blur(relief, reach)
    signal += log_uniform(rng, 0.1, 0.9) * np.clip(edge / (0.3 + np.abs(edge)), -0.6, 1)
    floor = rng.choice([-rng.uniform(0.15, 0.6), rng.uniform(0.1, 0.4), rng.uniform(-0.08, 0.08)], p=[0.7, 0.18, 0.12])
    depth = blur(ground.floor, 0.6)
    deep = depth / (depth + 0.8)
    signal += floor * deep
    signal += log_uniform(rng, 0.02, 0.2) * deep * smooth_noise(rng, height.shape, 2, 2)
    return signal + ground.grey * log_uniform(rng, 0.7, 1.6)


def take(rng: np.random.Generator, ground: Ground, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """The 8-bit picture, and the mask codes with what can't be assessed."""
    shape, codes = ground.codes.shape, ground.codes.copy()
    area = shape[0] * shape[1] * pixel_size_um**2
    height = ground.height.copy()
    flakes = holes = None
    if rng.uniform() < 0.5:  # graphite lamellae
        size = max(1.5, log_uniform(rng, 1.5, 7) / pixel_size_um)
        flakes = blobs(rng, shape, min(60, rng.poisson(area * log_uniform(rng, 2e-5, 6e-4))), size, rng.uniform(1.2, 3))
        flakes *= codes == 0
    if rng.uniform() < 0.4:  # pull-outs
        size = max(1.5, log_uniform(rng, 1, 6) / pixel_size_um)
        holes = blobs(rng, shape, min(40, rng.poisson(area * log_uniform(rng, 1e-5, 2e-4))), size, rng.uniform(1, 1.6))
        holes *= codes == 0
        height -= blur(holes, max(1, 0.2 * size)) * min(rng.uniform(0.5, 2.5), 0.5 * size * pixel_size_um)
    signal = emission(rng, ground, height, pixel_size_um)
    if flakes is not None:
        signal -= rng.uniform(0.2, 0.7) * blur(flakes, 0.9) * (1 + 0.25 * smooth_noise(rng, shape, 3, 3))
    if holes is not None:
        signal -= rng.uniform(0.1, 0.5) * blur(holes, 0.8)
    grain = rng.choice([0, log_uniform(rng, 0.01, 0.08)], p=[0.25, 0.75])
    if grain:
        size = max(2.0, log_uniform(rng, 1, 40) / pixel_size_um)
        signal += grain * smooth_noise(rng, shape, size, size)
    if rng.uniform() < 0.5:  # fine dust, films and oxides on the metal
        specks = smooth_noise(rng, shape, 2, 2) + 0.7 * smooth_noise(rng, shape, 25, 25) - rng.uniform(2, 4)
        signal += rng.choice([-1, 1]) * log_uniform(rng, 0.05, 0.3) * np.clip(specks, 0, 1)
    signal *= 1 + rng.choice([0.02, rng.uniform(0.02, 0.15)]) * smooth_noise(rng, shape, shape[0], shape[1])
    if rng.uniform() < 0.15:  # contamination: a dark film in patches
        film = 1 / (1 + np.exp(-4 * (smooth_noise(rng, shape, 90, 90) - 0.7)))
        signal *= 1 - rng.uniform(0.05, 0.3) * film
    if rng.uniform() < 0.2:
        debris = blobs(rng, shape, rng.integers(1, 12), max(2.5, log_uniform(rng, 0.8, 8) / pixel_size_um), 1.2)
        body = (
            debris
            * (rng.uniform(0.9, 1.5) + 0.12 * smooth_noise(rng, shape, 3, 3) + 0.15 * smooth_noise(rng, shape, 8, 8))
            + 0.4 * (debris - blur(debris, 2)) * debris
        )
        shadow = np.roll(blur(debris, 3), (2, 3), (0, 1))
        signal = np.where(debris > 0, body, signal * (1 - 0.3 * shadow))
        codes[debris > 0] = 255
    signal = blur(signal, log_uniform(rng, 0.3, 1.7) if rng.uniform() < 0.9 else rng.uniform(1.5, 2.5))
    if rng.uniform() < 0.12:  # line jitter
        rows = np.arange(shape[0], dtype=np.float32)[:, None] + np.zeros(shape, np.float32)
        shift = (rng.uniform(0.2, 0.9) * rng.standard_normal(shape[0]).astype(np.float32))[:, None]
        columns = np.arange(shape[1], dtype=np.float32)[None] + shift
        signal = cv2.remap(signal.astype(np.float32), columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    span = max(float(np.std(signal[::3, ::3])), 0.02)
    noise = span * log_uniform(rng, 0.04, 0.9)  # from a slow, clean scan to a hurried one
    signal = signal + noise * np.sqrt(np.clip(signal, 0.2, 3)) * rng.standard_normal(shape, dtype=np.float32)
    low, high = np.percentile(signal[::2, ::2], [0.7, 99.3])
    dark = rng.uniform(5, 90)
    bright = min(dark + log_uniform(rng, 45, 220), rng.uniform(200, 252))
    scaled = np.clip((signal - low) / max(high - low, 1e-3), -0.15, 1.2)
    scaled = np.sign(scaled) * np.abs(scaled) ** log_uniform(rng, 0.7, 1.4)
    grey = dark + (bright - dark) * scaled
    if rng.uniform() < 0.08:  # charging: a glow with bands along the scan lines
        glow = np.clip(smooth_noise(rng, shape, 120, 160) - 0.9, 0, None)
        glow = blur(glow, 12)
        grey += 110 * glow + 14 * np.clip(glow, 0, 1) * smooth_noise(rng, shape, 2, shape[1])
        codes[blur(grey.astype(np.float32), 2) > 250] = 255
    return np.clip(grey, 0, 255).round().astype(np.uint8), codes
