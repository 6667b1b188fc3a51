"""From surface to signal: electrons diffuse in the metal, come out near edges, and escape where the sky is open."""

import cv2
import numpy as np

IRON = (55.85, 26, 7.87)
"""Atomic mass in g/mol, atomic number and density in g/cm³."""
VOLTAGES_KV = (5, 8, 10, 15, 20)
DISTANCES_PX = np.array([1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 256])
COMPASS = ((0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0), (-1, 1))


def range_um(voltage_kv: float) -> float:
    """Depth to which electrons reach in iron (Kanaya, Okayama 1972: R = 0.0276·A·E^1.67 / (Z^0.89·ρ))."""
    mass, number, density = IRON
    return 0.0276 * mass * voltage_kv**1.67 / (number**0.89 * density)


def diffused(material: np.ndarray, reach_px: float) -> np.ndarray:
    """The yield seen by a beam (rows, cols): half from where it lands, half from electrons that come back within their range."""
    return 0.5 * material + 0.5 * cv2.GaussianBlur(material, (0, 0), max(0.3 * reach_px, 0.3))


def edge_excess(height: np.ndarray, reach_um: float, pixel_um: float) -> np.ndarray:
    """How much more metal is missing near a point than on a plane, -1 to 1 (rows, cols): above 0 at rims and ridges, below 0 at
    the foot of a wall, 0 on any plane however steep."""
    sigma_px = max(0.5 * reach_um / pixel_um, 0.8)
    return np.tanh((height - cv2.GaussianBlur(height, (0, 0), sigma_px, borderType=cv2.BORDER_REPLICATE)) / (sigma_px * pixel_um))


def sky(height: np.ndarray, pixel_um: float, reach_um: float = 30.0) -> np.ndarray:
    """The open share of the sky over each point, 0 to 1 (rows, cols): the mean of cos² of the horizon in eight directions,
    sampled half an octave apart."""
    distances = DISTANCES_PX[(reach_um / pixel_um >= DISTANCES_PX) & (min(height.shape) > DISTANCES_PX)]
    padded = np.pad(height, int(distances[-1]), mode="edge")
    rows, cols = height.shape
    open_ = np.zeros_like(height)
    for down, right in COMPASS:
        steepest = np.zeros_like(height)
        for distance in distances:
            top, left = (int(distances[-1] + distance * step) for step in (down, right))
            away_um = np.float32(distance * np.hypot(down, right) * pixel_um)
            np.maximum(steepest, (padded[top : top + rows, left : left + cols] - height) / away_um, out=steepest)
        open_ += 1 / (1 + steepest**2)
    return open_ / len(COMPASS)


def signal(rng: np.random.Generator, height: np.ndarray, material: np.ndarray, pixel_um: float) -> np.ndarray:
    """Electrons counted, 1 on an even plateau (rows, cols). A weak field at the detector starves what lies low: the open share
    counts with a power."""
    reach = range_um(float(rng.choice(VOLTAGES_KV)))
    edges = 1 + np.float32(rng.uniform(0.1, 0.6)) * edge_excess(height, reach, pixel_um)
    starved = sky(height, pixel_um) ** np.float32(rng.uniform(0.5, 3.5))
    return diffused(material, reach / pixel_um) * edges * starved
