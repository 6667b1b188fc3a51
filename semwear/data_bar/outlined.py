"""Ink with an outline of the opposite tone, burnt over the picture: white in black, black in white, a colour in black.

An outline cuts each stroke out of whatever the picture shows behind it. A connected piece of ink whose whole rim is of
the opposite extreme is therefore print, and picture of the same tone can't be joined to it. Such ink needs no ground of
its own: all that isn't outlined is left out of the layer.

Which length counts: an outline is drawn around the ink of a bar as around the letters of its label, to set them off, so
that the printed length is that of the ink inside (common practice, no source).
"""

import cv2
import numpy as np

from semwear.data_bar.pieces import pieces_of

LEAST_RANGE = 90
"""Grey levels (of 255) between ink and outline."""
INK_SHARE = 0.78
"""Share of the range that the brightest pixel of a piece must reach."""
RIM_SHARE = 0.3
"""Share of the range below which the darkest pixel next to a rim must lie to be outline."""
OUTLINED_SHARE = 0.9
"""Share of the rim of a piece that must be outline."""
EDGE_SHARES = (0.5, 0.72)
"""Shares of the range at which pieces are cut: half, and higher for a thin outline that lets half through."""
TALLEST_PX = 80
"""Higher pieces are neither letters nor bars."""
LARGEST_POINT_PX, POINT_SHARE = 16, 0.62
"""Pixels of a decimal point at most, and the share of the range that its brightest must reach."""
BESIDE_PX = 8
"""Columns from a letter to a point."""
FEWEST_PX = 20
MOST_SHARE = 0.15
"""More outlined ink than this share of the picture is a picture of grains, not print."""


def outlined_pieces(plane: np.ndarray, outside: np.ndarray, *, top: float, bottom: float) -> np.ndarray | None:
    """Return the pieces of bright ink with a dark outline, or None if there are too few pixels of them.

    plane: (rows, cols) uint8, ink bright; outside: (rows, cols) bool, True off the panels; top, bottom: grey of ink and
    of outline. Result: (rows, cols) bool.

    >>> plane = np.full((100, 90), 130, np.uint8)
    >>> plane[10:20, 10:80], plane[12:18, 12:78], plane[0:9, 0:30] = 0, 255, 255
    >>> pieces = outlined_pieces(plane, np.ones(plane.shape, bool), top=255.0, bottom=0.0)
    >>> int(pieces.sum()) == 6 * 66, bool(pieces[12:18, 12:78].all())
    (True, True)
    """
    extent = top - bottom
    if extent < LEAST_RANGE:
        return None
    kernel = np.ones((3, 3), np.uint8)
    dark = cv2.erode(plane, kernel) <= bottom + RIM_SHARE * extent
    bright = plane >= bottom + INK_SHARE * extent
    pieces = np.zeros(plane.shape, bool)
    for share in EDGE_SHARES:
        mask = ((plane > bottom + share * extent) & outside).astype(np.uint8)
        found = pieces_of(mask)
        labels, stats, count = found.labels, found.stats, len(found.stats)
        narrow = labels if labels.dtype == np.uint16 else labels.astype(np.float32)
        rim = cv2.dilate(narrow, kernel)
        rim[mask > 0] = 0
        at = np.flatnonzero(rim)
        owner = rim.ravel()[at].astype(np.int64)
        around = np.bincount(owner, minlength=count)
        outlined = np.bincount(owner, weights=dark.ravel()[at], minlength=count) >= OUTLINED_SHARE * np.maximum(
            around, 1
        )
        outlined &= stats[:, cv2.CC_STAT_HEIGHT] <= TALLEST_PX
        outlined[0] = False
        reached = np.zeros(count, bool)
        reached[labels[bright]] = True
        chosen = outlined & reached & (stats[:, cv2.CC_STAT_AREA] >= 2)
        if not chosen.any():
            continue
        # Points are too small to reach full ink where the picture was compressed; they stand beside letters.
        beside = cv2.dilate(chosen[labels].astype(np.uint8), np.ones((5, 2 * BESIDE_PX + 1), np.uint8)) > 0
        near = labels[beside & (plane >= bottom + POINT_SHARE * extent)]
        points = outlined & (stats[:, cv2.CC_STAT_AREA] <= LARGEST_POINT_PX)
        chosen[near] |= points[near]
        pieces |= chosen[labels]
    return pieces if FEWEST_PX <= pieces.sum() <= MOST_SHARE * pieces.size else None
