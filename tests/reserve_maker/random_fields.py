"""Random fields with a stated correlation length, made by interpolating coarse grids of normal numbers.

The value at each node is independent, so that the correlation falls to about nothing over one node distance. Sums over
octaves give a self-affine field (Mandelbrot's construction; amplitude grows as wavelength to the Hurst exponent).
"""

import cv2
import numpy as np


def smooth_noise(shape: tuple[int, int], lengths_px: tuple[float, float], rng: np.random.Generator) -> np.ndarray:
    """Return (rows, cols) float32 of mean 0 and standard deviation about 1, correlated over lengths_px (rows, cols)."""
    rows, cols = shape
    step_row, step_col = (length / 2 if length > 2 else max(1.0, length) for length in lengths_px)
    nodes = (int(np.ceil(rows / step_row)) + 8, int(np.ceil(cols / step_col)) + 8)
    grid = rng.standard_normal(nodes, dtype=np.float32)
    spread_row, spread_col = (0.9 if length > 2 else 0.01 for length in lengths_px)  # rounds the grid's corners off
    grid = cv2.GaussianBlur(grid, (0, 0), spread_col, sigmaY=spread_row)
    grid *= np.float32(np.sqrt((3.2 if lengths_px[0] > 2 else 1) * (3.2 if lengths_px[1] > 2 else 1)))
    shift_row, shift_col = rng.uniform(3.0, 4.0, 2)
    matrix = np.array([[1 / step_col, 0, shift_col], [0, 1 / step_row, shift_row]])
    field = cv2.warpAffine(grid, matrix, (cols, rows), flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP)
    spread = float(field.std()) if min(nodes) > 24 else 0.85
    return field / np.float32(max(spread, 0.3))


def fractal_noise(
    shape: tuple[int, int],
    longest_px: float,
    rng: np.random.Generator,
    *,
    octaves: int = 4,
    hurst: float = 0.7,
    stretch: float = 1.0,
) -> np.ndarray:
    """Return (rows, cols) float32 of mean 0, standard deviation about 1; stretch: column length over row length."""
    total = np.zeros(shape, np.float32)
    power = 0.0
    for octave in range(octaves):
        length = longest_px / 2**octave
        if octave and length < 1.0:
            break
        weight = 2.0 ** (-hurst * octave)
        total += np.float32(weight) * smooth_noise(shape, (length, length * stretch), rng)
        power += weight**2
    return total / np.float32(np.sqrt(power))


def line_noise(count: int, length: float, rng: np.random.Generator) -> np.ndarray:
    """Return (count,) float32 of mean 0 and standard deviation about 1, correlated over length samples."""
    nodes = int(np.ceil(count / max(1.0, length))) + 3
    values = rng.standard_normal(nodes)
    where = np.arange(count) / max(1.0, length) + rng.uniform(0, 1)
    index = where.astype(int)
    rest = where - index
    weight = rest * rest * (3 - 2 * rest)
    return (1.2 * (values[index] * (1 - weight) + values[index + 1] * weight)).astype(np.float32)


def ramp(values: np.ndarray, low: float, high: float) -> np.ndarray:
    """Return 0 below low, 1 above high and a smooth step between them."""
    part = np.clip((values - low) / (high - low), 0, 1)
    return part * part * (3 - 2 * part)


def log_uniform(low: float, high: float, rng: np.random.Generator) -> float:
    """Return a number whose logarithm is uniform between those of low and high."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))
