"""Electrons from a relief: slope, the detector's side and shadows, glowing edges, starved grooves, matter.

All of them are known effects (tests/SOURCES.md, Secondary-electron picture); how strong each is, and the widths in pixels over
which it works, are common practice, no source.
"""

import cv2
import numpy as np

from tests.session_maker.instrument import Instrument
from tests.session_maker.noise import blur

EDGE_WIDTHS_PX = ((1.2, 1.6), (3.0, 1.0))
"""Width of an edge, and how steeply its glow saturates."""

STARVED_WIDTHS_PX = (5, 14)
SHADOW_REACHES_PX = (2, 4, 7, 12)
HAZE_PX = 12
LEAST_MATTER, MOST_MATTER = 0.05, 2
BRIGHT = 1.2
"""Signal, of a level surface's, from which the chain begins to level off."""


def electrons(heights: np.ndarray, brightness: np.ndarray, pixel_size_um: float, own: Instrument) -> np.ndarray:
    """Return the electrons that reach the detector, (rows, cols) float, about 1 on a level surface of bare iron.

    heights: (rows, cols) µm; brightness: of the matter, (rows, cols), 1 for bare iron.
    """
    z = blur((heights / pixel_size_um).astype(np.float32), own.volume_px)
    slope_x = cv2.Sobel(z, cv2.CV_32F, 1, 0, ksize=3) / 8
    slope_y = cv2.Sobel(z, cv2.CV_32F, 0, 1, ksize=3) / 8
    azimuth = np.deg2rad(own.azimuth_deg)
    towards_x, towards_y = np.cos(azimuth), -np.sin(azimuth)
    facing = -(slope_x * towards_x + slope_y * towards_y)
    signal = 1 + own.secant * ((1 + slope_x * slope_x + slope_y * slope_y) ** (0.5 * own.exponent) - 1)
    signal = signal + own.side * np.tanh(1.6 * facing)
    for width_px, steep in EDGE_WIDTHS_PX:
        standing_out = z - blur(z, width_px + own.escape_px)
        signal = signal + own.edge * np.clip(np.tanh(steep * standing_out), -0.25, 1)
    signal = signal * (own.darkest + (1 - own.darkest) * np.exp(-own.starve * _sunk(z)))
    if own.shadow > 0:
        signal = signal * (1 - own.shadow * _shadows(z, towards_x, towards_y, own.horizon))
    signal = np.clip(signal, 0.02, None) * np.clip(brightness, LEAST_MATTER, MOST_MATTER) ** own.matter
    levelled = BRIGHT + own.ceiling * np.tanh((signal - BRIGHT) / own.ceiling)
    signal = np.where(signal > BRIGHT, levelled, signal)
    signal += own.haze * (blur(signal, HAZE_PX) - signal)
    rows, cols = signal.shape
    down, across = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : cols * 1j].astype(np.float32)
    tilted = own.shading[0] * across + own.shading[1] * down
    outwards = own.shading[2] * (across * across + down * down - 0.6)
    signal = signal * (1 + tilted + outwards)
    return blur(signal.astype(np.float32), own.probe_px)


def _sunk(z: np.ndarray) -> np.ndarray:
    """Return how deep each pixel lies below what is around it, (rows, cols), as a slope."""
    sunk = np.zeros_like(z)
    for width_px in STARVED_WIDTHS_PX:
        sunk += np.clip(blur(z, width_px) - z, 0, None) / width_px
    return sunk


def _shadows(z: np.ndarray, towards_x: float, towards_y: float, horizon: float) -> np.ndarray:
    """Return where what stands towards the detector hides a pixel, (rows, cols) 0-1."""
    rise = np.zeros_like(z)
    for reach_px in SHADOW_REACHES_PX:
        there = _shifted(z, -reach_px * towards_x, -reach_px * towards_y)
        rise = np.maximum(rise, (there - z) / reach_px - horizon)
    return blur(np.clip(rise * 2.2, 0, 1), 0.8)


def _shifted(a: np.ndarray, right_px: float, down_px: float) -> np.ndarray:
    """Return ``a`` (rows, cols) moved; its border is repeated."""
    matrix = np.array([[1, 0, right_px], [0, 1, down_px]], np.float32)
    size = (a.shape[1], a.shape[0])
    return cv2.warpAffine(a, matrix, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
