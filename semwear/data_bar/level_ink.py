"""Ink of one single grey level over the picture: what the picture shows is noisy, what a program burns in is not.

Bright parts of the picture that touch a bar or a letter mostly differ from it in level, however little (common practice,
no source).
"""

import cv2
import numpy as np

from semwear.data_bar.pieces import pieces_of

FEWEST_PX, MOST_SHARE, LARGEST_SHARE = 80, 0.1, 0.015
"""Pixels like all their neighbours that ink has at least, their share of the picture at most, and that of one connected piece:
larger ones are the ground of a strip or box."""
NEIGHBOUR_SHARE, OTHERS_SHARE = 0.05, 0.5
"""Such pixels that each of the levels beside may have, and all others but the second ink together, as shares of the ink's."""
LEVELS_BESIDE = 3
ABOVE_PICTURE = 50.0
"""Grey by which ink is brighter than the middle of the picture at least."""
WHITE = 255


def level_of_ink(grey: np.ndarray, outside: np.ndarray) -> int | None:
    """Return the grey level of flat bright ink, or None where the picture itself is flat, so that no level tells.

    grey: (rows, cols) uint8; outside: (rows, cols) bool, True off the panels. Dark levels are left alone: they are those of
    strips and shadows more often than of ink. White is looked at last, since the brightest parts of the picture are flat, too.

    >>> noise = np.random.default_rng(0).integers(60, 255, (200, 300)).astype(np.uint8)
    >>> noise[150:155, 20:80] = 250
    >>> level_of_ink(noise, np.ones(noise.shape, bool))
    250
    """
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    flat = (cv2.erode(grey, cross) == cv2.dilate(grey, cross)) & outside
    counts = np.bincount(grey[flat], minlength=WHITE + 1)
    counts[: int(np.median(grey[outside]) + ABOVE_PICTURE)] = 0
    short_of_white = counts.copy()
    short_of_white[WHITE] = 0
    for among in (short_of_white, counts):
        level = _sharp_peak(among, most=MOST_SHARE * grey.size)
        if level is not None and _is_in_pieces(grey == level):
            return level
    return None


def _is_in_pieces(ink: np.ndarray) -> bool:
    """Tell whether no connected piece of ink is as large as the ground of a strip or box, (rows, cols) bool."""
    stats = pieces_of(ink).stats
    return bool(stats[1:, cv2.CC_STAT_AREA].max(initial=0) <= LARGEST_SHARE * ink.size)


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
