"""Patches of texture, each grey with mean 0 and standard deviation about 1; lengths in pixels, angles in radians (x right, y down)."""

import cv2
import numpy as np
from scipy import fft


def loguniform(rng: np.random.Generator, low: float, high: float) -> float:
    """One value between low and high, any unit, even in its logarithm."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def standard(field: np.ndarray) -> np.ndarray:
    """The field shifted and scaled to mean 0, deviation 1."""
    return ((field - field.mean()) / (field.std() + 1e-6)).astype(np.float32)


def filtered(rng: np.random.Generator, shape: tuple[int, int], along: float, across: float | None = None,
             angle: float = 0.0, tail: float = 0.0) -> np.ndarray:
    """White noise passed through a Gaussian of lengths along and across (pixels) turned by angle; with tail > 0 the
    spectrum falls as a power (exponent tail) beyond the corner instead, which leaves crisp detail on soft patches."""
    across = along if across is None else across
    # grown on a larger sheet and cut, or the opposite borders of a picture would match
    rows, cols = (fft.next_fast_len(n + int(min(3 * max(along, across), 40)), real=True) for n in shape)
    noise = rng.standard_normal((rows, cols), dtype=np.float32)
    fy = fft.fftfreq(rows).astype(np.float32)[:, None]
    fx = fft.rfftfreq(cols).astype(np.float32)[None, :]
    c, s = np.float32(np.cos(angle)), np.float32(np.sin(angle))
    radius = (2 * np.pi) ** 2 * ((along * (c * fx + s * fy)) ** 2 + (across * (c * fy - s * fx)) ** 2)
    gain = (1 + radius) ** np.float32(-tail / 2) if tail else np.exp(-0.5 * radius)
    gain[0, 0] = 0
    return standard(fft.irfft2(fft.rfft2(noise) * gain, s=(rows, cols))[:shape[0], :shape[1]])


def wave(rng: np.random.Generator, count: int, smooth: float) -> np.ndarray:
    """A line of count samples of noise smoothed over smooth samples, deviation 1."""
    knots = max(int(count / max(smooth, 1.0)) + 3, 4)
    values = rng.standard_normal(knots)
    place = np.linspace(0, knots - 1.001, count)
    left = place.astype(int)
    t = place - left
    t = t * t * (3 - 2 * t)  # no corners at the knots
    return values[left] * (1 - t) + values[left + 1] * t


def cells(rng: np.random.Generator, shape: tuple[int, int], size: float, stretch: float = 1.0, angle: float = 0.0) -> np.ndarray:
    """Crumbs: flat facets with dark joints, about size pixels wide and stretched along angle."""
    a = filtered(rng, shape, size * stretch * 0.6, size * 0.6, angle)
    b = filtered(rng, shape, size * stretch * 0.5, size * 0.5, angle)
    joints = np.minimum(np.abs(a), np.abs(b))
    facets = np.floor(a * 2.0) * 0.35 + np.sign(b) * 0.3
    return standard(np.minimum(joints, 0.5) * 3 + facets)


def strokes(rng: np.random.Generator, shape: tuple[int, int], angles: np.ndarray, length: tuple[float, float],
            width: tuple[float, float]) -> np.ndarray:
    """Brush lines, one for each angle, lengths and widths in pixels (log-uniform); light and dark, signed, up to about 1."""
    rows, cols = shape
    light, dark = np.zeros(shape, np.uint8), np.zeros(shape, np.uint8)
    for angle in angles:
        long, thick = loguniform(rng, *length), loguniform(rng, *width)
        x, y = rng.uniform(-0.1, 1.1) * cols, rng.uniform(-0.1, 1.1) * rows
        dx, dy = np.cos(angle) * long / 2, np.sin(angle) * long / 2
        ends = [(int(16 * (x - dx)), int(16 * (y - dy))), (int(16 * (x + dx)), int(16 * (y + dy)))]
        # a line thinner than a pixel can only be drawn one pixel wide, so it is drawn weaker
        grey = int(rng.uniform(60, 255) * min(thick, 1.0))
        sheet = light if rng.random() < 0.45 else dark
        cv2.line(sheet, *ends, grey, max(round(thick), 1), cv2.LINE_AA, 4)
    return (light.astype(np.float32) - dark) / 255
