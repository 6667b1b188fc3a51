"""From signal to picture: beam, drift, line jitter, shot noise, gain, gamma and compression."""

import cv2
import numpy as np

from .fields import blur, cloud, line_noise, log_uniform, white


def record(rng, signal):
    """uint8 picture of a signal around 1."""
    shape = signal.shape
    signal = blur(signal, log_uniform(rng, 0.35, 1.6))
    signal = signal * (1 + rng.uniform(0, 0.12) * cloud(rng, shape, min(shape) * rng.uniform(0.5, 1.2)))
    signal = signal * (1 + log_uniform(rng, 0.001, 0.02) * line_noise(rng, shape[0], rng.uniform(1, 30))[:, None])
    if rng.uniform() < 0.3:
        x = np.arange(shape[1], dtype=np.float32)[None] + log_uniform(rng, 0.1, 0.7) * white(rng, (shape[0], 1))
        rows = np.repeat(np.arange(shape[0], dtype=np.float32)[:, None], shape[1], 1)
        signal = cv2.remap(signal, x, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    dose = log_uniform(rng, 60, 4000)
    signal = np.maximum(signal, 0)
    low, middle, high = np.quantile(signal[::3, ::3], (0.004, 0.5, rng.uniform(0.94, 0.996)))
    noise = white(rng, shape) * np.sqrt((signal + 0.05) / dose)
    if rng.uniform() < 0.4:
        noise = blur(noise, rng.uniform(0.4, 0.8))
    # a flat scene is not stretched to black and white: the operator leaves room
    span = max(high - low, log_uniform(rng, 0.2, 0.5)) * rng.uniform(1.05, 1.7)
    grey = (signal + noise - low) / span + rng.uniform(0.02, 0.22)
    # the amplifier bends over above its knee, so bright edges don't run into white
    knee = float(np.clip((middle - low) / span + 0.3, 0.6, 0.8))
    grey = np.where(grey > knee, knee + (1 - knee) * np.tanh((grey - knee) / (1.6 * (1 - knee))), grey)
    grey = np.clip(grey, 0, 1) ** log_uniform(rng, 0.65, 1.4)
    picture = np.clip(255 * grey + 0.5, 0, 255).astype(np.uint8)
    if rng.uniform() < 0.3:
        code = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(45, 95))])[1]
        picture = cv2.imdecode(code, cv2.IMREAD_GRAYSCALE)
    return picture
