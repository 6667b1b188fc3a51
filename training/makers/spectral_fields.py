"""Random fields the states and their textures are thresholded or drawn from. Lengths are in pixels, angles in degrees
from the row direction, counted towards larger row numbers."""

import cv2
import numpy as np
from scipy import fft


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def blur(image: np.ndarray, sigma: float) -> np.ndarray:
    if sigma < 0.15:
        return image
    step = int(min(sigma / 2.5, min(image.shape) / 8))
    if step < 2:
        return cv2.GaussianBlur(image, (0, 0), sigma, borderType=cv2.BORDER_REFLECT)
    size = image.shape[::-1]
    small = cv2.resize(image, (size[0] // step, size[1] // step), interpolation=cv2.INTER_AREA)
    return cv2.resize(blur(small, sigma / step), size, interpolation=cv2.INTER_LINEAR)


def frame(shape: tuple[int, int], angle: float, cell_u: float, cell_v: float) -> tuple[tuple[int, int], np.ndarray]:
    """Size (v cells, u cells) of a grid turned by `angle` that covers the picture, and the matrix from picture to grid."""
    rows, cols = shape
    t = np.deg2rad(angle)
    c, s = float(np.cos(t)), float(np.sin(t))
    n_u = int((abs(c) * cols + abs(s) * rows) / cell_u) + 6
    n_v = int((abs(s) * cols + abs(c) * rows) / cell_v) + 6
    x0, y0 = (cols - 1) / 2, (rows - 1) / 2
    to_grid = np.array(
        [
            [c / cell_u, s / cell_u, (n_u - 1) / 2 - (c * x0 + s * y0) / cell_u],
            [-s / cell_v, c / cell_v, (n_v - 1) / 2 + (s * x0 - c * y0) / cell_v],
        ]
    )
    return (n_v, n_u), to_grid


def warp(grid: np.ndarray, to_grid: np.ndarray, shape: tuple[int, int], how: int = cv2.INTER_LINEAR) -> np.ndarray:
    return cv2.warpAffine(
        grid, to_grid, (shape[1], shape[0]), flags=how | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REFLECT_101
    )


def stretched(
    rng: np.random.Generator, shape: tuple[int, int], along: float, across: float, angle: float = 0.0
) -> np.ndarray:
    """Gaussian field of about unit spread, correlation lengths `along` and `across` the direction `angle`."""
    size, to_grid = frame(shape, angle, max(0.8, along / 2), max(0.8, across / 2))
    grid = blur(rng.standard_normal(size, dtype=np.float32), 0.85)
    return warp(grid / 0.33, to_grid, shape, cv2.INTER_CUBIC)


def above(field: np.ndarray, share: float, within: np.ndarray | None = None) -> np.ndarray:
    """Bool map of the `share` highest pixels (of those `within`)."""
    sample = field[::5, ::5] if within is None else field[::3, ::3][within[::3, ::3]]
    if sample.size == 0 or share <= 0:
        return np.zeros(field.shape, bool)
    return field > np.quantile(sample, 1 - min(share, 1.0))


def texture(rng: np.random.Generator, shape: tuple[int, int], angle: float, *, streak: float) -> np.ndarray:
    """Field of unit spread from a randomly drawn spectrum: slope, band, orientation, skewness, modulation.
    `streak` 0 is isotropic; at 1 it is drawn out along `angle` by up to a factor of 40."""
    rows, cols = (fft.next_fast_len(min(n, 1024), real=True) for n in shape)
    fy, fx = fft.fftfreq(rows)[:, None].astype(np.float32), fft.rfftfreq(cols)[None, :].astype(np.float32)
    t = np.deg2rad(angle)
    stretch = 40.0 ** (streak * rng.uniform(0.5, 1.0))
    f_u, f_v = (fx * np.cos(t) + fy * np.sin(t)) * stretch, fy * np.cos(t) - fx * np.sin(t)
    f2 = (f_u * f_u + f_v * f_v).astype(np.float32)
    low, high = log_uniform(rng, 0.004, 0.08), log_uniform(rng, 0.05, 0.5)
    slope = rng.uniform(0.2, 1.6)
    gain = (f2 + np.float32(low * low)) ** np.float32(-slope / 2) * np.exp(-f2 / np.float32(2 * high * high))
    gain[0, 0] = 0
    white = fft.rfft2(rng.standard_normal((rows, cols), dtype=np.float32))
    field = fft.irfft2(white * gain.astype(np.float32), s=(rows, cols)).astype(np.float32)
    field /= field.std() + 1e-9
    skew = rng.choice([0, 1, 2], p=[0.45, 0.35, 0.2])
    if skew == 1:
        field = np.exp(np.float32(rng.uniform(0.3, 0.9)) * field) * np.float32(rng.choice([-1, 1]))
    elif skew == 2:
        field = np.abs(field) * np.float32(rng.choice([-1, 1]))
    pad = ((0, max(0, shape[0] - rows)), (0, max(0, shape[1] - cols)))
    field = np.pad(field, pad, mode="wrap")[: shape[0], : shape[1]]
    field = (field - field.mean()) / (field.std() + 1e-9)
    if rng.random() < 0.4:
        scale = log_uniform(rng, 15, 200)
        field = field * np.exp(0.5 * stretched(rng, shape, scale, scale))
    return np.clip(field, -3.5, 3.5).astype(np.float32)
