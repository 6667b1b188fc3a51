"""From the canvas to grey levels: sharpness, shading, noise, the scan's faults, gain and offset."""

import cv2
import numpy as np

from makers.stamped_bank import grain, log_uniform, soften


def expose(rng, scene, picture):
    h, w = scene.shape
    blur = rng.choice([0, 0.5, 0.9, 1.4, 2.2, 3.0], p=[0.2, 0.25, 0.25, 0.15, 0.1, 0.05])
    picture = soften(picture.astype(np.float32), min(blur, 0.25 * scene.finest))
    if rng.random() < 0.6:
        tilt = rng.uniform(-0.12, 0.12, 2)
        y, x = np.linspace(-1, 1, h, dtype=np.float32)[:, None], np.linspace(-1, 1, w, dtype=np.float32)[None]
        picture = picture * (1 + tilt[0] * x + tilt[1] * y - rng.uniform(0, 0.08) * (x * x + y * y)).astype(np.float32)
    if rng.random() < 0.4:
        picture = picture + rng.uniform(0.005, 0.05) * grain(rng, scene.shape, 0.35 * min(h, w))
    if rng.random() < 0.2:
        rows = np.cumsum(rng.normal(0, 1, h))
        picture = picture + (rng.uniform(0.005, 0.03) * rows / max(np.abs(rows).max(), 1)).astype(np.float32)[:, None]
    if rng.random() < 0.2:
        picture = charge(rng, picture)
    if rng.random() < 0.15:
        jitter = np.arange(w, dtype=np.float32)[None] + rng.normal(0, rng.uniform(0.2, 0.9), (h, 1)).astype(np.float32)
        picture = cv2.remap(
            picture,
            jitter,
            np.repeat(np.arange(h, dtype=np.float32)[:, None], w, 1),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
    low, middle, high = np.percentile(picture[::4, ::4], [1, 50, 99])
    middle_grey = rng.uniform(75, 180)
    gain = min(
        log_uniform(rng, 180, 520),
        0.95 * middle_grey / max(middle - low, 1e-3),
        0.95 * (250 - middle_grey) / max(high - middle, 1e-3),
    )
    grey = (picture - middle) * gain + middle_grey
    if rng.random() < 0.4:
        grey = 255 * np.clip(grey / 255, 0.001, 1) ** rng.uniform(0.7, 1.4)
    noise = rng.standard_normal(scene.shape, dtype=np.float32)
    if rng.random() < 0.3:
        noise = cv2.blur(noise, (int(rng.integers(1, 4)), 1)) * 1.4
    level = min(log_uniform(rng, 1.0, 16), 0.04 * gain)
    grey = grey + noise * level * np.sqrt(np.clip(grey, 8, 255) / 128)
    image = np.clip(np.round(grey), 0, 255).astype(np.uint8)
    if rng.random() < 0.15:
        _, packed = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(45, 92))])
        image = cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE)
    return image


def charge(rng, picture):
    """Rows that a charged spot brightens or darkens from some column on."""
    out = picture.copy()
    h, w = out.shape
    for _ in range(int(rng.integers(1, 8))):
        row, start = int(rng.integers(h)), int(rng.integers(w))
        tall = int(rng.integers(1, max(2, h // 60)))
        fade = np.exp(-np.arange(w - start, dtype=np.float32) / rng.uniform(20, 300))
        out[row : row + tall, start:] += np.float32(rng.choice([-1, 1]) * rng.uniform(0.03, 0.15)) * fade
    return out
