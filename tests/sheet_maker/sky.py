"""Light by reciprocity: a secondary-electron picture looks like the object seen from above and lit from where the detector
collects (well-known rule, from memory). Each azimuth's share of a bright sky is cut off by the horizon that a march over
the height map finds; the sky is brighter on the detector's side.
"""

import numpy as np

DISTANCES_PX = (1, 2, 3, 5, 8, 13, 21, 34)
AZIMUTHS = tuple((np.cos(a), -np.sin(a)) for a in np.arange(8) * np.pi / 4 + 0.2)


def collected(height_px: np.ndarray, detector_deg: float, one_sided: float) -> np.ndarray:
    """Return the light on each pixel, 1 on a level, open surface.

    height_px: heights in pixel sides; one_sided: 0 for an even sky, 1 for one bright on the detector's side only.
    The light of a wedge of sky over elevations e from the horizon a to the zenith on a surface that rises by g towards
    it is the integral of (sin e - g cos e) cos e: cos²a / 2 - g ((pi/2 - a) / 2 - sin 2a / 4), over sqrt(1 + slope²).
    """
    rows, cols = height_px.shape
    pad = DISTANCES_PX[-1] + 1
    wide = np.pad(height_px.astype(np.float32), pad, mode="edge")
    dy, dx = np.gradient(height_px.astype(np.float32))
    toward = np.deg2rad(detector_deg)
    total, level = np.zeros((rows, cols), np.float32), 0.0
    for x, y in AZIMUTHS:
        rise = np.zeros((rows, cols), np.float32)
        for distance in DISTANCES_PX:
            i, j = round(y * distance), round(x * distance)
            seen = wide[pad + i : pad + i + rows, pad + j : pad + j + cols] - height_px
            seen *= np.float32(1 / np.hypot(i, j))
            np.maximum(rise, seen, out=rise)
        weight = 1 + one_sided * (x * np.cos(toward) - y * np.sin(toward))
        g = dx * np.float32(x) + dy * np.float32(y)
        cos2 = 1 / (1 + rise * rise)
        rest = (np.pi / 2 - np.arctan(rise)) / 2 - rise * cos2 / 2
        total += np.float32(weight) * np.clip(cos2 / 2 - g * rest, 0, None)
        level += weight / 2
    return total / np.float32(level) / np.sqrt(1 + dx * dx + dy * dy)
