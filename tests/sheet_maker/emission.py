"""What leaves the metal: yield by inclination from a table, and the glow of edges thinner than the electrons' range.

The yield grows about as the secant of the inclination, less at low voltage and levelling off at grazing incidence (from
memory). The range in iron is 0.0276·A·E^1.67/(Z^0.89·ρ) µm (Kanaya, Okayama 1972): 0.16, 0.50, 0.99, 1.60 µm at 5, 10,
15, 20 kV. An edge within a range of a free face lets out the secondaries of scattered electrons on both sides.
"""

import cv2
import numpy as np

INCLINATION_DEG = np.array([0, 10, 20, 30, 40, 50, 60, 70, 80, 90], float)
YIELD = np.array([1.0, 1.013, 1.055, 1.13, 1.25, 1.44, 1.75, 2.3, 3.1, 3.4])


def electron_range_um(kv: float) -> float:
    """Return the range of electrons in iron, µm (Kanaya, Okayama 1972)."""
    return 0.0276 * 55.85 * kv**1.67 / (26**0.89 * 7.87)


def emitted(height_px: np.ndarray, tilt_deg: float, kv: float) -> np.ndarray:
    """Return the yield by inclination, 1 at normal incidence; the specimen is tilted about the rows' direction."""
    dy, dx = np.gradient(height_px.astype(np.float32))
    tilt = np.deg2rad(tilt_deg)
    cosine = (np.cos(tilt) + dy * np.sin(tilt)) / np.sqrt(1 + dx * dx + dy * dy)
    angle = np.rad2deg(np.arccos(np.clip(cosine, 0, 1)))
    steep = np.interp(angle, INCLINATION_DEG, YIELD).astype(np.float32)
    return steep ** np.float32(0.85 + 0.01 * kv)


def edge_glow(height_um: np.ndarray, pixel_size_um: float, kv: float) -> np.ndarray:
    """Return the glow of edges: how far a point stands over its surroundings within the range, in parts of the range."""
    reach = float(np.clip(electron_range_um(kv), 0.3, 1.6))
    sigma = max(reach / pixel_size_um, 0.9)
    over = height_um - cv2.GaussianBlur(height_um, (0, 0), sigma)
    return np.clip(over / (0.5 * reach + 0.25), 0, 0.75)


def starved(height_um: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Return the share that escapes from narrow places below their surroundings."""
    below = cv2.GaussianBlur(height_um, (0, 0), max(3.0 / pixel_size_um, 2.0)) - height_um
    return 1 / (1 + 0.25 * np.clip(below, 0, None))
