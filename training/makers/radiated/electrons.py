"""Beam and detector: how much secondary signal each point of a height map gives.

SE1 yield goes as the secant of the local angle of incidence to a power n near 1 (Reimer, Scanning Electron Microscopy;
from memory). Backscattered electrons free SE2/SE3 within the electron range (Kanaya, Okayama, J. Phys. D 5 (1972) 43), so edges
brighten over that range and material shows through. A detector takes only what the surrounding ground lets pass: the horizon
is looked up all round; a side detector weighs its own side, a symmetric one all sides alike. Backscatter coefficients of iron
0.28 and carbon 0.06 after Reuter.
"""

from dataclasses import dataclass

import cv2
import numpy as np

IRON = {"atomic_weight": 55.85, "atomic_number": 26, "density": 7.87}
BACKSCATTER_IRON, BACKSCATTER_CARBON = 0.28, 0.06


def range_um(energy_kev: float, *, atomic_weight: float, atomic_number: float, density: float) -> float:
    """Kanaya–Okayama range, µm (density in g/cm³)."""
    return 0.0276 * atomic_weight * energy_kev**1.67 / (atomic_number**0.89 * density)


def tilt_yield(cosine: np.ndarray | float, power: float) -> np.ndarray | float:
    """SE1 yield over that at normal incidence; near grazing the range ends it, here at 83°."""
    return np.maximum(cosine, 0.12) ** -power


@dataclass(frozen=True, kw_only=True)
class Setting:
    energy_kev: float
    power: float
    detector: float
    """Azimuth of the side detector, radians on the screen."""
    sidedness: float
    """0 symmetric, 1 wholly from one side."""
    starvation: float
    """How strongly a raised horizon takes signal away."""
    edge: float
    background: float
    tilt: float
    tilt_azimuth: float
    floor: float
    """Grey of what lies on groove floors against bare iron: residue dark, torn bright."""
    skin: float
    """Grey of freshly smeared metal against the plateau."""


def choose_setting(rng: np.random.Generator) -> Setting:
    symmetric = rng.random() < 0.35
    return Setting(
        energy_kev=float(rng.choice([2, 3, 5, 10, 15, 20, 25, 30])),
        power=rng.uniform(0.9, 1.35),
        detector=rng.uniform(0, 2 * np.pi),
        sidedness=rng.uniform(0, 0.12) if symmetric else rng.uniform(0.35, 1.0),
        starvation=rng.uniform(0.1, 0.9) if symmetric else rng.uniform(0.6, 1.8),
        edge=rng.uniform(1.0, 3.2) if symmetric else rng.uniform(0.2, 1.8),
        background=rng.uniform(0.2, 1.0),
        tilt=np.radians(rng.uniform(3, 40)) if rng.random() < 0.3 else 0.0,
        tilt_azimuth=rng.uniform(0, 2 * np.pi),
        floor=rng.choice([0.0, rng.uniform(-0.45, -0.1), rng.uniform(0.05, 0.3)], p=[0.45, 0.4, 0.15]),
        skin=rng.choice([rng.uniform(0.07, 0.28), rng.uniform(-0.25, -0.07), 0.03], p=[0.62, 0.3, 0.08]),
    )


def collected(height_px: np.ndarray, setting: Setting) -> np.ndarray:
    """Share of secondaries that reach the detector, 1 on open flat ground: sin of each horizon, weighed by direction."""
    reach, (rows, cols) = (1, 2, 4, 8, 16, 30), height_px.shape
    pad = reach[-1] + 1
    wide = cv2.copyMakeBorder(height_px, pad, pad, pad, pad, cv2.BORDER_REFLECT_101)
    total, weights = np.zeros_like(height_px), 0.0
    for azimuth in np.arange(8) * np.pi / 4 + 0.2:
        weight = (1 - setting.sidedness) + setting.sidedness * max(np.cos(azimuth - setting.detector), 0) * 3
        if weight < 0.05:
            continue
        slope = np.full_like(height_px, -0.5)
        for step in reach:
            dx, dy = round(step * np.cos(azimuth)), round(step * np.sin(azimuth))
            away = wide[pad + dy : pad + dy + rows, pad + dx : pad + dx + cols]
            np.maximum(slope, (away - height_px) / np.float32(np.hypot(dx, dy)), out=slope)
        total += weight * (1 - slope / np.sqrt(1 + slope * slope))
        weights += weight
    return np.maximum(total / weights, 0.05) ** setting.starvation


def signal(
    height_um: np.ndarray, grey: np.ndarray, carbon: np.ndarray, pixel_size_um: float, setting: Setting
) -> np.ndarray:
    """Detector signal, about 1 on flat iron. grey: yield of the skin against iron; carbon: share of carbon, 0–1."""
    height_px = (height_um / pixel_size_um).astype(np.float32)
    down, right = (
        cv2.Sobel(height_px, cv2.CV_32F, 0, 1, scale=1 / 8),
        cv2.Sobel(height_px, cv2.CV_32F, 1, 0, scale=1 / 8),
    )
    lean = np.sin(setting.tilt) * np.array([np.cos(setting.tilt_azimuth), np.sin(setting.tilt_azimuth)])
    cosine = (np.cos(setting.tilt) - right * lean[0] - down * lean[1]) / np.sqrt(1 + right**2 + down**2)
    first = tilt_yield(cosine, setting.power) / tilt_yield(np.cos(setting.tilt), setting.power)
    spread = float(np.clip(0.5 * range_um(setting.energy_kev, **IRON) / pixel_size_um, 0.8, 7))
    proud = height_px - cv2.GaussianBlur(height_px, (0, 0), spread)
    edge = setting.edge * np.clip(proud / spread**0.5, -0.12, 0.5)
    scatter = BACKSCATTER_IRON + (BACKSCATTER_CARBON - BACKSCATTER_IRON) * carbon
    deep = cv2.GaussianBlur(scatter * grey, (0, 0), spread) / BACKSCATTER_IRON * (1 + 0.5 * edge)
    surface = first * grey * (1 - 0.55 * carbon) * (1 + edge)
    return (surface + setting.background * deep) / (1 + setting.background) * collected(height_px, setting)
