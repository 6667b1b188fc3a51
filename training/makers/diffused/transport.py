"""Electrons in and out: range, backscatter, yield on slopes, the horizon that a detector sees over."""

import cv2
import numpy as np

IRON = {"weight": 55.85, "number": 26.0, "density": 7.87}
CARBON_NUMBER, OXIDE_NUMBER = 6.0, 21.0
"""Carbon, and magnetite's mean atomic number by mass."""


def range_um(energy_kv: float, *, weight: float, number: float, density: float) -> float:
    """Range (µm) of electrons of energy_kv in a material of atomic weight, number and density (g/cm³): Kanaya and Okayama 1972."""
    return 0.0276 * weight * energy_kv**1.67 / (number**0.89 * density)


def backscattered(number: float) -> float:
    """Backscatter coefficient of a flat element, Reuter's polynomial (from memory)."""
    return -0.0254 + 0.016 * number - 1.86e-4 * number**2 + 8.3e-7 * number**3


def slopes(height_um: np.ndarray, pixel_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Rise of the ground along columns' and rows' direction (x, y), µm per µm."""
    return tuple(cv2.Scharr(height_um, cv2.CV_32F, x, 1 - x, scale=1 / (32 * pixel_um)) for x in (1, 0))


def secant(gradient: tuple[np.ndarray, np.ndarray], power: float) -> np.ndarray:
    """Yield of secondaries on a slope over that of flat ground: sec θ to a power near 1 (from memory)."""
    return (1 + gradient[0] ** 2 + gradient[1] ** 2) ** np.float32(power / 2)


def _shifted(height: np.ndarray, dx: int, dy: int) -> np.ndarray:
    """The map seen (dx, dy) px further on, its border repeated."""
    rows, cols = height.shape
    up, left = max(-dy, 0), max(-dx, 0)
    padded = cv2.copyMakeBorder(height, up, max(dy, 0), left, max(dx, 0), cv2.BORDER_REPLICATE)
    return padded[up + dy : up + dy + rows, left + dx : left + dx + cols]


def horizon(height_um: np.ndarray, pixel_um: float, azimuth_deg: float, steps_px: list[int]) -> np.ndarray:
    """Steepest rise (tangent, 0 if none) from each point towards azimuth_deg (clockwise from the rows' direction), seen at steps_px."""
    steepest = np.zeros_like(height_um)
    cos, sin = np.cos(np.radians(azimuth_deg)), np.sin(np.radians(azimuth_deg))
    for step in steps_px:
        dx, dy = int(round(step * cos)), int(round(step * sin))
        far = np.hypot(dx, dy) * pixel_um
        np.maximum(steepest, (_shifted(height_um, dx, dy) - height_um) * np.float32(1 / far), out=steepest)
    return steepest


def escape(height_um: np.ndarray, pixel_um: float, reach_um: float) -> np.ndarray:
    """Share 0–1 of slow electrons that leave unhindered: cos² of the horizon in the mean over six azimuths (Lambert's law)."""
    reach = max(int(reach_um / pixel_um), 2)
    steps = sorted({1, max(reach // 6, 1), max(reach // 3, 1), max(2 * reach // 3, 2)})
    total = np.zeros_like(height_um)
    for azimuth in range(0, 360, 60):
        rise = horizon(height_um, pixel_um, azimuth, steps)
        total += 1 / (1 + rise * rise)
    return total * np.float32(1 / 6)


def diffuse(emission: np.ndarray, spread_um: float, pixel_um: float) -> np.ndarray:
    """Signal that comes out spread_um (µm, standard deviation) about where the beam went in."""
    sigma = spread_um / pixel_um
    return cv2.GaussianBlur(emission, (0, 0), sigma) if sigma > 0.25 else emission
