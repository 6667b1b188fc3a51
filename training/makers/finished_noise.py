"""Random fields that textures, stains and wandering edges are drawn from. Lengths in µm, arrays float32 of unit variance."""

import cv2
import numpy as np


def smooth_field(rng: np.random.Generator, shape: tuple[int, int], cell_um: float, pixel_size_um: float) -> np.ndarray:
    """Return (rows, cols) float32, mean 0 and variance about 1, that changes over some ``cell_um`` in every direction."""
    cell_px = max(1.0, cell_um / pixel_size_um)
    rows, cols = (int(np.ceil(side / cell_px)) + 3 for side in shape)
    coarse = rng.standard_normal((rows, cols), dtype=np.float32)
    if cell_px == 1.0:
        return np.ascontiguousarray(coarse[: shape[0], : shape[1]])
    shift_row, shift_col = rng.random(2)
    matrix = np.array([[1 / cell_px, 0, shift_col + 0.5], [0, 1 / cell_px, shift_row + 0.5]])
    field = cv2.warpAffine(
        coarse, matrix, shape[::-1], flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REFLECT
    )
    return field * np.float32(1.25)


def striped_field(
    rng: np.random.Generator,
    shape: tuple[int, int],
    direction_deg: float,
    *,
    across_um: float,
    along_um: float,
    pixel_size_um: float,
) -> np.ndarray:
    """Return (rows, cols) float32, variance about 1, with streaks of width ``across_um`` and length ``along_um`` that run
    at ``direction_deg`` (anticlockwise from the rows)."""
    across_px, along_px = max(1.0, across_um / pixel_size_um), max(1.5, along_um / pixel_size_um)
    side = float(np.hypot(*shape)) + 4
    rows, cols = int(side / across_px) + 4, int(side / along_px) + 4
    coarse = rng.standard_normal((rows, cols), dtype=np.float32)
    cosine, sine = np.cos(np.radians(direction_deg)), np.sin(np.radians(direction_deg))
    middle_row, middle_col = shape[0] / 2, shape[1] / 2
    turn = np.array([[cosine, -sine], [sine, cosine]]) / np.array([[along_px], [across_px]])
    offset = np.array([cols / 2, rows / 2]) + rng.random(2) - turn @ np.array([middle_col, middle_row])
    matrix = np.column_stack([turn, offset])
    field = cv2.warpAffine(
        coarse, matrix, shape[::-1], flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_WRAP
    )
    return field * np.float32(1.4)


def bent(rng: np.random.Generator, field: np.ndarray, by_um: float, cell_um: float, pixel_size_um: float) -> np.ndarray:
    """Return a field whose streaks bend sideways by some ``by_um`` within ``cell_um``."""
    rows, cols = np.indices(field.shape, dtype=np.float32)
    by_px = np.float32(by_um / pixel_size_um)
    rows += by_px * smooth_field(rng, field.shape, cell_um, pixel_size_um)
    cols += by_px * smooth_field(rng, field.shape, cell_um, pixel_size_um)
    return cv2.remap(field, cols, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)


def cloudy_field(rng: np.random.Generator, shape: tuple[int, int], cell_um: float, pixel_size_um: float) -> np.ndarray:
    """Return a smooth field with finer and weaker fields upon it, as clouds have, variance about 1."""
    cells_um = [cell_um / 2.3**number for number in range(4) if number == 0 or cell_um / 2.3**number > 2 * pixel_size_um]
    octaves = (smooth_field(rng, shape, cell, pixel_size_um) * 0.55**number for number, cell in enumerate(cells_um))
    return sum(octaves) * np.float32(0.8)


def wander(rng: np.random.Generator, count: int, cells: float) -> np.ndarray:
    """Return (count,) float64, variance about 1: a line that wanders some ``cells`` times over its length."""
    knots = rng.standard_normal(max(4, int(cells) + 3))
    return np.interp(np.linspace(0, len(knots) - 1, count), np.arange(len(knots)), knots) * 1.25


def grown(values: np.ndarray, reach_um: float, pixel_size_um: float) -> np.ndarray:
    """Return a map blurred by a Gaussian of standard deviation ``reach_um``; on a smaller grid where that is wide."""
    sigma_px = reach_um / pixel_size_um
    if sigma_px < 0.25:
        return values
    shrink = max(1, int(sigma_px / 3))
    if shrink == 1:
        return cv2.GaussianBlur(values, (0, 0), sigma_px, borderType=cv2.BORDER_REFLECT)
    small = cv2.resize(values, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), sigma_px / shrink, borderType=cv2.BORDER_REFLECT)
    return cv2.resize(small, values.shape[::-1], interpolation=cv2.INTER_LINEAR)
