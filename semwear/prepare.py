"""A micrograph made ready for measuring: shading taken off, quality known, unusable parts marked, pixels square.

What is measured later is measured on ``image``; ``raw`` is the picture as it was, for overlays and for the network.
"""

import math
from dataclasses import dataclass, field

import cv2
import numpy as np

from semwear.calibrate import Calibration
from semwear.errors import RefusedError
from semwear.picture_quality import (
    MAD_TO_SIGMA,
    beyond_specimen,
    blooming,
    bright_bands,
    clipped_pixels,
    edge_width_px,
    noise_level,
)
from semwear.read import Micrograph
from semwear.terms import REGION_SIZE_UM

NARROWEST_GROOVE_UM = 5.0
"""Narrowest groove that is asked for, µm: hone grooves are 5–50 µm wide (figure of the trade, from memory)."""

BLURRED_SHARE = 0.6
"""Width of the sharpest edges, over the narrowest groove, from which a field is out of focus: its rims merge (own limit)."""

FINEST_EDGE_PX = 2.0
"""Edges up to this many pixels wide are as sharp as the pixels allow and never count as out of focus."""

MEASURED_PIXEL_UM = (0.05, 3.0)
"""Range of pixel sizes that the measurement is made for, µm; outside it a field is flagged."""

SMALLEST_SIDE_UM = 1.5 * REGION_SIZE_UM
"""Shorter side of a field below which it holds too few grooves for a fair sample, µm (own limit)."""

REFUSED_SIDE_UM = 2.0 * NARROWEST_GROOVE_UM
"""Shorter side below which nothing about grooves can be said: the field is not twice as wide as the narrowest one, µm."""

CLIPPED_SHARE = 0.02
"""Share of clipped pixels from which a field is flagged (common practice, no source)."""

HIDDEN_BY_CHARGING_SHARE = 0.01
"""Share of the picture hidden by bright bands or blooming from which a field is flagged."""

BAND_EXCESS = 3.0
"""Brightness of a charging band over the picture's median, in robust spreads (own limit)."""

NOISE_OVER_CONTRAST = 0.7
"""Noise over contrast, both at the scale of a fine groove, from which a field is flagged (own limit)."""

SMALLEST_ASSESSED_SHARE = 0.1
"""Share of the picture that must be assessed."""

SHADING_SIGMA_UM = 100.0
"""Finest Gaussian that shading is followed with, µm: twice the width of the widest grooves (from memory)."""

NOISE_SCALE_UM = 0.5 * NARROWEST_GROOVE_UM
"""Pixel size at which noise is held against contrast, µm: half of the narrowest groove."""


@dataclass(frozen=True, kw_only=True)
class PreparedField:
    """A field on a square pixel grid: the micrograph's own grid, unless its pixels were not square.

    ``image``: (rows, cols) float32, shading taken off, zero median and unit robust spread over what is assessed, and 0
    elsewhere;
    ``raw``: (rows, cols) float32, 0 black to 1 full scale; ``assessed``: (rows, cols) bool, False on data bar and marks,
    beyond the specimen, and where clipping or charging hides the surface; ``picture``: (rows, cols) bool, False on data bar
    and marks only; ``pixel_size_um``: side of a pixel; ``noise`` and ``contrast``: standard deviation of pixel noise and
    robust spread of the picture, shares of full scale; ``sharpness_um``: 20–80 % width of the strongest edges, nan when
    none stands out of the noise; ``own_shape``: (rows, cols) of the micrograph; ``flags``.
    """

    image: np.ndarray = field(repr=False)
    raw: np.ndarray = field(repr=False)
    assessed: np.ndarray = field(repr=False)
    picture: np.ndarray = field(repr=False)
    pixel_size_um: float
    noise: float
    contrast: float
    sharpness_um: float
    own_shape: tuple[int, int]
    flags: tuple[str, ...]

    def on_own_grid(self, array: np.ndarray) -> np.ndarray:
        """Return an array of this field's grid, such as mask codes, on the micrograph's own grid (nearest pixel)."""
        if array.shape == self.own_shape:
            return array
        moved = array.astype(np.uint8) if array.dtype == bool else array
        moved = cv2.resize(moved, self.own_shape[::-1], interpolation=cv2.INTER_NEAREST_EXACT)
        return moved.astype(array.dtype)


def prepare(micrograph: Micrograph, calibration: Calibration) -> PreparedField:
    """Return the prepared field of a calibrated micrograph.

    Raises RefusedError when the field is smaller than two of the narrowest grooves, or when next to nothing of it is left
    to assess.
    """
    raw = (micrograph.pixels.astype(np.float32) - np.float32(micrograph.black_level)) * np.float32(
        1.0 / (micrograph.white_level - micrograph.black_level))
    picture = np.zeros(raw.shape, bool)
    picture[calibration.data_bar.picture] = True
    picture &= ~calibration.data_bar.marks
    own_shape = raw.shape
    um = calibration.pixel_size_um
    if not calibration.is_square:
        raw = resample(raw, (calibration.pixel_height_um, um), um, order=1)
        picture = resample(picture, (calibration.pixel_height_um, um), um, order=0)
    flags = _size_flags(picture, um, micrograph.file)
    assessed = picture & ~beyond_specimen(raw, picture)
    black, white = clipped_pixels(raw, assessed)
    if (black | white)[assessed].mean() > CLIPPED_SHARE:
        flags.add("clipped")
    hidden = blooming(white, um, 0.5 * NARROWEST_GROOVE_UM)
    image, spread = flattened(raw, assessed & ~hidden, um)
    bands = bright_bands(image, assessed & ~hidden, least_excess=BAND_EXCESS)
    if bands.any():
        hidden[bands] = True
        image, spread = flattened(raw, assessed & ~hidden, um)
    if (hidden & assessed).sum() > HIDDEN_BY_CHARGING_SHARE * max(int(picture.sum()), 1):
        flags.add("charging")
    assessed &= ~hidden
    if assessed.sum() < SMALLEST_ASSESSED_SHARE * max(int(picture.sum()), 1) or assessed.sum() < 2500:
        raise RefusedError(f"{micrograph.file}: hardly anything of the picture can be assessed, the rest is clipped, charged "
                           "or beyond the specimen; take the field again.")
    image[~assessed] = 0.0
    noise = noise_level(raw, assessed & ~black & ~white)
    contrast = math.sqrt(max(spread * spread - noise * noise, 0.0))
    if too_noisy(raw, image, spread, assessed, noise, um):
        flags.add("too noisy")
    sharpness = edge_width_px(raw, assessed & ~white, noise) * um
    if sharpness > max(BLURRED_SHARE * NARROWEST_GROOVE_UM, FINEST_EDGE_PX * um):
        flags.add("out of focus")
    return PreparedField(image=image, raw=raw, assessed=assessed, picture=picture, pixel_size_um=um, noise=noise,
                         contrast=contrast, sharpness_um=sharpness, own_shape=own_shape, flags=tuple(sorted(flags)))


def _size_flags(picture: np.ndarray, um: float, file: str) -> set[str]:
    """Return the flags of pixel size and field size; raises RefusedError for fields smaller than grooves."""
    rows, cols = (int(picture.any(axis=axis).sum()) for axis in (1, 0))
    shorter_um = min(rows, cols) * um
    if shorter_um < REFUSED_SIDE_UM:
        raise RefusedError(f"{file}: the field is {cols * um:.3g} × {rows * um:.3g} µm and hone grooves are some "
                           f"{NARROWEST_GROOVE_UM:.0f}–50 µm wide, so that no hone lay can be found in it; take a wider field "
                           f"(at least {SMALLEST_SIDE_UM:.0f} µm).")
    flags = set()
    if um > MEASURED_PIXEL_UM[1]:
        flags.add("field too wide")
    if um < MEASURED_PIXEL_UM[0] or shorter_um < SMALLEST_SIDE_UM:
        flags.add("field too narrow")
    return flags


def flattened(raw: np.ndarray, assessed: np.ndarray, pixel_size_um: float) -> tuple[np.ndarray, float]:
    """Return the picture less its shading, in units of its robust spread (zero median), and that spread of full scale.

    Shading is a polynomial of second order in rows and columns, which a groove can hardly bend, and in fields so large that
    a Gaussian of twice the widest groove (SHADING_SIGMA_UM) is less than a third of them, what that Gaussian leaves of the
    rest. Both are fitted to a reduced picture without what is not assessed, and four times over, values further than
    1.5 robust spreads from the fit being pulled in.
    """
    background = _background(raw, assessed, pixel_size_um)
    image = raw - background
    sample = image[::3, ::3][assessed[::3, ::3]]
    if sample.size == 0:
        return np.zeros_like(raw), 0.0
    middle = float(np.median(sample))
    spread = MAD_TO_SIGMA * float(np.median(np.abs(sample - middle)))
    spread = spread or float(sample.std())
    if spread <= 0:
        return np.zeros_like(raw), 0.0
    image -= np.float32(middle)
    image *= np.float32(1.0 / spread)
    return image, spread


def _background(raw: np.ndarray, assessed: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Return the large-scale brightness, (rows, cols) float32."""
    step = max(max(raw.shape) // 80, 1)
    factor = 1.0 / step
    if assessed.all():
        level = cv2.resize(raw, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        weight = np.ones_like(level)
    else:
        weight = cv2.resize(assessed.astype(np.float32), None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        level = cv2.resize(raw * assessed, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    seen = weight > 0.3
    if seen.sum() < 40:
        return np.zeros_like(raw)
    level = np.divide(level, weight, out=np.zeros_like(level), where=seen)
    rows, cols = level.shape
    y, x = np.meshgrid(np.linspace(-1, 1, rows), np.linspace(-1, 1, cols), indexing="ij")
    terms = np.stack([x**i * y**j for i in range(3) for j in range(3 - i)], axis=-1)
    shorter = min(rows, cols)
    sigma = max(shorter / 8.0, SHADING_SIGMA_UM / pixel_size_um * factor)
    follows = sigma < shorter / 3.0
    covered = cv2.GaussianBlur(np.where(seen, weight, 0).astype(np.float32), (0, 0), sigma) if follows else weight
    fit = np.full(level.shape, np.median(level[seen]), np.float64)
    weights = weight[seen][:, None]
    for _ in range(4):
        residual = level - fit
        limit = 1.5 * MAD_TO_SIGMA * float(np.median(np.abs(residual[seen]))) + 1e-9
        pulled = fit + np.clip(residual, -limit, limit)
        coefficients, *_ = np.linalg.lstsq(terms[seen] * weights, pulled[seen] * weights[:, 0], rcond=None)
        fit = terms @ coefficients
        if follows:
            rest = np.where(seen, np.clip(level - fit, -limit, limit), 0.0).astype(np.float32) * weight
            fit = fit + cv2.GaussianBlur(rest, (0, 0), sigma) / np.maximum(covered, 1e-3)
    return cv2.resize(fit.astype(np.float32), raw.shape[::-1], interpolation=cv2.INTER_LINEAR)


def too_noisy(raw, image, spread: float, assessed, noise: float, pixel_size_um: float) -> bool:
    """Tell whether noise drowns the picture's contrast at the scale of a fine groove.

    Averaging n pixels lowers white noise by √n: noise and spread are compared at pixels of NOISE_SCALE_UM, or at the
    picture's own where those are coarser.
    """
    if spread <= 0:
        return True
    factor = min(pixel_size_um / NOISE_SCALE_UM, 1.0)
    step = min(int(1.0 / factor), min(raw.shape) // 64)
    if step > 1:
        factor = 1.0 / step
        small = cv2.resize(image, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        seen = cv2.resize(assessed.astype(np.uint8) * 255, small.shape[::-1], interpolation=cv2.INTER_AREA) > 230
    else:
        factor, small, seen = 1.0, image[::2, ::2], assessed[::2, ::2]
    if not seen.any():
        return True
    values = small[seen]
    spread_there = spread * MAD_TO_SIGMA * float(np.median(np.abs(values - np.median(values))))
    noise_there = noise * factor
    contrast_there = math.sqrt(max(spread_there**2 - noise_there**2, 0.0))
    return noise_there > NOISE_OVER_CONTRAST * contrast_there


def resample(array: np.ndarray, from_um: float | tuple[float, float], to_um: float, *, order: int) -> np.ndarray:
    """Return an array of pixels of ``from_um`` on square pixels of ``to_um`` that start at the same corner.

    ``array``: (rows, cols) or (rows, cols, channels), any real dtype or bool, which is kept; ``from_um``: side of a pixel,
    or (height, width); ``order``: 0 nearest pixel (for masks and codes), 1 linear, 3 cubic. Where pixels grow, orders 1
    and 3 average over the new pixel's area, so that means are kept and nothing aliases. The number of pixels is rounded,
    the scale is exact.

    >>> resample(np.array([[0, 0, 4, 4]], np.float32).repeat(2, 0), 1.0, 2.0, order=1)
    array([[0., 4.]], dtype=float32)
    """
    if order not in (0, 1, 3):
        raise ValueError(f"order is {order}; 0 (nearest), 1 (linear) and 3 (cubic) are known")
    height_um, width_um = from_um if isinstance(from_um, tuple) else (from_um, from_um)
    if not min(height_um, width_um, to_um) > 0:
        raise ValueError(f"pixel sizes are {height_um}, {width_um} and {to_um} µm; all must be positive")
    fx, fy = width_um / to_um, height_um / to_um
    if abs(fx - 1.0) < 1e-9 and abs(fy - 1.0) < 1e-9:
        return array.copy()
    kept = array.dtype
    is_mask = kept.kind == "b"
    work = array if order == 0 else array.astype(np.float32)
    for axis_fx, axis_fy in ((fx, 1.0), (1.0, fy)):
        factor = axis_fx * axis_fy
        if abs(factor - 1.0) < 1e-9:
            continue
        if order == 0:
            work = _nearest(work, axis_fx, axis_fy)
            continue
        way = cv2.INTER_AREA if factor < 1 else {1: cv2.INTER_LINEAR, 3: cv2.INTER_CUBIC}[order]
        work = cv2.resize(work, None, fx=axis_fx, fy=axis_fy, interpolation=way)
    if is_mask:
        return work > 0.5
    if kept.kind in "iu" and work.dtype != kept:
        return np.clip(np.rint(work), np.iinfo(kept).min, np.iinfo(kept).max).astype(kept)
    return work.astype(kept, copy=False)


def _nearest(array: np.ndarray, fx: float, fy: float) -> np.ndarray:
    """Return the nearest pixels along the one axis whose factor is not 1, by the places of pixel centres."""
    axis, factor = (1, fx) if fx != 1.0 else (0, fy)
    count = max(int(round(array.shape[axis] * factor)), 1)
    places = np.clip(np.floor((np.arange(count) + 0.5) / factor), 0, array.shape[axis] - 1).astype(np.intp)
    return np.ascontiguousarray(array.take(places, axis=axis))
