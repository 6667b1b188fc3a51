"""Random fields and lines that everything else is built from; lengths in px, angles in radians from the x axis towards y."""

import cv2
import numpy as np

cv2.setNumThreads(1)


def log_uniform(rng, low, high):
    """A number between low and high, even on a log scale."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def white(rng, shape):
    """White noise of unit variance."""
    return rng.standard_normal(shape, dtype=np.float32)


def streaks(rng, shape, angle, length, width):
    """Unit-variance noise with grains `length` px long at `angle` and `width` px across."""
    length, width = max(float(length), 1.0), max(float(width), 1.0)
    half = 0.5 * float(np.hypot(*shape)) + 2
    rows, cols = int(2 * half / width) + 6, int(2 * half / length) + 6
    grid = white(rng, (rows, cols))
    c, s = np.cos(angle), np.sin(angle)
    # field pixel -> grid cell; the random offset keeps nodes from standing at the field's centre
    turn = np.array([[c / length, s / length], [-s / width, c / width]])
    centre = np.array([shape[1], shape[0]]) / 2
    shift = np.array([cols, rows]) / 2 - turn @ centre + rng.uniform(-0.5, 0.5, 2)
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    field = cv2.warpAffine(grid, np.c_[turn, shift], (shape[1], shape[0]), flags=flags, borderMode=cv2.BORDER_REFLECT_101)
    return field / np.float32(field.std() + 0.05)


def cloud(rng, shape, scale):
    """Unit-variance noise without direction, grains of `scale` px."""
    return streaks(rng, shape, rng.uniform(0, np.pi), scale, scale)


def rough(rng, shape, scale, octaves=3):
    """Noise with grains from `scale` px downwards, each octave 0.6 of the one above."""
    total = sum(0.6**k * cloud(rng, shape, scale / 2**k) for k in range(octaves) if k == 0 or scale / 2**k >= 1)
    return total / np.float32(total.std() + 1e-6)


def line_noise(rng, count, scale):
    """Unit-variance noise along a line of `count` px, correlated over `scale` px."""
    knots = rng.standard_normal(int(count / max(scale, 1)) + 4)
    where = np.arange(count) / max(scale, 1) + rng.uniform(0, 1)
    low = where.astype(int)
    t = where - low
    t = t * t * (3 - 2 * t)
    return (knots[low] * (1 - t) + knots[low + 1] * t).astype(np.float32)


def ramp(x, low, high):
    """0 below low, 1 above high, smooth between."""
    t = np.clip((x - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


def blur(field, sigma):
    """Gaussian blur by `sigma` px; wide ones go over a smaller grid, which nobody sees and costs far less."""
    if sigma < 0.3:
        return field
    if sigma > 6:
        step = sigma / 3
        small = cv2.resize(field, None, fx=1 / step, fy=1 / step, interpolation=cv2.INTER_AREA)
        return cv2.resize(cv2.GaussianBlur(small, (0, 0), 3), field.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return cv2.GaussianBlur(field, (0, 0), float(sigma))


def along(shape, angle):
    """Position along `angle` and across it, px from the field's centre."""
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    x, y = x - shape[1] / 2, y - shape[0] / 2
    c, s = np.float32(np.cos(angle)), np.float32(np.sin(angle))
    return x * c + y * s, y * c - x * s
