"""How good a picture is: noise, sharpness, clipping, charging, and where the specimen ends.

All functions take ``raw``, the picture as (rows, cols) float32 in shares of full scale, and ``assessed``, (rows, cols)
bool, True where it may be looked at. They work on reduced pictures where they can, since they run on every field.
"""

import math

import cv2
import numpy as np

MAD_TO_SIGMA = 1.4826
"""Standard deviation over median absolute deviation of a normal distribution, 1/Φ⁻¹(3/4)."""

EDGE_WIDTH_PER_SIGMA = 1.6832
"""Distance between 20 % and 80 % of a step that a Gaussian of unit sigma blurs, 2·Φ⁻¹(0.8)."""

STRONG_EDGE_SHARE = 0.01
"""Share of the pixels, those of the steepest slope, that sharpness is read from."""

EDGE_OVER_NOISE = 6.0
"""Slope of the strong edges over that of noise from which a level of the pyramid is trusted."""

_DIFFERENCE_VARIANCE = 1.0 / 3.0
"""Variance that a central difference adds to an edge: that of the box, two pixels wide, which it averages the slope over."""

_LAPLACE_DIFFERENCE = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], np.float32)


def noise_level(raw: np.ndarray, assessed: np.ndarray) -> float:
    """Return the standard deviation of pixel noise, share of full scale.

    The difference of two Laplacians of Immerkær (Computer Vision and Image Understanding 64 (1996) 300) leaves 6σ of
    white noise and nothing of planes; its median absolute value is taken in place of his mean, so that edges and textures,
    which are the fewer pixels, count little. Noise that an instrument or a rescaling smoothed is underrated.
    """
    response = cv2.filter2D(raw, -1, _LAPLACE_DIFFERENCE, borderType=cv2.BORDER_REFLECT)
    inside = np.abs(response[1:-1:2, 1:-1:2][assessed[1:-1:2, 1:-1:2]])
    return float(np.median(inside)) * MAD_TO_SIGMA / 6.0 if inside.size else 0.0


def edge_width_px(raw: np.ndarray, assessed: np.ndarray, noise: float) -> float:
    """Return the 20–80 % width of the strongest edges in px, nan when no edge stands out of the noise.

    A measure of the derivative kind of ISO/TS 24597: an edge blurred by σ has the slope a/√(2π(σ² + s²)) after a further
    Gaussian of s, so that the ratio of the slopes at two s gives σ (Zhuo and Sim, Pattern Recognition 44 (2011) 1852). It
    is read where slopes are steepest, at the finest level of a pyramid where they stand out of the noise and σ is of
    the order of the pixel. The flattest quarter of the picture says what noise adds to the slopes, and what halving adds
    to the blur is taken off. Thin lines are read as sharper than they are, sloping walls as less sharp.
    """
    level_raw, level_mask = raw, assessed
    best = math.nan
    for level in range(6):
        if min(level_raw.shape) < 48:
            break
        sigma, trusted = _edge_sigma(level_raw, level_mask, noise / 2.0**level)
        if trusted:
            box = (1.0 - 0.25**level) / 12.0  # variance of the box that 2^level pixels are averaged over, in its pixels
            best = EDGE_WIDTH_PER_SIGMA * math.sqrt(max(sigma * sigma - box, 0.04)) * 2.0**level
            if sigma < 2.5:
                break
        level_raw = cv2.resize(level_raw, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        level_mask = cv2.resize(level_mask.astype(np.uint8), level_raw.shape[::-1], interpolation=cv2.INTER_AREA) > 0
    return best


def _edge_sigma(raw: np.ndarray, mask: np.ndarray, noise: float) -> tuple[float, bool]:
    """Return the sigma of the strongest edges in px at one level, and whether edges stand out of the noise."""
    first, second = 1.0, 2.0
    raw, inner = _thinned_rows(raw, mask)
    smooth = cv2.GaussianBlur(raw, (0, 0), first)
    steep = _squared_slope(smooth)
    less = _squared_slope(cv2.GaussianBlur(smooth, (0, 0), math.sqrt(second**2 - first**2)))
    inner = inner[1:-1, 1:-1]
    some = less[::2, ::2][inner[::2, ::2]]
    if some.size < 500:
        return math.nan, False
    strong = inner & (less >= np.quantile(some, 1.0 - STRONG_EDGE_SHARE))
    steep_noise = noise**2 / (8.0 * math.pi * first**4)
    # The squared slope of two normal components with variance v has its lower quartile at -2 ln(3/4) v.
    flattest = float(np.quantile(steep[::2, ::2][inner[::2, ::2]], 0.25)) / (-2.0 * math.log(0.75))
    steep_noise = max(steep_noise, flattest)
    steep_2 = float(steep[strong].mean()) - 2.0 * steep_noise
    less_2 = float(less[strong].mean()) - 2.0 * steep_noise * (first / second) ** 4
    if less_2 <= 0 or steep_2 < EDGE_OVER_NOISE**2 * noise**2 / (8.0 * math.pi):
        return math.nan, False
    ratio_2 = max(steep_2 / less_2, 1.0 + 1e-6)
    variance = (second**2 - ratio_2 * first**2) / (ratio_2 - 1.0) - _DIFFERENCE_VARIANCE
    return math.sqrt(min(max(variance, 0.0), 100.0)), True


def _thinned_rows(raw: np.ndarray, mask: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return a large picture's every other block of 96 rows, and the mask without a margin at gaps, seams and borders."""
    inner = cv2.erode(mask.astype(np.uint8), np.ones((11, 11), np.uint8), borderType=cv2.BORDER_CONSTANT, borderValue=0) > 0
    rows = len(raw)
    if raw.size > 500_000:
        blocks = [slice(start, min(start + 96, rows)) for start in range(0, rows, 192)]
        raw = np.vstack([raw[block] for block in blocks])
        inner = np.vstack([inner[block] for block in blocks])
        for seam in range(96, len(raw), 96):
            inner[max(seam - 7, 0):seam + 7] = False
    return raw, inner


def _squared_slope(image: np.ndarray) -> np.ndarray:
    """Return the squared gradient by central differences, without the outermost rows and columns."""
    across = image[1:-1, 2:] - image[1:-1, :-2]
    down = image[2:, 1:-1] - image[:-2, 1:-1]
    across *= across
    down *= down
    across += down
    across *= np.float32(0.25)
    return across


def clipped_pixels(raw: np.ndarray, assessed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return where the picture is clipped black and white, two (rows, cols) bool.

    A level is a clipping level when it lies at full scale, or is the picture's extreme and holds far more pixels than the
    levels beside it (operators and converters clip before full scale too).
    """
    inside = raw[assessed]
    if not inside.size:
        return np.zeros(raw.shape, bool), np.zeros(raw.shape, bool)
    low, high = 0.002, 0.998
    darkest, brightest = float(inside.min()), float(inside.max())
    if brightest - darkest >= 1 / 255:  # in a picture of one grey level none stands out from its neighbours
        counts, edges = np.histogram(inside[::5], bins=128, range=(darkest, brightest))
        if counts[0] > 4 * max(counts[1:4].max(), 1) and counts[0] > 0.002 * counts.sum():
            low = max(low, float(edges[0]) + 0.1 * float(edges[1] - edges[0]))
        if counts[-1] > 4 * max(counts[-4:-1].max(), 1) and counts[-1] > 0.002 * counts.sum():
            high = min(high, float(edges[-1]) - 0.1 * float(edges[1] - edges[0]))
    return assessed & (raw <= low), assessed & (raw >= high)


def blooming(white: np.ndarray, pixel_size_um: float, smallest_um: float) -> np.ndarray:
    """Return where white-clipped pixels form areas at least ``smallest_um`` wide: nothing is seen of the surface there."""
    width = max(int(round(smallest_um / pixel_size_um)) | 1, 3)
    if width > min(white.shape) // 2 or not white.any():
        return np.zeros(white.shape, bool)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (width, width))
    if width <= 15:
        return cv2.morphologyEx(white.astype(np.uint8), cv2.MORPH_OPEN, kernel) > 0
    factor = 5.0 / width
    small = cv2.resize(white.astype(np.float32), None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA) > 0.9
    opened = cv2.morphologyEx(small.astype(np.uint8), cv2.MORPH_OPEN,
                              cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5)))
    return cv2.resize(opened, white.shape[::-1], interpolation=cv2.INTER_NEAREST_EXACT) > 0


def bright_bands(image: np.ndarray, assessed: np.ndarray, *, least_excess: float) -> np.ndarray:
    """Return the rows, (rows,) bool, that lie in bright bands along the scan, the mark of charging.

    ``image`` is shading-corrected in units of its robust spread. A row belongs to a band when its lower quartile and its median
    are above those of the usual row by ``least_excess``: three quarters of the row are brighter, which no groove or streak
    crossing the picture does, unless it runs along the rows. Where grooves take a quarter of every row, its lower quartile is their floor.
    """
    columns, seen = image[:, ::6], assessed[:, ::6]
    count = seen.sum(axis=1)
    full = count > 0.3 * seen.shape[1]
    rows = np.zeros(len(image), bool)
    if not full.any():
        return rows
    ordered = np.sort(np.where(seen, columns, np.float32(np.inf))[full], axis=1)
    places = np.arange(len(ordered))
    quartile, middle = (ordered[places, ((count[full] - 1) * share).astype(int)] for share in (0.25, 0.5))
    rows[full] = np.minimum(quartile - np.median(quartile), middle - np.median(middle)) > least_excess
    return rows


def beyond_specimen(raw: np.ndarray, assessed: np.ndarray) -> np.ndarray:
    """Return where the picture lies beyond the specimen's edge, (rows, cols) bool: a large, dark, featureless border area.

    The reduced picture is split by Otsu's threshold. A dark area counts when it takes 3 to 60 % of the picture, touches
    its border over a length, leaves the rest in one piece (a wide groove parts it in two), is about as dark as anything
    in the picture, and flat: its fine texture is three tenths of the other side's or less.
    """
    nothing = np.zeros(raw.shape, bool)
    factor = max(raw.shape) // 160
    if factor < 2:
        return nothing
    small = cv2.resize(raw, None, fx=1.0 / factor, fy=1.0 / factor, interpolation=cv2.INTER_AREA)
    seen = cv2.resize(assessed.astype(np.uint8) * 255, small.shape[::-1], interpolation=cv2.INTER_AREA) > 128
    if seen.sum() < 400:
        return nothing
    level = cv2.medianBlur(small, 5)
    low, high = (float(value) for value in np.quantile(level[seen], (0.001, 0.999)))
    if high - low < 0.02:
        return nothing
    eight = np.clip((level - low) * (255.0 / (high - low)), 0, 255).astype(np.uint8)
    threshold, _ = cv2.threshold(eight[seen], 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    dark = cv2.morphologyEx(((eight <= threshold) & seen).astype(np.uint8), cv2.MORPH_OPEN, np.ones((9, 9), np.uint8))
    detail = np.abs(small - cv2.GaussianBlur(small, (0, 0), 2.0))
    count, labels, statistics, _ = cv2.connectedComponentsWithStats(dark, connectivity=4)
    found = np.zeros(small.shape, np.uint8)
    rim = _rim(seen)
    for label in range(1, count):
        if not 0.03 <= statistics[label, cv2.CC_STAT_AREA] / seen.sum() <= 0.6:
            continue
        here = (labels == label).astype(np.uint8)
        rest = seen & (cv2.dilate(here, np.ones((3, 3), np.uint8)) == 0)
        inner = cv2.erode(here, np.ones((5, 5), np.uint8)) > 0
        if inner.sum() < 50 or (rim & (here > 0)).sum() < 0.08 * rim.sum() or not _in_one_piece(rest):
            continue
        dark_level, rest_level = float(np.median(level[inner])), float(np.median(level[rest]))
        is_flat = np.median(detail[inner]) <= 0.3 * np.median(detail[rest])
        if is_flat and dark_level - low < 0.2 * (rest_level - low):
            found |= cv2.dilate(here, np.ones((3, 3), np.uint8))
    if not found.any():
        return nothing
    return cv2.resize(found, raw.shape[::-1], interpolation=cv2.INTER_NEAREST_EXACT) > 0


def _rim(seen: np.ndarray) -> np.ndarray:
    """Return the outermost two rows and columns of what is seen."""
    rows, cols = np.flatnonzero(seen.any(axis=1)), np.flatnonzero(seen.any(axis=0))
    rim = np.zeros(seen.shape, bool)
    rim[rows[0]:rows[0] + 2], rim[rows[-1] - 1:rows[-1] + 1] = True, True
    rim[:, cols[0]:cols[0] + 2], rim[:, cols[-1] - 1:cols[-1] + 1] = True, True
    return rim & seen


def _in_one_piece(area: np.ndarray) -> bool:
    """Tell whether nearly all of an area hangs together."""
    count, _, statistics, _ = cv2.connectedComponentsWithStats(area.astype(np.uint8), connectivity=8)
    return count > 1 and statistics[1:, cv2.CC_STAT_AREA].max() > 0.95 * area.sum()
