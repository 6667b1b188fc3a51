"""Ink of one single grey level over the picture: what the picture shows is noisy, what a program burns in is not.

Bright parts of the picture that touch a bar or a letter mostly differ from it in level, however little (common practice,
no source).
"""

import cv2
import numpy as np

FEWEST_PX, MOST_SHARE = 80, 0.1
"""Pixels like all their neighbours that ink has at least, and their share of the picture at most."""
NEIGHBOUR_SHARE, OTHERS_SHARE = 0.05, 0.5
"""Such pixels that each of the levels beside may have, and all others but the second ink together, as shares of the ink's."""
LEVELS_BESIDE = 3
WHITE = 255


def level_of_ink(grey: np.ndarray, outside: np.ndarray) -> int | None:
    """Return the grey level of flat ink, or None where the picture itself is flat, so that no level tells.

    grey: (rows, cols) uint8; outside: (rows, cols) bool, True off the panels. The picture is flat in its deepest shadows,
    and black ink may be outlined in white: it is left to :mod:`semwear.data_bar.outlined`. White is looked at last, since
    the brightest parts of the picture are flat, too.

    >>> noise = np.random.default_rng(0).integers(60, 255, (200, 300)).astype(np.uint8)
    >>> noise[150:160, 20:90] = 250
    >>> level_of_ink(noise, np.ones(noise.shape, bool))
    250
    """
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    flat = (cv2.erode(grey, cross) == cv2.dilate(grey, cross)) & outside
    counts = np.bincount(grey[flat], minlength=WHITE + 1)
    counts[0] = 0
    short_of_white = counts.copy()
    short_of_white[WHITE] = 0
    level = _sharp_peak(short_of_white, most=MOST_SHARE * grey.size)
    return _sharp_peak(counts, most=MOST_SHARE * grey.size) if level is None else level


def _sharp_peak(counts: np.ndarray, *, most: float) -> int | None:
    """Return the level that flat pixels keep to, or None if they spread over levels."""
    second, first = np.argsort(counts)[-2:]
    beside = counts[max(first - LEVELS_BESIDE, 0) : first + LEVELS_BESIDE + 1].copy()
    beside[min(first, LEVELS_BESIDE)] = 0
    others = counts.sum() - counts[first] - counts[second]
    sharp = beside.max() <= NEIGHBOUR_SHARE * counts[first] and others <= OTHERS_SHARE * counts[first]
    return int(first) if sharp and FEWEST_PX <= counts[first] <= most else None


def without_brighter(plane: np.ndarray, level: int) -> np.ndarray:
    """Return the plane with all that is brighter than the ink taken for ground, (rows, cols) uint8."""
    return np.where(plane > level, 0, plane).astype(np.uint8)
