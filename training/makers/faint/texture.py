"""Fine texture, as slopes: finishing scratches from tables of smooth profiles, and random roughness."""

import cv2
import numpy as np

TABLE = 4096


def scratches(
    rng: np.random.Generator, col_um: np.ndarray, row_um: np.ndarray, *,
    along_deg: float, spacing_um: float, width_um: float, depth_um: float,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Depth in µm (never above depth_um) and slope to the right and downwards of a family of fine scratches."""
    normal = np.array([-np.sin(np.radians(along_deg)), np.cos(np.radians(along_deg))])
    reach = 0.5 * float(np.hypot(np.ptp(col_um), np.ptp(row_um))) + 1
    places = np.linspace(-reach, reach, TABLE)
    raw, slope = np.zeros(TABLE), np.zeros(TABLE)
    for middle in rng.uniform(-reach, reach, int(min(150, 2 * reach / spacing_um))):
        width, strength = width_um * np.exp(rng.normal(0, 0.3)), rng.uniform(0.2, 1.2)
        first, last = np.searchsorted(places, (middle - 3 * width, middle + 3 * width))
        off = (places[first:last] - middle) / width
        bump = strength * np.exp(-off * off)
        raw[first:last] += bump
        slope[first:last] -= 2 * off / width * bump
    held = np.tanh(raw)
    slope = depth_um * slope * (1 - held**2)
    at = np.clip(((col_um * normal[0] + row_um * normal[1]) + reach) * ((TABLE - 1) / (2 * reach)), 0, TABLE - 1).astype(np.int32)
    deep, fall = (depth_um * held).astype(np.float32)[at], (-slope).astype(np.float32)[at]
    return deep, fall * np.float32(normal[0]), fall * np.float32(normal[1])


def roughness(rng: np.random.Generator, shape: tuple[int, int], *, grain_px: float, stretch: float, along_deg: float) -> np.ndarray:
    """Random field of mean 0 and spread 1, grain_px fine, drawn out by stretch along a direction (vertical or horizontal)."""
    sigma = [max(grain_px, 0.3)] * 2
    sigma[int(abs(np.sin(np.radians(along_deg))) > 0.7)] *= stretch
    field = cv2.GaussianBlur(rng.standard_normal(shape, dtype=np.float32), (0, 0), sigmaX=sigma[0], sigmaY=sigma[1])
    return field / max(float(field.std()), 1e-6)


def clouds(rng: np.random.Generator, shape: tuple[int, int], size_px: float) -> np.ndarray:
    """Smooth random field of mean 0 and spread about 1 whose features are size_px wide."""
    small = tuple(max(4, int(side / max(size_px, 2.0)) + 3) for side in shape)
    field = cv2.resize(rng.standard_normal(small, dtype=np.float32), shape[::-1], interpolation=cv2.INTER_CUBIC)
    return field / max(float(field.std()), 1e-6)
