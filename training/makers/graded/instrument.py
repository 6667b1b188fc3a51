"""The microscope's part: beam, dose, line jitter, contrast and brightness setting, sometimes lossy storage."""

import cv2
import numpy as np

from .picture import shading
from .spectra import log_uniform


def recorded(rng: np.random.Generator, signal: np.ndarray) -> np.ndarray:
    """The signal as an 8-bit picture."""
    shape = signal.shape
    out = cv2.GaussianBlur(signal, (0, 0), log_uniform(rng, 0.3, 1.3))
    if rng.random() < 0.3:
        out = _jittered(rng, out)
    out = np.maximum(out + shading(rng, shape), 0.02)
    # Electrons per pixel; only those above the mean count of the collected part carry the picture.
    electrons = log_uniform(rng, 60, 6000)
    out = out + np.sqrt(out / electrons) * rng.standard_normal(shape, dtype=np.float32)
    if rng.random() < 0.3:
        out = out + (rng.uniform(0.002, 0.015) * rng.standard_normal((shape[0], 1))).astype(np.float32)
    if rng.random() < 0.35:
        out = cv2.GaussianBlur(out, (0, 0), rng.uniform(0.4, 0.9))
    low, middle, high = np.percentile(out[::3, ::3], (2, 50, 98))
    # The operator spreads what is seen over part of the grey scale and leaves some room.
    spread = log_uniform(rng, 60, 190)
    brightness = rng.uniform(75, 165)
    grey = brightness + (out - middle) * spread / max(high - low, 0.05)
    gamma = log_uniform(rng, 0.75, 1.35)
    grey = 255 * np.power(np.clip(_shouldered(grey) / 255, 0, 1), gamma)
    picture = np.clip(np.rint(grey), 0, 255).astype(np.uint8)
    if rng.random() < 0.3:
        quality = int(rng.integers(45, 95))
        picture = cv2.imdecode(
            cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])[1], cv2.IMREAD_GRAYSCALE
        )
    return picture


def _jittered(rng: np.random.Generator, map_: np.ndarray) -> np.ndarray:
    rows, columns = map_.shape
    shift = rng.normal(0, rng.uniform(0.1, 0.6), (rows, 1)).astype(np.float32)
    x = np.arange(columns, dtype=np.float32)[None, :] + shift
    y = np.broadcast_to(np.arange(rows, dtype=np.float32)[:, None], map_.shape)
    return cv2.remap(map_, x, np.ascontiguousarray(y), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def _shouldered(grey: np.ndarray, knee: float = 40.0) -> np.ndarray:
    """Grey bent over within `knee` of either end, so that a strong signal nears the end and is not cut there."""
    high = 255 - knee
    out = np.where(grey > high, high + knee * np.tanh((grey - high) / knee), grey)
    return np.where(out < knee, knee + knee * np.tanh((out - knee) / knee), out)
