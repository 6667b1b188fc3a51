"""From signal to grey levels: drift, focus, charging, shading, counts, gamma, 8 bit.

Drift moves truth and signal together, so that the mask stays on the picture's own pixel grid. Where charging or
white clipping hides the surface over an area, the truth becomes not assessed.
"""

import cv2
import numpy as np

from .scene import NOT_ASSESSED, FieldFacts, fractal


def expose(signal: np.ndarray, codes: np.ndarray, field: FieldFacts, rng: np.random.Generator):
    """Return (picture (rows, cols) uint8, codes (rows, cols) uint8)."""
    rows, cols = signal.shape
    signal, codes = _drift(signal, codes, rng)
    blur = float(rng.choice([rng.uniform(0.4, 0.9), rng.uniform(0.9, 1.6), rng.uniform(1.6, 2.4)], p=[0.55, 0.35, 0.1]))
    signal = cv2.GaussianBlur(signal, (0, 0), blur)
    sample = signal[::7, ::7]
    low, middle, high = np.percentile(sample, [2, 50, 98])
    spread = max(high - low, 0.3)  # an operator turns contrast up for a smooth field, but not without end
    contrast = rng.uniform(0.35, 0.85)
    level = rng.uniform(0.32, 0.58)
    picture = np.clip(level + contrast * (signal - middle) / spread, 0.01, 1.4)
    x = np.linspace(-1, 1, cols, dtype=np.float32)[None, :]
    y = np.linspace(-1, 1, rows, dtype=np.float32)[:, None]
    tilt, bowl = rng.normal(0, 0.06, 2), rng.normal(0, 0.05, 2)
    picture = picture * (1 + tilt[0] * x + tilt[1] * y + bowl[0] * x**2 + bowl[1] * y**2)
    if rng.random() < 0.18:
        picture = _charge(picture, codes, rng)
    electrons = float(np.exp(rng.uniform(np.log(60), np.log(1500)))) * field.finish.kv**0
    picture = rng.poisson(np.clip(picture, 0, None) * electrons).astype(np.float32) / electrons
    picture += rng.normal(0, rng.uniform(0.001, 0.008), (rows, 1)).astype(np.float32)  # line to line
    if rng.random() < 0.25:  # frame averaging leaves correlated noise
        picture = cv2.GaussianBlur(picture, (0, 0), 0.5)
    gamma = rng.uniform(0.75, 1.3)
    picture = np.clip(picture, 0, 1) ** gamma
    grey = np.rint(picture * 255).astype(np.uint8)
    bloom = cv2.morphologyEx((picture >= 0.999).astype(np.uint8), cv2.MORPH_OPEN, np.ones((15, 15), np.uint8))
    if bloom.any():
        codes = np.where(cv2.dilate(bloom, np.ones((5, 5), np.uint8)) > 0, NOT_ASSESSED, codes)
    return grey, codes.astype(np.uint8)


def _drift(signal, codes, rng):
    """Shear and slow sideways wander of the rows, the same for signal and truth."""
    rows, cols = signal.shape
    if rng.random() < 0.4:
        return signal, codes
    steps = np.cumsum(rng.normal(0, 0.03, rows))
    sideways = rng.normal(0, 2.0) * np.linspace(-0.5, 0.5, rows) + np.clip(steps - steps.mean(), -3, 3)
    map_col = (np.arange(cols, dtype=np.float32)[None, :] + sideways[:, None]).astype(np.float32)
    map_row = np.repeat(np.arange(rows, dtype=np.float32)[:, None], cols, axis=1)
    moved = cv2.remap(signal, map_col, map_row, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    return moved, cv2.remap(codes, map_col, map_row, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REFLECT)


def _charge(picture, codes, rng):
    """Bright or dark tails along the scan behind bright matter, or a slow glow; loose particles charge first."""
    rows, cols = picture.shape
    source = np.clip(picture - np.percentile(picture[::5, ::5], 97), 0, None) + 0.5 * (codes == NOT_ASSESSED)
    length = int(cols * rng.uniform(0.05, 0.2))
    kernel = np.exp(-np.arange(length, dtype=np.float32) / (length / 4))[None, ::-1]
    anchor = (length - 1, 0) if rng.random() < 0.8 else (0, 0)
    tail = cv2.filter2D(source.astype(np.float32), -1, np.ascontiguousarray(kernel / kernel.sum()), anchor=anchor)
    glow = np.clip(fractal((rows, cols), rng, slope=2.4, longest_px=rows) - 1.3, 0, None)
    return picture + rng.choice([-3, 5]) * tail + rng.uniform(0, 0.5) * glow
