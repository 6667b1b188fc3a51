"""From grey over the plateau's mean to the 8-bit picture: beam, drift, line jitter, shot noise, setting, JPEG."""

import cv2
import numpy as np

from .draws import between, chance, grain


def shot_noise(rng: np.random.Generator, grey: np.ndarray, electrons: float) -> np.ndarray:
    """Counting noise at `electrons` a pixel of grey 1; relative spread 1/√N there."""
    # counts are high enough for the normal law, which is drawn faster than Poisson's
    spread = np.sqrt(np.maximum(grey, 0.02) / electrons).astype(np.float32)
    return grey + spread * rng.standard_normal(grey.shape, dtype=np.float32)


def jitter(rng: np.random.Generator, grey: np.ndarray, pixels: float) -> np.ndarray:
    """Every line shifted by its own fraction of a pixel."""
    rows, cols = grey.shape
    shift = (rng.normal(0, pixels, rows)).astype(np.float32)
    x = np.arange(cols, dtype=np.float32)[None, :] + shift[:, None]
    y = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, axis=1)
    return cv2.remap(grey, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)


def drift(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Slow shading, a factor about 1: a ramp and a wide cloud, and lines that differ a little."""
    y, x = np.mgrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j].astype(np.float32)
    strength = between(rng, 0.005, 0.15)
    ramp = rng.uniform(-1, 1) * x + rng.uniform(-1, 1) * y + 0.4 * grain(rng, shape, 0.4 * min(shape))
    lines = between(rng, 0.001, 0.012) * rng.standard_normal((shape[0], 1))
    return (1 + strength * ramp + lines).astype(np.float32)


def picture(rng: np.random.Generator, grey: np.ndarray) -> np.ndarray:
    """The micrograph, uint8."""
    grey = np.maximum(grey, 0.02).astype(np.float32)
    grey = cv2.GaussianBlur(grey, (0, 0), between(rng, 0.4, 1.7)) * drift(rng, grey.shape)
    if chance(rng, 0.3):
        grey = jitter(rng, grey, between(rng, 0.1, 0.8))
    grey = shot_noise(rng, grey, between(rng, 60, 8000))
    if chance(rng, 0.4):
        # a slow amplifier or a frame average ties neighbours together
        grey = cv2.GaussianBlur(grey, (0, 0), rng.uniform(0.4, 0.8))
    low, middle, high = np.percentile(grey[::3, ::3], [0.7, 50, 99.3])
    grey = np.sign(grey - middle) * np.abs(grey - middle) / max(high - low, 0.05)
    span = rng.uniform(70, 215)
    centre = rng.uniform(0.5 * span, 255 - 0.5 * span) + span * ((middle - low) / max(high - low, 0.05) - 0.5)
    scaled = np.clip((centre + span * grey) / 255, 0, 1) ** between(rng, 0.75, 1.35)
    image = np.round(255 * scaled).astype(np.uint8)
    if chance(rng, 0.25):
        _, coded = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 96))])
        image = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    return image
