"""The secondary-electron signal of a surface: slope, detector, edges, starved grooves, matter.

The yield grows as 1/cos(theta)^n with n near 1 (from memory); a detector at one side sees slopes that face it better;
metal within the electron range of a convex edge sends more (edge effect), and electrons that start deep between walls
are caught (ambient occlusion). The range is Kanaya and Okayama's (1972), R = 0.0276 A E^1.67 / (Z^0.89 rho) in µm:
for iron 0.16/0.50/0.99/1.60 µm at 5/10/15/20 kV. Pictures of tilted specimens are taken as corrected for tilt.
"""

import cv2
import numpy as np

from .frames import Array, Rng, rough

IRON = (55.85, 26, 7.87)


def range_um(kilovolts: float) -> float:
    """Kanaya-Okayama range of electrons in iron (µm)."""
    mass, number, density = IRON
    return 0.0276 * mass * kilovolts**1.67 / (number**0.89 * density)


def _blur(map_: Array, sigma: float) -> Array:
    """Gaussian blur, on a coarser grid when it's wide."""
    if sigma < 5:
        return cv2.GaussianBlur(map_, (0, 0), max(sigma, 0.3))
    size = map_.shape[::-1]
    by = sigma / 2.5
    small = cv2.resize(map_, [max(4, round(n / by)) for n in size], interpolation=cv2.INTER_AREA)
    return cv2.resize(cv2.GaussianBlur(small, (0, 0), 2.5), size, interpolation=cv2.INTER_LINEAR)


def signal(rng: Rng, height: Array, open_depth: Array, graphite: Array, skin: Array, pixel: float) -> Array:
    """Secondary electrons per primary, plateau near 1, before the beam's spread and noise."""
    kilovolts = float(rng.choice([5.0, 10.0, 15.0, 20.0]))
    reach = range_um(kilovolts) / pixel
    lift = rng.uniform(1.0, 1.8)  # steeper below the pixel than the map has it
    smooth = cv2.GaussianBlur(height, (0, 0), 0.5)
    sx = cv2.Scharr(smooth, cv2.CV_32F, 1, 0) * (lift / 32 / pixel)
    sy = cv2.Scharr(smooth, cv2.CV_32F, 0, 1) * (lift / 32 / pixel)
    tilt = 0.0 if rng.random() < 0.5 else np.deg2rad(rng.uniform(2, 30))
    axis = rng.uniform(0, 2 * np.pi)
    towards = np.cos(axis) * sx + np.sin(axis) * sy
    length = np.sqrt(1 + sx * sx + sy * sy)
    cosine = np.clip((np.cos(tilt) - np.sin(tilt) * towards) / length, 0.3, 1.0)
    power = rng.uniform(0.8, 1.4)
    yielded = (np.cos(tilt) / cosine) ** power
    if rng.random() < 0.75:  # detector at one side
        where = axis if rng.random() < 0.5 else rng.uniform(0, 2 * np.pi)
        facing = -(np.cos(where) * sx + np.sin(where) * sy) / length
        yielded *= np.clip(1 + rng.uniform(0.3, 1.1) * facing, 0.15, None)

    near, far = np.clip(reach, 1.0, 5.0), np.clip(4.0 / pixel, 4, 40)
    edge = np.clip(height - _blur(height, near), 0, None) / (near * pixel)
    yielded += np.minimum(rng.uniform(0.3, 1.8) * edge, 0.8)
    starved = np.clip(_blur(height, far) - height, 0, None) / (far * pixel)
    starved += 0.5 * np.clip(_blur(height, far / 3) - height, 0, None) / (far / 3 * pixel)
    yielded *= np.exp(-rng.uniform(0.5, 3.0) * np.minimum(starved, 1.5))

    kind = rng.random()  # floors: dark with carbon and oil, as the plateau, or bright with torn metal; one for a field
    floor = (
        rng.uniform(-0.45, -0.08) if kind < 0.6 else rng.uniform(-0.1, 0.08) if kind < 0.72 else rng.uniform(0.1, 0.5)
    )
    inside = np.clip((open_depth - 0.15) / 0.7, 0, 1)
    grain = 1 + rng.uniform(0, 0.5) * rough(rng, height.shape, max(3.0, 3 / pixel), 3) * 0.35
    yielded *= 1 + floor * inside * grain
    yielded *= 1 + rng.uniform(0.12, 0.38) * skin
    mottle = rough(rng, height.shape, rng.uniform(5, 40), 2)
    yielded *= 1 + rng.uniform(0.0, 0.05) * mottle  # pearlite, films
    yielded *= 1 - rng.uniform(0.3, 0.65) * graphite
    over = np.clip(yielded - 1.1, 0, None)
    yielded -= over - over / (1 + 0.9 * over)  # steep walls shade one another
    deep = _blur(yielded, np.clip(reach, 0.3, 30))
    part = rng.uniform(0.1, 0.4)  # electrons that backscattered ones set free all over the range
    return (1 - part) * yielded + part * deep
