"""Plain random draws and noise textures; lengths in pixels unless the name says otherwise, angles in degrees."""

import math

import cv2
import numpy as np


def between(rng: np.random.Generator, low: float, high: float) -> float:
    """Log-uniform between two positive bounds, whose unit it keeps."""
    return float(math.exp(rng.uniform(math.log(low), math.log(max(high, low)))))


def chance(rng: np.random.Generator, share: float) -> bool:
    return bool(rng.random() < share)


def unit(field: np.ndarray) -> np.ndarray:
    """Zero mean, unit standard deviation, no unit."""
    return ((field - field.mean()) / (field.std() + 1e-6)).astype(np.float32)


def grain(rng: np.random.Generator, shape: tuple[int, int], size: float) -> np.ndarray:
    """Noise blurred to blobs of about `size` pixels, unit variance."""
    # coarse noise is drawn small and blown up: a wide blur on the full grid would cost most of the time
    step = max(1, int(size / 1.5))
    small = rng.standard_normal((shape[0] // step + 5, shape[1] // step + 5), dtype=np.float32)
    small = cv2.GaussianBlur(small, (0, 0), max(0.3, size / step))
    if step > 1:
        small = cv2.resize(small, None, fx=step, fy=step, interpolation=cv2.INTER_CUBIC)
    return unit(small[: shape[0], : shape[1]])


def streaks(rng: np.random.Generator, shape: tuple[int, int], angle_deg: float, long: float, across: float) -> np.ndarray:
    """Noise stretched to `long` pixels along `angle_deg` (from the rows' direction) and `across` pixels across it."""
    reach = math.hypot(*shape) / 2
    long, across = max(long, 1.0), max(across, 1.0)
    small = rng.standard_normal((int(2 * reach / across) + 9, int(2 * reach / long) + 9), dtype=np.float32)
    small = cv2.GaussianBlur(small, (0, 0), 0.8)
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    middle_y, middle_x = shape[0] / 2, shape[1] / 2
    u, v = np.array([c, s]) / long, np.array([-s, c]) / across
    to_small = np.array(
        [
            [u[0], u[1], small.shape[1] / 2 - u[0] * middle_x - u[1] * middle_y],
            [v[0], v[1], small.shape[0] / 2 - v[0] * middle_x - v[1] * middle_y],
        ]
    )
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    return unit(cv2.warpAffine(small, to_small, (shape[1], shape[0]), flags=flags, borderMode=cv2.BORDER_REFLECT))


def wander(rng: np.random.Generator, count: int, smooth: float) -> np.ndarray:
    """A smooth random course of `count` points, unit standard deviation, `smooth` points to a bend."""
    knots = rng.standard_normal(max(3, int(count / max(smooth, 1.0)) + 3))
    return np.interp(np.linspace(0, len(knots) - 1, count), np.arange(len(knots)), knots)


def blob(rng: np.random.Generator, centre: tuple[float, float], long: float, across: float, angle_deg: float, rough: float) -> np.ndarray:
    """An irregular closed outline (n, 2), x and y in pixels, half axes `long` and `across`; rough 0–0.5."""
    turn = np.linspace(0, 2 * np.pi, 26, endpoint=False)
    knots = rng.uniform(-1, 1, 26)
    # neighbours averaged: broken bits are angular, not stars
    radius = 1 + rough * (knots + np.roll(knots, 1) + 0.5 * np.roll(knots, 2)) / 1.6
    a, b = long * radius * np.cos(turn), across * radius * np.sin(turn)
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return np.stack([centre[0] + c * a - s * b, centre[1] + s * a + c * b], axis=1)


def fill(canvas: np.ndarray, outline: np.ndarray, value: float) -> None:
    """Paint a closed outline of x and y in pixels, to an eighth of a pixel."""
    cv2.fillPoly(canvas, [np.round(outline * 8).astype(np.int32)], value, shift=3)


def ragged(rng: np.random.Generator, field: np.ndarray, size: float, reach: float) -> np.ndarray:
    """The field with its edges pushed about by `reach` pixels (standard deviation) in bends of `size` pixels."""
    rows, cols = field.shape
    x = np.arange(cols, dtype=np.float32)[None, :] + reach * grain(rng, field.shape, size)
    y = np.arange(rows, dtype=np.float32)[:, None] + reach * grain(rng, field.shape, size)
    return cv2.remap(field, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
