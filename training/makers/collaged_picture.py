"""From a grey map to an 8-bit micrograph: shading, charging, blur, line jitter, noise, tone curve."""

import cv2
import numpy as np

from makers.collaged_texture import log_uniform, stretched


def finish_picture(rng, picture, px, stroke, contrast):
    """picture: plateau near 0, contrasts of tenths; returns uint8 with few clipped pixels."""
    shape = picture.shape
    rows, cols = shape
    low, middle, high = np.percentile(picture[::3, ::3], [1, 50, 99])
    span = max(high - low, 0.1)
    out = (np.clip(picture, low - 0.35 * span, high + 0.5 * span) - np.float32(middle)) / np.float32(span)
    if rng.random() < 0.6:
        broad = stretched(rng, shape, max(shape) * 1.2, max(shape) * 0.7, rng.uniform(0, np.pi))
        out = out + np.float32(rng.uniform(0, 0.2)) * broad
    if rng.random() < 0.25:
        y = np.linspace(-1, 1, rows, dtype=np.float32)[:, None]
        out = out + np.float32(rng.normal(0, 0.12)) * y
    if rng.random() < 0.12:
        drop = np.maximum(rng.standard_normal(rows).astype(np.float32) - 1.8, 0)
        drop = np.convolve(drop, np.exp(-np.arange(8) / rng.uniform(0.5, 3)), mode="same").astype(np.float32)
        out = out + np.float32(rng.normal(0, 0.15)) * drop[:, None]
    if rng.random() < 0.1:
        y, x = np.indices(shape, dtype=np.float32)
        side = rng.uniform(0.2, 0.6) * min(shape)
        top, left = rng.uniform(0, rows - side), rng.uniform(0, cols - side)
        inside = (y > top) & (y < top + side) & (x > left) & (x < left + 1.3 * side)
        out = out - np.float32(rng.uniform(0.03, 0.15)) * cv2.GaussianBlur(inside.astype(np.float32), (0, 0), 2.0)
    if rng.random() < 0.15:
        y, x = np.indices(shape, dtype=np.float32)
        slip = np.convolve(rng.standard_normal(rows), np.ones(3) / 3, mode="same").astype(np.float32)
        out = cv2.remap(
            out,
            x + slip[:, None] * np.float32(rng.uniform(0.2, 0.9)),
            y,
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REFLECT,
        )
    blur = rng.uniform(0, 1.0) if rng.random() < 0.75 else rng.uniform(1, 2.5)
    if blur > 0.3:
        out = cv2.GaussianBlur(out, (0, 0), blur)
    noise = log_uniform(rng, 0.005, 0.16)
    grain = rng.standard_normal(shape, dtype=np.float32)
    if rng.random() < 0.3:
        grain = cv2.GaussianBlur(grain, (0, 0), 0.7) * np.float32(1.9)
    bright = np.float32(rng.uniform(0, 1))
    out = out + grain * np.float32(noise) * np.sqrt(np.clip(1 + bright * 2 * out, 0.2, 3))
    gain = rng.uniform(0.35, 0.85)
    centre = rng.uniform(0.3, 0.7)
    low, high = np.percentile(out[::3, ::3], [0.3, 99.7])
    fit = min(gain, 0.96 * centre / max(-low, 1e-3), 0.96 * (1 - centre) / max(high, 1e-3))
    grey = np.clip(out * np.float32(max(fit, 0.25)) + np.float32(centre), 0, 1)
    grey = grey ** np.float32(log_uniform(rng, 0.7, 1.4))
    image = np.round(grey * 255).astype(np.uint8)
    if rng.random() < 0.15:
        quality = int(rng.integers(55, 95))
        image = cv2.imdecode(cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])[1], cv2.IMREAD_GRAYSCALE)
    return image
