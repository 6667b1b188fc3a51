"""Gaussian random fields stretched along a direction, with unit variance; lengths in px, angles in degrees from the rows."""

import cv2
import numpy as np

_BLUR = 1.6  # samples; wide enough for interpolation to follow


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """A number between low and high, even in its logarithm; in the unit of its bounds."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def smooth_step(value: np.ndarray, low: float, high: float) -> np.ndarray:
    """0 below low, 1 above high, without a kink between; unit of value as that of its bounds."""
    t = np.clip((value - low) / max(high - low, 1e-6), 0, 1)
    return t * t * (3 - 2 * t)


def stretched(
    rng: np.random.Generator,
    shape: tuple[int, int],
    *,
    angle_deg: float,
    long_px: float,
    short_px: float,
    bend: np.ndarray | None = None,
) -> np.ndarray:
    """A random field with correlation lengths long_px along angle_deg and short_px across it; bend (px) shifts it across.

    Drawn in the turned frame and sampled from there: filtering on the picture's own periodic grid would leave only
    those directions that close on themselves.
    """
    rows, cols = shape
    steps = max(long_px / _BLUR, 0.5), max(short_px / _BLUR, 0.5)
    reach = float(np.hypot(rows, cols)) + (0.0 if bend is None else 2 * float(np.abs(bend).max()))
    size = tuple(int(np.ceil(reach / step)) + 12 for step in steps)
    noise = rng.standard_normal(size[::-1], dtype=np.float32)
    noise = cv2.GaussianBlur(noise, (0, 0), _BLUR) * np.float32(2 * np.sqrt(np.pi) * _BLUR)
    turn = np.deg2rad(angle_deg)
    x = np.arange(cols, dtype=np.float32)[None, :] - cols / 2
    y = np.arange(rows, dtype=np.float32)[:, None] - rows / 2
    along = (x * np.cos(turn) + y * np.sin(turn)) / steps[0] + size[0] / 2
    across = y * np.cos(turn) - x * np.sin(turn)
    if bend is not None:
        across = across + bend
    across = across / steps[1] + size[1] / 2
    # Far-apart samples would leave facets in level lines, so only the close ones are joined by straight lines.
    way = cv2.INTER_CUBIC if steps[1] > 4 else cv2.INTER_LINEAR
    return cv2.remap(noise, along.astype(np.float32), across.astype(np.float32), way, borderMode=cv2.BORDER_REFLECT)


def even(rng: np.random.Generator, shape: tuple[int, int], length_px: float) -> np.ndarray:
    """A random field with the same correlation length (px) all ways."""
    return stretched(rng, shape, angle_deg=0.0, long_px=length_px, short_px=length_px)


def above(field: np.ndarray, share: float) -> float:
    """The level that about this share of a field lies above; in the field's unit."""
    return float(np.quantile(field[::3, ::3], 1 - np.clip(share, 0, 1)))
