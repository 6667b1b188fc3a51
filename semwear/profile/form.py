"""Missing points filled, maps levelled, form removed: polynomials, and the two-step Gaussian mean surface.

Form is what the bore and the fixture give; texture is what is left. Deep valleys must not pull the form down, so that the
fit can weigh points by their distance (biweight), and the Gaussian mean surface is taken twice, the second time with the
valleys cut off at the first, as ISO 13565-1 does for profiles; along rows and columns alike.
"""

import numpy as np
from scipy.ndimage import distance_transform_edt, gaussian_filter

from semwear.profile.bearing_curve import GAUSS_ALPHA

BIWEIGHT_REACH = 4.4
"""Points beyond this many median absolute deviations get no weight (ISO/TS 16610-31 uses the same number)."""


def fill_missing(heights_um: np.ndarray) -> np.ndarray:
    """Return the map, (rows, cols) float64 µm, with every missing point filled from those around it.

    A missing point gets the mean of known heights weighted by a Gaussian that just reaches them, so that wide gaps are
    filled smoothly; known heights stay as they are. Raises ValueError for a map without any height.

    >>> heights = np.ones((5, 6)); heights[2, 3] = np.nan
    >>> bool((fill_missing(heights) == 1).all())
    True
    """
    known = np.isfinite(heights_um)
    if not known.any():
        raise ValueError("a map without any height can't be filled")
    if known.all():
        return np.array(heights_um, float)
    filled = np.where(known, heights_um, 0.0)
    distance = distance_transform_edt(~known)
    open_points, sigma = ~known, 1.0
    while open_points.any():
        here = open_points & (distance <= 2 * sigma)
        if here.any():
            weight = gaussian_filter(known.astype(float), sigma, mode="nearest", truncate=4)
            mean = gaussian_filter(np.where(known, heights_um, 0.0), sigma, mode="nearest", truncate=4)
            here &= weight > 1e-9
            filled[here] = mean[here] / weight[here]
            open_points = open_points & ~here
        sigma *= 2
    return filled


def grid_um(shape: tuple[int, int], pixel_width_um: float, pixel_height_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the place of every point along the rows and down the columns, µm from the middle, each (rows, cols)."""
    rows, cols = shape
    down = (np.arange(rows) - (rows - 1) / 2) * pixel_height_um
    along = (np.arange(cols) - (cols - 1) / 2) * pixel_width_um
    return np.broadcast_to(along, shape), np.broadcast_to(down[:, None], shape)


def polynomial_terms(along: np.ndarray, down: np.ndarray, order: int) -> np.ndarray:
    """Return the terms of a polynomial in two variables up to an order, (points, terms); variables best within ±1."""
    return np.stack([along**i * down**j for i in range(order + 1) for j in range(order + 1 - i)], axis=-1)


def polynomial_form(
    heights_um: np.ndarray, order: int, *, chosen: np.ndarray | None = None, robust: bool = True
) -> np.ndarray:
    """Return the polynomial surface fitted to a map, (rows, cols) float64 µm, also where nothing was measured.

    ``order``: 0 the mean, 1 levelling, 2 a bore. ``chosen``: bool, the points that the fit uses. ``robust``: reweighted by
    the biweight of the residuals, so that valleys don't count; otherwise plain least squares, whose residuals have mean
    zero. Raises ValueError with fewer known points than ten times the terms.
    """
    rows, cols = heights_um.shape
    along, down = np.meshgrid(np.linspace(-1, 1, cols), np.linspace(-1, 1, rows))
    known = np.isfinite(heights_um) if chosen is None else np.isfinite(heights_um) & chosen
    terms = polynomial_terms(along[known], down[known], order)
    if terms.shape[0] < 10 * terms.shape[1]:
        raise ValueError(
            f"{terms.shape[0]} points are too few for a form of order {order}, which takes {10 * terms.shape[1]}; state a wider track, "
            "give a larger map or lower --form-order"
        )
    heights = heights_um[known]
    thin = max(1, heights.size // 400_000)
    weight = np.ones(heights.size)
    for step in range(6 if robust else 1):
        root = np.sqrt(weight[::thin])
        solution = np.linalg.lstsq(terms[::thin] * root[:, None], heights[::thin] * root, rcond=None)[0]
        if not robust:
            if thin > 1:  # all points, by the normal equations
                solution = np.linalg.solve(terms.T @ terms, terms.T @ heights)
            break
        residual = heights - terms @ solution
        residual -= np.median(residual)
        reach = BIWEIGHT_REACH * np.median(np.abs(residual))
        if reach <= 0 or step == 5:
            break
        weight = np.square(np.clip(1 - np.square(residual / reach), 0, None))
    form = np.zeros((rows, cols))
    powers = [(power, other) for power in range(order + 1) for other in range(order + 1 - power)]
    for factor, (power, other) in zip(solution, powers, strict=True):
        form += factor * along**power * down**other
    return form


def gaussian_mean_surface(
    filled_um: np.ndarray, nesting_um: float, pixel_width_um: float, pixel_height_um: float
) -> np.ndarray:
    """Return the two-step Gaussian mean surface of a map without gaps, (rows, cols) float64 µm.

    ``nesting_um``: wavelength of half transmission. The valleys are cut off at the first mean surface before the second.
    """
    sigma = [GAUSS_ALPHA * nesting_um / np.sqrt(2 * np.pi) / step for step in (pixel_height_um, pixel_width_um)]
    first = gaussian_filter(filled_um, sigma, mode="reflect", truncate=4)
    return gaussian_filter(np.maximum(filled_um, first), sigma, mode="reflect", truncate=4)
