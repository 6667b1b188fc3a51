"""Textures on the pixel grid, each float32 of mean about 0 and spread about 1; sizes are in pixels."""

import cv2
import numpy as np


def _unit(map_: np.ndarray) -> np.ndarray:
    map_ = map_.astype(np.float32) - np.float32(map_.mean())
    return map_ / np.float32(max(map_.std(), 1e-6))


def value_noise(rng: np.random.Generator, shape: tuple[int, int], cell: float, octaves: int = 2, fall: float = 0.5) -> np.ndarray:
    """Random values on a coarse lattice of `cell` px, blended smoothly, finer and weaker in each octave."""
    total = np.zeros(shape, np.float32)
    for octave in range(octaves):
        size = max(cell / 2**octave, 1.0)
        rows, cols = (int(np.ceil(side / size)) + 3 for side in shape)
        lattice = rng.standard_normal((rows, cols), dtype=np.float32)
        # A random shift, so that lattice lines of the octaves never coincide.
        shift = rng.uniform(0.5, 1.5, 2)
        to_lattice = np.array([[1 / size, 0, shift[0]], [0, 1 / size, shift[1]]], np.float32)
        total += fall**octave * cv2.warpAffine(
            lattice, to_lattice, shape[::-1], flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REFLECT
        )
    return _unit(total)


def worley_cells(rng: np.random.Generator, shape: tuple[int, int], cell: float) -> np.ndarray:
    """Distance to the nearest of scattered seeds: rounded nodules with creases between them."""
    count = int(np.clip(shape[0] * shape[1] / max(cell, 2.5) ** 2, 4, 30000))
    seeds = np.ones(shape, np.uint8)
    seeds[rng.integers(0, shape[0], count), rng.integers(0, shape[1], count)] = 0
    return -_unit(np.sqrt(cv2.distanceTransform(seeds, cv2.DIST_L2, 3)))


def fibres(rng: np.random.Generator, shape: tuple[int, int], angle_deg: float, length: float, width: float) -> np.ndarray:
    """Value noise drawn out along a direction (degrees from the row, clockwise on the picture as rows run downwards)."""
    angle = np.deg2rad(angle_deg)
    span = int(np.hypot(*shape)) + 4
    rows, cols = int(span / max(width, 0.8)) + 4, int(span / max(length, 1.0)) + 4
    lattice = rng.standard_normal((rows, cols), dtype=np.float32)
    cos, sin = np.cos(angle), np.sin(angle)
    middle = np.array([shape[1] / 2, shape[0] / 2])
    turn = np.array([[cos / max(length, 1.0), sin / max(length, 1.0)], [-sin / max(width, 0.8), cos / max(width, 0.8)]])
    matrix = np.column_stack([turn, np.array([cols / 2, rows / 2]) - turn @ middle]).astype(np.float32)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return _unit(cv2.warpAffine(lattice, matrix, shape[::-1], flags=flags, borderMode=cv2.BORDER_REFLECT))


def labyrinth(rng: np.random.Generator, shape: tuple[int, int], spacing: float) -> np.ndarray:
    """Spots and worms of one spacing: white noise activated near and inhibited farther off, then saturated twice."""
    scale = max(spacing / 4, 1.0)
    small = tuple(int(np.ceil(side / scale)) + 1 for side in shape)
    state = rng.standard_normal(small, dtype=np.float32)
    for _ in range(3):
        state = cv2.GaussianBlur(state, (0, 0), 0.8) - cv2.GaussianBlur(state, (0, 0), 1.6)
        state = np.tanh(1.6 * state / max(float(state.std()), 1e-6))
    return _unit(cv2.resize(state, shape[::-1], interpolation=cv2.INTER_CUBIC))


def any_texture(rng: np.random.Generator, shape: tuple[int, int], size: float, angle_deg: float) -> np.ndarray:
    """One of the four by chance, grain `size` px."""
    size = max(size, 1.0)
    match rng.integers(4):
        case 0:
            return value_noise(rng, shape, size, 3, 0.7)
        case 1:
            return worley_cells(rng, shape, 1.5 * size)
        case 2:
            return fibres(rng, shape, angle_deg, size * rng.uniform(3, 15), size)
        case _:
            return labyrinth(rng, shape, 1.3 * size)
