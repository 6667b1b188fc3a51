"""The recorded picture: focus, astigmatism, stains, charging, line jitter, shot noise, and the operator's settings.

Shot noise is counted in electrons: N = i t / e, that is 6,242 a pixel for 100 pA over 10 µs; fast scans have some
hundred. Brightness and contrast are set as an operator does, so that few pixels clip.
"""

import cv2
import numpy as np

from .frames import Array, Rng, correlated


def _focus(rng: Rng, picture: Array) -> Array:
    """Round beam of 0.4–1 pixel, or out of focus in a seventh of fields, drawn out by astigmatism in some."""
    sigma = rng.uniform(0.35, 1.0) if rng.random() < 0.86 else rng.uniform(1.0, 1.6)
    if rng.random() > 0.15:
        return cv2.GaussianBlur(picture, (0, 0), sigma)
    long, turn = sigma * rng.uniform(1.3, 2.0), rng.uniform(0, np.pi)
    y, x = np.mgrid[-6:7, -6:7]
    u, v = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    kernel = np.exp(-0.5 * ((u / long) ** 2 + (v / sigma) ** 2))
    return cv2.filter2D(picture, -1, kernel / kernel.sum())


def _stains(rng: Rng, picture: Array) -> Array:
    """Oil and tribofilm patches of few per cent to a quarter, and slow shading."""
    shape = picture.shape
    if rng.random() < 0.25:
        patch = correlated(rng, shape, (min(shape) / rng.uniform(3, 9),) * 2)
        picture = picture * (1 - rng.uniform(0.05, 0.25) / (1 + np.exp(-(patch - rng.uniform(0.3, 1.5)) * 6)))
    shade = correlated(rng, shape, (min(shape) * 1.2,) * 2)
    return picture * (1 + rng.uniform(0, 0.07) * np.clip(shade, -2, 2))


def charging(rng: Rng, picture: Array, particles: Array) -> tuple[Array, Array]:
    """Bright trails along scan lines behind particles, and where they hide the surface."""
    hidden = np.zeros(picture.shape, bool)
    if rng.random() < 0.4 and particles.any():
        decay, strength = rng.uniform(15, 90), rng.uniform(0.3, 1.2)
        taps = np.exp(-np.arange(int(decay * 2.5), dtype=np.float32) / decay)[None, ::-1]
        taps = np.concatenate([taps, np.zeros_like(taps)[:, 1:]], 1) / decay
        trail = strength * np.minimum(cv2.filter2D(particles.astype(np.float32), -1, taps) * 4, 1)
        picture, hidden = picture + trail, trail > 0.6
    if rng.random() < 0.12:  # uneven bands from line to line
        picture = (
            picture + rng.uniform(0.01, 0.04) * correlated(rng, (picture.shape[0], 4), (rng.uniform(2, 12), 9))[:, :1]
        )
    return picture, hidden


def _jitter(rng: Rng, picture: Array) -> Array:
    """Lines shifted by a fraction of a pixel, in a sixth of fields."""
    if rng.random() > 0.17:
        return picture
    rows, cols = picture.shape
    shift = rng.normal(0, rng.uniform(0.1, 0.6), (rows, 1)).astype(np.float32)
    x = np.arange(cols, dtype=np.float32)[None] + shift
    y = np.broadcast_to(np.arange(rows, dtype=np.float32)[:, None], (rows, cols))
    return cv2.remap(picture, x, np.ascontiguousarray(y), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def recorded(rng: Rng, yielded: Array, particles: Array) -> tuple[Array, Array]:
    """The picture in 8 bits, and where charging hides the surface."""
    picture, hidden = charging(rng, _stains(rng, yielded), particles)
    picture = np.clip(_jitter(rng, _focus(rng, picture)), 0.02, None)
    electrons = np.exp(rng.uniform(np.log(70), np.log(6000)))
    picture = picture + np.sqrt(picture / electrons) * rng.standard_normal(picture.shape, dtype=np.float32)
    low, middle, high = np.percentile(picture[::3, ::3], (1.0, 50.0, 99.0))
    bottom, top = rng.uniform(5, 50), rng.uniform(185, 250)
    gain = min((top - bottom) / max(high - low, 0.12), rng.uniform(130, 420))
    centre = np.clip(rng.uniform(85, 150), bottom + gain * (middle - low), max(top - gain * (high - middle), 60))
    grey = np.clip((centre + gain * (picture - middle)) / 255, 0, 1)
    return np.round(255 * grey ** rng.uniform(0.85, 1.2)).astype(np.uint8), hidden
