"""Secondary electrons from a rough metal surface.

Yield grows as (1 / cos theta)^n, n 1.1 to 1.3 (from memory), held back where micro-roughness sets a limit. Part of the
signal comes from backscattered electrons that leave within the Kanaya-Okayama range R = 0.0276 A E^1.67 / (Z^0.89 rho)
(1972): it blurs the picture over R and brightens edges within R. A chamber detector sees walls that face it better
(cosine), an in-lens one sees all alike. Electrons are lost in deep narrow grooves (hole effect, depth over width).
"""

import cv2
import numpy as np

from .recipe import Setting
from .roughness import roughness


def electron_range_um(kv: float) -> float:
    """Return the Kanaya-Okayama range in iron, um."""
    return 0.0276 * 55.85 * kv**1.67 / (26**0.89 * 7.87)


def _spread(sheet: np.ndarray, sigma: float) -> np.ndarray:
    if sigma > 8:
        step = int(sigma / 4)
        small = cv2.resize(sheet, None, fx=1 / step, fy=1 / step, interpolation=cv2.INTER_AREA)
        small = cv2.GaussianBlur(small, (0, 0), sigma / step)
        return cv2.resize(small, sheet.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return cv2.GaussianBlur(sheet, (0, 0), max(sigma, 0.3))


def signal(
    rng: np.random.Generator, height_um: np.ndarray, tone: np.ndarray, groove_um: np.ndarray, setting: Setting,
    pixel_um: float, tilt_deg: float, groove_width_um: float,
) -> np.ndarray:  # fmt: skip
    """Return the relative signal, about 1 on a flat plateau."""
    tilt = np.radians(tilt_deg)
    smooth = cv2.GaussianBlur(height_um, (0, 0), 0.55)
    down, right = np.gradient(smooth, pixel_um)
    up = -down * np.cos(tilt)
    length = np.sqrt(1 + right**2 + up**2)
    cosine = np.clip((np.cos(tilt) - up * np.sin(tilt)) / length, 0.25, 1)
    first = (np.cos(tilt) / cosine) ** setting.exponent
    azimuth, rise = np.radians(setting.azimuth_deg), np.radians(40)
    facing = np.clip(1 + (-right * np.cos(azimuth) - up * np.sin(azimuth)) / np.tan(rise), 0, 2.2) / length
    first = first * (setting.symmetric + (1 - setting.symmetric) * facing)
    reach = electron_range_um(setting.kv)
    second = _spread(first * tone, max(0.5 * reach / pixel_um, 0.3))
    sigma = max(reach * 0.6, 0.25) / pixel_um
    sigma = max(sigma, 0.9)
    proud = np.clip((smooth - _spread(smooth, sigma)) / (0.12 + 0.25 * reach), -0.35, 1.0)
    wide = max(groove_width_um * 0.35 / pixel_um, 1.5)
    lost = sum(np.clip(_spread(smooth, wide * k) - smooth, 0, None) / (wide * k * pixel_um) for k in (0.5, 1.5))
    held = 1 - setting.hole * 0.6 * lost / (0.25 + lost)
    filled = np.clip(groove_um / 1.1, 0, 1)
    spots = roughness(rng, height_um.shape, max(1.0, 0.7 / pixel_um), max(1.0, 0.7 / pixel_um))
    floor = 1 + setting.floor * filled * (1 + 0.22 * spots)
    grain = 1 + 0.012 * roughness(rng, height_um.shape, 1.1, 1.1) + 0.007 * roughness(rng, height_um.shape, 90, 90)
    sent = (0.62 * first * tone + 0.38 * second) * (1 + setting.edge * 0.45 * proud) * held * floor * grain
    return np.where(sent > 1.45, 1.45 + 0.35 * (sent - 1.45), np.clip(sent, 0.02, None)).astype(np.float32)
