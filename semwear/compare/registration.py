"""One place pictured before and after the test, laid on each other: rotation and shift, the scale being known.

Both are brought to one pixel size and reduced to their relief (band-pass over local contrast). Pictures of the grooves'
footprints serve best: grey levels change with wear, detector and session, a groove can be dark before and bright after. A search over all rotations at coarse scale (masked normalised cross-correlation through
Fourier transforms, Padfield, IEEE Trans. Image Process. 21 (2012) 2706) gives candidates; each is refined by maximising
the enhanced correlation coefficient (Evangelidis and Psarakis, 2008; OpenCV) over rotation and shift only. The fit is
believed when the relief correlates over a large overlap and clearly better than at the next best place.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from scipy import fft

COARSE_SIDE_PX = 128
FINE_SIDE_PX = 400
ANGLE_STEP_DEG = 3.0
LEAST_OVERLAP = 0.3
"""Share of the smaller picture that must be seen in the other."""
LEAST_CORRELATION = 0.3
"""Correlation of the relief over the overlap below which a fit isn't believed (this project's own limit)."""
LEAST_LEAD = 0.08
"""Score (correlation times root of overlap) by which a fit must lead the next best place (this project's own limit)."""
CANDIDATES = 5


@dataclass(frozen=True, kw_only=True)
class Registration:
    """How the second picture lies on the first.

    ``matrix``: (2, 3), takes (col, row) in pixels of the first picture to (col, row) in pixels of the second.
    ``rotation_deg``: by which the second is turned against the first, anticlockwise on the screen, in (-180, 180].
    ``shift_um``: (down, right) of the second picture's centre in the first picture, from the first's centre.
    ``is_believed`` False comes with the ``reason``.
    """

    matrix: np.ndarray
    rotation_deg: float
    shift_um: tuple[float, float]
    correlation: float
    lead: float
    overlap: float
    is_believed: bool
    reason: str = ""


def register(
    first: np.ndarray,
    second: np.ndarray,
    *,
    first_pixel_um: float,
    second_pixel_um: float,
    first_mask: np.ndarray | None = None,
    second_mask: np.ndarray | None = None,
) -> Registration:
    """Return how ``second`` lies on ``first``.

    first, second: (rows, cols) grey, any range; masks: bool, True where the picture shows the specimen. Pixels are square.
    """
    working_um = max(
        first_pixel_um,
        second_pixel_um,
        min(_longest_um(first, first_pixel_um), _longest_um(second, second_pixel_um)) / FINE_SIDE_PX,
    )
    one, one_mask = _relief(first, first_mask, first_pixel_um / working_um)
    two, two_mask = _relief(second, second_mask, second_pixel_um / working_um)
    coarse = max(1.0, max(one.shape) / COARSE_SIDE_PX)
    candidates = _candidates(_shrunk(one, one_mask, coarse), _shrunk(two, two_mask, coarse), coarse)
    fits = [_refined(one, two, one_mask, two_mask, matrix) for matrix in candidates]
    fits = sorted((fit for fit in fits if fit is not None), key=_score, reverse=True)
    if not fits:
        return _not_believed(np.eye(2, 3), 0.0, 0.0, 0.0, "no placement of the pictures on each other was found")
    matrix, correlation, overlap = fits[0]
    rivals = [_score(fit) for fit in fits[1:] if _is_elsewhere(matrix, fit[0], one.shape)]
    lead = _score(fits[0]) - max([*rivals, 0.0])
    to_first, to_second = first_pixel_um / working_um, second_pixel_um / working_um
    own = _in_own_pixels(matrix, to_first, to_second)
    placed = {"matrix": own, "correlation": correlation, "lead": lead, "overlap": overlap}
    if overlap < LEAST_OVERLAP:
        return _not_believed(own, correlation, lead, overlap, f"the pictures share {100 * overlap:.0f} % only")
    if correlation < LEAST_CORRELATION or lead < LEAST_LEAD:
        reason = (
            f"the pictures don't fit believably (correlation {correlation:.2f}, lead over the next place {lead:.2f})"
        )
        return _not_believed(own, correlation, lead, overlap, reason)
    rotation, shift = _pose(own, first.shape, second.shape, first_pixel_um)
    return Registration(**placed, rotation_deg=rotation, shift_um=shift, is_believed=True)


def _score(fit) -> float:
    """Return the correlation weighed by the root of the overlap: a small overlap correlates well by chance."""
    return fit[1] * math.sqrt(fit[2])


def _not_believed(matrix, correlation, lead, overlap, reason) -> Registration:
    return Registration(
        matrix=matrix,
        rotation_deg=math.nan,
        shift_um=(math.nan, math.nan),
        correlation=correlation,
        lead=lead,
        overlap=overlap,
        is_believed=False,
        reason=reason,
    )


def _longest_um(picture: np.ndarray, pixel_um: float) -> float:
    return max(picture.shape) * pixel_um


def _relief(picture, mask, scale: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the band-passed picture over its local spread, and its mask, at the working scale."""
    picture = np.asarray(picture, dtype=np.float32)
    mask = np.ones(picture.shape, np.float32) if mask is None else np.asarray(mask, dtype=np.float32)
    size = (max(16, round(picture.shape[1] * scale)), max(16, round(picture.shape[0] * scale)))
    method = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    filled = np.where(mask > 0, picture, picture[mask > 0].mean() if (mask > 0).any() else 0).astype(np.float32)
    small, small_mask = cv2.resize(filled, size, interpolation=method), cv2.resize(mask, size, interpolation=method)
    band = cv2.GaussianBlur(small, (0, 0), 1.2) - cv2.GaussianBlur(small, (0, 0), 9.0)
    spread = np.sqrt(cv2.GaussianBlur(band * band, (0, 0), 25.0))
    relief = np.clip(band / np.maximum(spread, 1e-6 + 0.05 * float(spread.max())), -3, 3)
    inside = cv2.erode((small_mask > 0.99).astype(np.float32), np.ones((5, 5), np.uint8))
    return (relief * inside).astype(np.float32), inside


def _shrunk(relief: np.ndarray, mask: np.ndarray, factor: float) -> tuple[np.ndarray, np.ndarray]:
    size = (max(8, round(relief.shape[1] / factor)), max(8, round(relief.shape[0] / factor)))
    small = cv2.resize(cv2.GaussianBlur(relief, (0, 0), 0.35 * factor), size, interpolation=cv2.INTER_AREA)
    inside = (cv2.resize(mask, size, interpolation=cv2.INTER_AREA) > 0.5).astype(np.float32)
    return small * inside, inside


def _candidates(one, two, factor: float) -> list[np.ndarray]:
    """Return placements (col, row of the first to col, row of the second, at the fine scale), best correlation first."""
    (relief, mask), (other, other_mask) = one, two
    side = math.hypot(*other.shape)
    canvas = int(math.ceil(side)) + 2
    shape = tuple(fft.next_fast_len(size + canvas, real=True) for size in relief.shape)
    first_spectra = [fft.rfft2(array, shape) for array in (relief, mask, relief * relief)]
    found = []
    least = LEAST_OVERLAP * min(mask.sum(), other_mask.sum())
    for angle in np.arange(0.0, 360.0, ANGLE_STEP_DEG):
        # cv2 turns anticlockwise for positive angles; the second is turned back by the angle it was turned by.
        turn = cv2.getRotationMatrix2D(((other.shape[1] - 1) / 2, (other.shape[0] - 1) / 2), -angle, 1.0)
        turn[:, 2] += ((canvas - other.shape[1]) / 2, (canvas - other.shape[0]) / 2)
        turned = cv2.warpAffine(other, turn, (canvas, canvas))
        turned_mask = (cv2.warpAffine(other_mask, turn, (canvas, canvas)) > 0.5).astype(np.float32)
        correlation = _masked_correlation(first_spectra, turned * turned_mask, turned_mask, shape, least)
        for _ in range(2):
            row, col = np.unravel_index(int(np.argmax(correlation)), correlation.shape)
            value = float(correlation[row, col])
            shift = [
                place - size if place > size - canvas else place for place, size in ((row, shape[0]), (col, shape[1]))
            ]
            found.append((value, turn, shift))
            correlation[max(0, row - 4) : row + 5, max(0, col - 4) : col + 5] = -1
    found.sort(key=lambda each: -each[0])
    placements: list[np.ndarray] = []
    for _, turn, (row, col) in found:
        # A point p of the first lies at p - shift on the canvas, which the turn's inverse takes to the second.
        back = cv2.invertAffineTransform(turn)
        matrix = back.copy()
        matrix[:, 2] += back[:, :2] @ np.array([-col, -row], dtype=float)
        matrix = _scaled(matrix, factor)
        if all(
            _is_elsewhere(matrix, kept, [size * factor for size in relief.shape], 5 * factor) for kept in placements
        ):
            placements.append(matrix)
        if len(placements) == CANDIDATES:
            break
    return placements


def _masked_correlation(first_spectra, turned, turned_mask, shape, least: float) -> np.ndarray:
    spectra = [np.conj(fft.rfft2(array, shape)) for array in (turned, turned_mask, turned * turned)]
    product, overlap, energy, other_energy = (
        fft.irfft2(first_spectra[one] * spectra[other], shape) for one, other in ((0, 0), (1, 1), (2, 1), (1, 2))
    )
    safe = np.sqrt(np.maximum(energy, 1e-3) * np.maximum(other_energy, 1e-3))
    return np.where(overlap >= least, product / safe, -1.0)


def _scaled(matrix: np.ndarray, factor: float) -> np.ndarray:
    """Return a placement between pixel grids that are ``factor`` finer (pixel centres at integers)."""
    half = (factor - 1) / 2
    scaled = matrix.copy()
    # Coarse centre c corresponds to fine factor·c + half.
    scaled[:, 2] = factor * matrix[:, 2] + half - matrix[:, :2] @ np.array([half, half])
    return scaled


def _in_own_pixels(matrix: np.ndarray, first_scale: float, second_scale: float) -> np.ndarray:
    """Return a placement between working grids as one between the pictures' own grids."""
    own = matrix.copy()
    first_half, second_half = (first_scale - 1) / 2, (second_scale - 1) / 2
    own[:, :2] = matrix[:, :2] * first_scale / second_scale
    own[:, 2] = (matrix[:, :2] @ np.array([first_half, first_half]) + matrix[:, 2] - second_half) / second_scale
    return own


def _refined(one, two, one_mask, two_mask, matrix):
    """Return the placement refined by rotation and shift, its correlation and overlap; None when that fails."""
    size, flags = (one.shape[1], one.shape[0]), cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    # The second is laid on the first before refining: OpenCV takes the angle from its sine, so within a right angle only.
    laid, laid_mask = (cv2.warpAffine(array, matrix, size, flags=flags) for array in (two, two_mask))
    steps = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 60, 1e-5)
    step = np.eye(2, 3, dtype=np.float32)
    for blur in (9, 3):
        try:
            _, step = cv2.findTransformECC(
                one, laid, step, cv2.MOTION_EUCLIDEAN, steps, (laid_mask > 0.99).astype(np.uint8), blur
            )
        except cv2.error:
            return None
    refined = (np.vstack([matrix, [0, 0, 1]]) @ np.vstack([step, [0, 0, 1]]))[:2]
    laid, laid_mask = (cv2.warpAffine(array, refined, size, flags=flags) for array in (two, two_mask))
    both = (laid_mask > 0.99) & (one_mask > 0)
    if both.sum() < 400 or _is_elsewhere(refined, matrix, one.shape, 0.1 * max(one.shape)):
        return None
    overlap = float(both.sum() / max(1.0, min(one_mask.sum(), two_mask.sum())))
    pair = np.corrcoef(one[both], laid[both])[0, 1]
    return refined, float(pair) if np.isfinite(pair) else 0.0, overlap


def _is_elsewhere(matrix: np.ndarray, other: np.ndarray, shape, far_px: float = 25.0) -> bool:
    """True when two placements take the corners of the first picture to places more than ``far_px`` apart."""
    rows, cols = shape
    corners = np.array([[0, 0, 1], [cols, 0, 1], [0, rows, 1], [cols, rows, 1]], dtype=float)
    return bool(np.abs(corners @ (matrix - other).T).max() > far_px)


def _pose(matrix: np.ndarray, first_shape, second_shape, first_pixel_um: float) -> tuple[float, tuple[float, float]]:
    """Return rotation (anticlockwise on the screen) and the shift of the second's centre in the first, µm."""
    # Rows run downwards: a point turned anticlockwise by a on the screen goes from (1, 0) to (cos a, -sin a).
    rotation = math.degrees(math.atan2(-matrix[1, 0], matrix[0, 0]))
    inverse = cv2.invertAffineTransform(matrix)
    centre = inverse @ np.array([(second_shape[1] - 1) / 2, (second_shape[0] - 1) / 2, 1.0])
    down = (centre[1] - (first_shape[0] - 1) / 2) * first_pixel_um
    right = (centre[0] - (first_shape[1] - 1) / 2) * first_pixel_um
    return rotation, (float(down), float(right))


def lay_on(first_shape: tuple[int, int], second: np.ndarray, matrix: np.ndarray, *, outside: float) -> np.ndarray:
    """Return the second picture or mask on the first's pixel grid, nearest neighbour, ``outside`` where it doesn't reach."""
    return cv2.warpAffine(
        second,
        matrix,
        (first_shape[1], first_shape[0]),
        flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=outside,
    )
