"""Electrons: how deep they go, how many come back, and what of them reaches the detector."""

import cv2
import numpy as np


def range_um(energy_kev: float, atomic_weight: float = 55.85, atomic_number: float = 26, density: float = 7.87) -> float:
    """Kanaya and Okayama's range of electrons in µm; the density in g/cm³; iron unless told."""
    return 0.0276 * atomic_weight * energy_kev**1.67 / (atomic_number**0.89 * density)


def backscattered(atomic_number: float) -> float:
    """Backscatter coefficient at normal incidence after Reuter's polynomial in the atomic number."""
    z = atomic_number
    return -0.0254 + 0.016 * z - 1.86e-4 * z**2 + 8.3e-7 * z**3


def gradient(height_um: np.ndarray, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Slopes right and down, 1."""
    scale = 1 / (2 * pixel_size_um)
    kernel = np.array([[-scale, 0, scale]], np.float32)
    return cv2.filter2D(height_um, -1, kernel), cv2.filter2D(height_um, -1, kernel.T)


def secant(slope_x: np.ndarray, slope_y: np.ndarray) -> np.ndarray:
    """1/cos of the angle between beam and surface normal, the beam falling straight down."""
    return np.sqrt(1 + slope_x**2 + slope_y**2)


def shadow(height_um: np.ndarray, pixel_size_um: float, azimuth_deg: float, elevation_deg: float, reach_px: float = 40) -> np.ndarray:
    """Share 0 to 1 of the straight way to the detector that ground nearer to it blocks; soft over a few degrees."""
    direction = np.array([np.cos(np.radians(azimuth_deg)), np.sin(np.radians(azimuth_deg))])
    horizon = np.full(height_um.shape, -1.0, np.float32)
    for distance in np.geomspace(1.5, reach_px, 12):
        move = np.float32([[1, 0, -distance * direction[0]], [0, 1, -distance * direction[1]]])
        moved = cv2.warpAffine(height_um, move, height_um.shape[::-1], borderMode=cv2.BORDER_REPLICATE)
        np.maximum(horizon, (moved - height_um) / np.float32(distance * pixel_size_um), out=horizon)
    low, high = np.tan(np.radians((elevation_deg - 4, elevation_deg + 4)))
    return np.clip((horizon - low) / (high - low), 0, 1)


def starved(height_um: np.ndarray, pixel_size_um: float, scale_um: float) -> np.ndarray:
    """How far ground lies below its surroundings for its distance to them, 0 on open land; slow electrons don't get out."""
    sigma = max(scale_um / pixel_size_um, 1.5)
    # The surroundings are wide: blurred on a smaller picture for speed.
    factor = max(1, int(sigma / 3))
    small = cv2.resize(height_um, None, fx=1 / factor, fy=1 / factor, interpolation=cv2.INTER_AREA)
    wide = cv2.resize(cv2.GaussianBlur(small, (0, 0), sigma / factor), height_um.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return np.clip((wide - height_um) / (0.25 * scale_um), 0, 2)


def edges(height_um: np.ndarray, pixel_size_um: float, reach_um: float) -> np.ndarray:
    """Brightness of rims and thin flaps, through both of whose sides electrons leave: ground above its near surroundings."""
    sigma = float(np.clip(reach_um / pixel_size_um, 0.8, 6))
    return np.clip((height_um - cv2.GaussianBlur(height_um, (0, 0), sigma)) / (sigma * pixel_size_um), 0, 0.6)


def pencil(picture: np.ndarray, width_px: float, tail_px: float, tail_share: float, stretch: float, axis_deg: float) -> np.ndarray:
    """Picture seen by a beam of width_px (standard deviation), longer by `stretch` along an axis (astigmatism), with tails."""
    half = int(np.ceil(3 * width_px * stretch)) + 1
    y, x = np.mgrid[-half : half + 1, -half : half + 1].astype(np.float32)
    angle = np.radians(axis_deg)
    u, v = x * np.cos(angle) + y * np.sin(angle), y * np.cos(angle) - x * np.sin(angle)
    core = np.exp(-0.5 * ((u / (width_px * stretch)) ** 2 + (v / width_px) ** 2))
    sharp = cv2.filter2D(picture, -1, core / core.sum(), borderType=cv2.BORDER_REFLECT)
    return (1 - tail_share) * sharp + tail_share * cv2.GaussianBlur(picture, (0, 0), tail_px)
