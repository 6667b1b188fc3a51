"""Mean number of electrons from each surface point, relative to the flat plateau.

- Yield grows as sec(t)^n with the angle t between beam and normal, n about 1 (Seiler, J. Appl. Phys. 54 (1983) R1; from
  memory); the specimen's tilt adds to it.
- Only a share of the directions is free to leave a groove; low-energy electrons caught again lower it further, here as a power.
- A detector at one side sees slopes that face it better than others.
- Extra electrons leave within their range of an edge; films, graphite and grains scale the yield; seams swallow it.
- Displaced metal that stands proud over an open groove has a bright brim and throws a shadow beside it.
"""

import cv2
import numpy as np

from .microscope import Setting, electron_range_um
from .surface import Surface

YIELD_LIMIT = 3.0


def mean_signal(surface: Surface, setting: Setting) -> np.ndarray:
    """Return the mean signal, (rows, cols) float32, 1 on the flat plateau without tilt."""
    tilt, azimuth = np.radians(setting.tilt_deg), np.radians(setting.azimuth_deg)
    length = np.sqrt(1 + surface.slope_row**2 + surface.slope_col**2)
    facing = np.maximum((np.cos(tilt) - np.sin(tilt) * surface.slope_row) / length, 1 / YIELD_LIMIT)
    grown = (np.float32(np.cos(tilt)) / facing) ** np.float32(setting.secant_power)
    seen = (np.sin(azimuth) * surface.slope_row - np.cos(azimuth) * surface.slope_col) / length
    sided = np.clip(1 + setting.side * seen, 0.25, 2)
    open_ground = surface.inner * ~surface.covered
    free = np.where(surface.covered, 1, surface.gather) ** np.float32(setting.starving)
    floor = 1 + (setting.floor - 1) * open_ground
    signal = surface.tone * grown * sided * free * floor + setting.edge * surface.edge * ~surface.covered
    brim, shade = brims(surface, setting)
    return np.maximum((signal + brim) * (1 - shade) * (1 - surface.crack), 0.02).astype(np.float32)


def brims(surface: Surface, setting: Setting) -> tuple[np.ndarray, np.ndarray]:
    """Return the extra yield on brims of displaced metal, and the share of light lost on the ground beneath them."""
    if not surface.covered.any():
        return np.zeros(surface.shape, np.float32), np.zeros(surface.shape, np.float32)
    sigma = max(max(electron_range_um(setting.kv), 0.5) / surface.pixel_um * 0.8, 0.8)
    ground = (surface.inner * ~surface.covered).astype(np.float32)
    brim = cv2.GaussianBlur(ground, (0, 0), sigma) * surface.lifted * surface.covered
    metal = (surface.lifted * surface.covered).astype(np.float32)
    shade = cv2.GaussianBlur(metal, (0, 0), 1.6 * sigma) * ground
    return (0.35 + setting.edge) * 1.3 * brim, np.clip(0.55 * shade, 0, 0.6)
