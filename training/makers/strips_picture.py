"""From greys in groove contrasts to an 8-bit micrograph."""

import math

import cv2
import numpy as np

from .strips_frame import line, log_uniform


def take_picture(rng: np.random.Generator, scene: np.ndarray, light: float, blur: float) -> np.ndarray:
    """The scene (units of groove contrast, plateau near 0) as the microscope would store it; `light` in
    radians, `blur` in px."""
    height, width = scene.shape
    contrast = log_uniform(rng, 18, 80)
    picture = scene * np.float32(contrast)
    spread = rng.uniform(0, 0.9)
    if spread > 0.5 and min(height, width) > 300:
        # Electrons scattered back widen every step with a weak halo.
        small = cv2.resize(picture, (width // 8, height // 8), interpolation=cv2.INTER_AREA)
        halo = cv2.resize(cv2.GaussianBlur(small, (0, 0), rng.uniform(0.5, 4)), (width, height))
        picture += (picture - halo) * np.float32(rng.uniform(-0.15, 0.25))
    if blur:
        picture = cv2.GaussianBlur(picture, (0, 0), blur)
    x, y = np.linspace(-1, 1, width, dtype=np.float32), np.linspace(-1, 1, height, dtype=np.float32)[:, None]
    slope = rng.uniform(0, 28) * float(rng.random() < 0.7)
    picture += np.float32(slope * math.cos(light)) * x + np.float32(slope * math.sin(light)) * y
    if rng.random() < 0.3:
        picture -= np.float32(rng.uniform(3, 25)) * (x * x + y * y)
    if rng.random() < 0.35:
        picture += np.float32(rng.uniform(0.5, 6)) * line(rng, height, log_uniform(rng, 3, 200))[:, None]
    if rng.random() < 0.08:
        left, right = np.sort(rng.uniform(-1.2, 1.2, 2))
        up, low = np.sort(rng.uniform(-1.2, 1.2, 2))
        soft = rng.uniform(0.005, 0.05)
        box = np.clip((x - left) / soft, 0, 1) * np.clip((right - x) / soft, 0, 1)
        box = box * np.clip((y - up) / soft, 0, 1) * np.clip((low - y) / soft, 0, 1)
        picture -= np.float32(rng.uniform(4, 20)) * box
    base = rng.uniform(75, 170)
    picture += np.float32(base)
    if rng.random() < 0.2:
        _charge(rng, picture)
    jitter = float(rng.choice([0.0, rng.uniform(0.1, 0.6)], p=[0.7, 0.3]))
    if jitter:
        shift = (jitter * rng.standard_normal(height) * 0.5).astype(np.float32)[:, None]
        columns = np.arange(width, dtype=np.float32)[None, :] + shift
        lines = np.broadcast_to(np.arange(height, dtype=np.float32)[:, None], columns.shape)
        picture = cv2.remap(
            picture, columns, np.ascontiguousarray(lines), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
    noise = contrast * log_uniform(rng, 0.02, 0.4) + rng.uniform(0, 1.5)
    grain = rng.standard_normal(scene.shape, dtype=np.float32)
    if rng.random() < 0.25:
        grain = cv2.GaussianBlur(grain, (0, 0), rng.uniform(0.4, 0.9)) * np.float32(1.8)
    shot = np.sqrt(np.clip(picture, 10, 255) / np.float32(base))
    picture += grain * shot * np.float32(noise)
    low, high = np.percentile(picture[:: max(1, height // 200), :: max(1, width // 200)], [0.7, 99.3])
    if low < 3 or high > 252 or rng.random() < 0.2:
        span = min(1.0, rng.uniform(205, 248) / max(high - low, 1e-3)) if high - low > 150 else 1.0
        middle = np.clip((low + high) / 2, 20 + span * (high - low) / 2, 250 - span * (high - low) / 2)
        picture = (picture - (low + high) / 2) * np.float32(span) + np.float32(middle)
    steps = np.clip(np.rint(picture), 0, 255).astype(np.uint8)
    if rng.random() < 0.4:
        gamma = log_uniform(rng, 0.65, 1.5)
        steps = cv2.LUT(steps, np.rint(255 * (np.arange(256) / 255) ** gamma).astype(np.uint8))
    if rng.random() < 0.2:
        quality = int(rng.integers(55, 96))
        steps = cv2.imdecode(cv2.imencode(".jpg", steps, [cv2.IMWRITE_JPEG_QUALITY, quality])[1], cv2.IMREAD_GRAYSCALE)
    return steps


def _charge(rng: np.random.Generator, picture: np.ndarray) -> None:
    """Charging: bright or dark streaks along scan lines, in place."""
    height, width = picture.shape
    for _ in range(int(rng.integers(1, 15))):
        row, start = int(rng.integers(height)), int(rng.integers(width))
        rows = slice(row, min(height, row + int(rng.integers(1, 4))))
        length = width - start
        fade = np.exp(-np.arange(length, dtype=np.float32) / np.float32(log_uniform(rng, 20, width)))
        picture[rows, start:] += fade * np.float32(rng.choice([-1, 1]) * rng.uniform(5, 30))
