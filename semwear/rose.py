"""Roses: how much of something runs along each direction, as an array over undirected lines, and the peaks of one.

Entry i of a rose stands for lines along i / BINS_PER_DEGREE degrees in [0, 180), anticlockwise from a picture's rows.
"""

import numpy as np

BINS_PER_DEGREE = 4
"""Directions in a rose per degree."""


def smoothed(rose: np.ndarray, deviation_deg: float) -> np.ndarray:
    """Return a rose smoothed over directions by a Gaussian of that standard deviation, degrees."""
    deviation = deviation_deg * BINS_PER_DEGREE
    reach = round(4 * deviation)
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / deviation) ** 2)
    return np.convolve(np.concatenate([rose[-reach:], rose, rose[:reach]]), kernel / kernel.sum(), mode="valid")


def entries_near(rose: np.ndarray, direction_deg: float, tolerance_deg: float) -> np.ndarray:
    """Return the entries of a rose within a tolerance of a direction, in their order."""
    reach = round(tolerance_deg * BINS_PER_DEGREE)
    return (round(direction_deg * BINS_PER_DEGREE) + np.arange(-reach, reach + 1)) % rose.size


def beside(rose: np.ndarray, index: int, distance_deg: float) -> float:
    """Return the mean of a rose at a distance on both sides of one of its entries."""
    step = round(distance_deg * BINS_PER_DEGREE)
    return float(rose[(index - step) % rose.size] + rose[(index + step) % rose.size]) / 2.0


def tops(rose: np.ndarray, *, reach_deg: float, height_min: float, beside_deg: float, narrowness_min: float) -> list[int]:
    """Return the entries that are the highest within reach, high, and so many times as high as the rose beside them."""
    reach = round(reach_deg * BINS_PER_DEGREE)
    around = np.concatenate([rose[-reach:], rose, rose[:reach]])
    highest = np.lib.stride_tricks.sliding_window_view(around, 2 * reach + 1).max(axis=1)
    high = np.flatnonzero((rose == highest) & (rose >= height_min))
    return [int(index) for index in high if rose[index] >= narrowness_min * beside(rose, index, beside_deg)]


def quarters(shape: tuple[int, int]) -> list[tuple[slice, slice]]:
    """Return the slices (rows, cols) of the four quarters of a picture."""
    rows, cols = (side // 2 for side in shape)
    return [(row, col) for row in (slice(0, rows), slice(rows, None)) for col in (slice(0, cols), slice(cols, None))]
