"""Turned coordinates and the noise that lies along them."""

import cv2
import numpy as np


def frame(shape: tuple[int, int], pixel_um: float, angle_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Distances along and across a direction from the middle of the field, µm, float32 (rows, cols); 90° runs down the columns."""
    rows, cols = shape
    y = ((np.arange(rows, dtype=np.float32) - (rows - 1) / 2) * pixel_um)[:, None]
    x = ((np.arange(cols, dtype=np.float32) - (cols - 1) / 2) * pixel_um)[None, :]
    cos, sin = np.float32(np.cos(np.radians(angle_deg))), np.float32(np.sin(np.radians(angle_deg)))
    return x * cos + y * sin, y * cos - x * sin


def cloud(rng: np.random.Generator, along: np.ndarray, across: np.ndarray, cells_um: tuple[float, float]) -> np.ndarray:
    """Smooth noise of mean 0 and spread 1, (rows, cols) float32: one draw a cell of cells_um (along, across)."""
    places = [(axis - axis.min()) / np.float32(cell) + 1 for axis, cell in zip((along, across), cells_um, strict=True)]
    sides = [int(min(place.max() + 3, 700)) for place in places]
    lattice = rng.standard_normal((sides[1], sides[0]), dtype=np.float32)
    # a cubic between lattice points keeps some 0.83 of their spread each way (mean of its squared weights)
    return cv2.remap(lattice, places[0], places[1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_WRAP) / np.float32(0.83)


def soft(map_: np.ndarray, sigma_um: float, pixel_um: float) -> np.ndarray:
    """A map smoothed by a Gaussian of sigma_um; wide ones on a smaller copy."""
    sigma = sigma_um / pixel_um
    if sigma > 8:
        small = cv2.resize(map_, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
        return cv2.resize(cv2.GaussianBlur(small, (0, 0), sigma / 4), map_.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return cv2.GaussianBlur(map_, (0, 0), sigma) if sigma > 0.3 else map_
