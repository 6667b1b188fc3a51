"""Backscattered electrons: yields by element and tilt, films seen through, the range of the beam, and two half detectors."""

import cv2
import numpy as np

from makers.backscattered.texture import Grid

IRON, CARBON, OXYGEN = (26, 55.85, 7.87), (6, 12.01, 2.0), (16, 43.0, 4.2)
"""Atomic number, atomic mass and density in g/cm³: iron, oil carbon, and oxide or phosphate films as one mean element."""
SEEN = 0.3
"""Share of the range from below which backscattered electrons come (common practice, no source)."""


def range_um(kilovolt: float, element: tuple[float, float, float] = IRON) -> float:
    """Range of the beam's electrons, µm: 0.0276·A·E^1.67/(Z^0.89·ρ) (Kanaya and Okayama 1972, tests/SOURCES.md)."""
    number, mass, density = element
    return 0.0276 * mass * kilovolt**1.67 / (number**0.89 * density)


def yield_of(number: float) -> float:
    """Backscatter coefficient by atomic number (Reuter 1972; iron 0.28 and carbon 0.06 in tests/SOURCES.md)."""
    return -0.0254 + 0.016 * number - 1.86e-4 * number**2 + 8.3e-7 * number**3


def through_film(thickness_um: np.ndarray, kilovolt: float, element: tuple[float, float, float]) -> np.ndarray:
    """Yield of iron under a film over that of bare iron; a thick film shows its own yield, a high voltage sees through it."""
    own = yield_of(element[0]) / yield_of(IRON[0])
    return own + (1 - own) * np.exp(-thickness_um / (SEEN * range_um(kilovolt, element)))


def halves(height: np.ndarray, matter: np.ndarray, grid: Grid, azimuth_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """Signals of two half detectors either side of a line, each 0.5 on level bare iron; height in µm, matter relative to iron.
    The half that a slope faces gains what the other loses (common practice, no source): their sum shows the tilt only,
    as (1 + cos θ)^(-9/√Z) (Arnal, Verdier and Vincensini 1969; from memory)."""
    down, right = np.gradient(cv2.GaussianBlur(height, (0, 0), 1.0), grid.pixel_um)
    angle = np.radians(azimuth_deg)
    facing = -(right * np.float32(np.cos(angle)) + down * np.float32(np.sin(angle)))
    cosine = 1 / np.sqrt(1 + np.minimum(right**2 + down**2, 9))
    total = 0.5 * matter * ((1 + cosine) / 2) ** np.float32(-9 / np.sqrt(IRON[0]))
    lean = 0.9 * np.tanh(1.2 * facing)
    return total * (1 + lean), total * (1 - lean)


def escape_blur(signal: np.ndarray, kilovolt: float, probe_um: float, grid: Grid) -> np.ndarray:
    """The signal blurred by the escaping electrons, a fifth of their range (common practice, no source), and by the probe."""
    spread_um = np.hypot(0.2 * range_um(kilovolt), probe_um)
    return cv2.GaussianBlur(signal, (0, 0), float(np.clip(spread_um / grid.pixel_um, 0.3, 4)))
