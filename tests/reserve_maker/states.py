"""The states of a surface, read off its heights: plateau, open valley, smeared, scuffed.

Local plateau: the mean height of what lies above the mean, both within a Gaussian window of LAND_WINDOW_UM. Open valley:
hone groove at least 0.5 µm below it. Smeared: a groove that was so deep before
wear and over which moved metal lies to within 0.5 µm of the plateau; one that was only worn shallow is plateau. Scuffed:
the footprint of seized junctions. Graphite, pull-outs, cracks and stroke marks are kept out of the heights that are looked
at here, and so are never valley.
"""

import cv2
import numpy as np

VALLEY_DEPTH_UM = 0.5
LAND_WINDOW_UM = 40.0
PLATEAU, OPEN_VALLEY, SMEARED, SCUFFED, NOT_ASSESSED = 0, 1, 2, 3, 255


def plateau_level(height_um: np.ndarray, pixel_size_um: float, left_out: np.ndarray | None = None) -> np.ndarray:
    """Return the local plateau level, (rows, cols) float32 µm; left_out: where the surface is no hone surface (bool)."""
    factor = max(1, int(LAND_WINDOW_UM / pixel_size_um / 12))
    size = (-(-height_um.shape[1] // factor), -(-height_um.shape[0] // factor))
    small = cv2.resize(height_um, size, interpolation=cv2.INTER_AREA) if factor == 1 else height_um[::factor, ::factor]
    kept = np.ones(small.shape, np.float32)
    if left_out is not None:
        kept -= 0.999 * left_out[::factor, ::factor].astype(np.float32)
    sigma = LAND_WINDOW_UM / pixel_size_um / factor

    def mean(weight: np.ndarray) -> np.ndarray:
        total = cv2.GaussianBlur(small * weight, (0, 0), sigma)
        return total / np.maximum(cv2.GaussianBlur(weight, (0, 0), sigma), 1e-6)

    level = mean(kept)
    for _ in range(2):
        level = mean(kept * (small > level))
    return cv2.resize(level, height_um.shape[::-1], interpolation=cv2.INTER_LINEAR)


def classify(
    height_um: np.ndarray, honed_um: np.ndarray, covered: np.ndarray, scuffed: np.ndarray, pixel_size_um: float
) -> np.ndarray:
    """Return mask codes, (rows, cols) uint8.

    height_um: hone surface with what wear did to it; honed_um: the same before wear; covered: where moved metal lies and
    scuffed: where junctions seized (both bool).
    """
    open_now = _ground_depth(height_um, pixel_size_um, scuffed) >= VALLEY_DEPTH_UM
    open_before = _ground_depth(honed_um, pixel_size_um, None) >= VALLEY_DEPTH_UM
    codes = np.zeros(height_um.shape, np.uint8)
    codes[open_now & open_before] = OPEN_VALLEY
    codes[open_before & covered & ~open_now] = SMEARED
    codes[scuffed & ~(open_now & open_before)] = SCUFFED
    return codes


def _ground_depth(height_um: np.ndarray, pixel_size_um: float, left_out: np.ndarray | None) -> np.ndarray:
    """Return the depth below the local plateau of the ground, taken over about a µm so that grain-fine roughness is out."""
    sigma = max(0.4, 0.7 / pixel_size_um)
    return plateau_level(height_um, pixel_size_um, left_out) - cv2.GaussianBlur(height_um, (0, 0), sigma)


def without_specks(codes: np.ndarray, smallest_px: int) -> np.ndarray:
    """Return codes with patches of one state below smallest_px given the most common state within a few pixels."""
    result = codes.copy()
    for code in (OPEN_VALLEY, SMEARED, SCUFFED, PLATEAU):
        _, labels, stats, _ = cv2.connectedComponentsWithStats((codes == code).astype(np.uint8), connectivity=8)
        small = stats[:, cv2.CC_STAT_AREA] < smallest_px
        small[0] = False
        if not small.any():
            continue
        speck = small[labels]
        votes = [cv2.blur(((codes == other) & ~speck).astype(np.float32), (9, 9)) for other in range(4)]
        result[speck] = np.argmax(np.stack(votes), axis=0).astype(np.uint8)[speck]
    return result


def fractions(codes: np.ndarray) -> dict[int, float]:
    """Return the share of the assessed area by code, 0 for each when nothing is assessed."""
    counts = np.bincount(codes.ravel(), minlength=256)[:4]
    total = max(1, int(counts.sum()))
    return {code: float(counts[code] / total) for code in range(4)}
