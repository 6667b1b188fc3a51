"""Directions in which the grooves of a field run, by the edges of their footprint.

The network's probability of a groove (open or smeared) shows grooves without the marks, stains and texture around them.
The gradient at a groove's edge points across it, so that the directions of the edges, averaged over some µm by the structure
tensor (Bigün and Granlund 1987, from memory) and counted by their strength, pile up narrowly at the lays, each with the
share of groove edge that runs along it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from semwear.lay import direction_difference
from semwear.rose import BINS_PER_DEGREE, entries_near, quarters, smoothed, tops

LONGEST_SIDE_PX = 640
"""Longest side of the reduced footprint, px."""
FINEST_PIXEL_UM = 0.4
"""Finer pixels show the raggedness of edges only, µm."""
EDGE_UM, WINDOW_UM = 1.5, 4.0
"""Standard deviation of the smoothing before the gradient, and of the averaging of edges after it, µm."""
SMOOTH_DEG = 1.0
"""Standard deviation of the smoothing over directions, degrees: grooves of one lay differ by about as much."""
HEIGHT_MIN, NARROWNESS_MIN = 3.0, 2.0
"""Least height of a lay's peak, in multiples of the mean over all directions, and over what lies 8° beside it."""
SHARE_MIN, TOGETHER_MIN = 0.08, 0.3
"""Least share of groove edge within 4° of a lay, and of all lays together: spots and noise have no direction."""
REACH_DEG, BESIDE_DEG, NEAR_DEG = 5.0, 8.0, 4.0
"""A peak is the highest within the first; its foot is taken at the second; what lies within the third belongs to it."""
PART_SHARE, PARTS_MIN = 0.1, 2
"""Share of a lay's edges that counts as seen in a quarter of the field, and quarters in which it has to be seen."""
FOOTPRINT_MIN = 0.01
"""Least mean probability of a groove over the field: fewer grooves have no lay."""
BACKED_MIN = 0.35
"""Groove edge near a direction, in multiples of the mean, from which some groove runs along it."""


@dataclass(frozen=True, kw_only=True, eq=False)
class GrooveDirections:
    """Where the grooves of a field run.

    lays: (direction, share of groove edge) of every lay, largest share first, in degrees [0, 180) anticlockwise from the
    picture's rows; rose: groove edge by direction, 180 × BINS_PER_DEGREE values in multiples of their mean.
    """

    lays: tuple[tuple[float, float], ...]
    rose: np.ndarray

    def backs(self, direction_deg: float) -> bool:
        """Tell whether any groove runs within 1° of a direction."""
        return bool(self.rose[entries_near(self.rose, direction_deg, 1.0)].max() >= BACKED_MIN)


def groove_directions(footprint: np.ndarray, assessed: np.ndarray, pixel_size_um: float) -> GrooveDirections:
    """Return the lays that the grooves of a field show; fewer grooves than FOOTPRINT_MIN show none.

    footprint: (rows, cols) float32 probability of a groove; assessed: (rows, cols) bool; pixel_size_um: side of a pixel, µm.
    On drawn grooves directions are found to 1°.
    """
    none = GrooveDirections(lays=(), rose=np.zeros(180 * BINS_PER_DEGREE))
    if not assessed.any() or footprint[assessed].mean() < FOOTPRINT_MIN:
        return none
    direction, weight = _edges(np.where(assessed, footprint, 0.0), assessed, pixel_size_um)
    rose = _counted(direction, weight)
    total = rose.sum()
    if not total > 0:
        return none
    found = []
    narrow = {"beside_deg": BESIDE_DEG, "narrowness_min": NARROWNESS_MIN}
    for index in tops(rose, reach_deg=REACH_DEG, height_min=HEIGHT_MIN, **narrow):
        share = float(rose[entries_near(rose, index / BINS_PER_DEGREE, NEAR_DEG)].sum() / total)
        centre = float((index + _centroid(rose, index)) / BINS_PER_DEGREE % 180.0)
        if share >= SHARE_MIN and _is_widespread(direction, weight, centre):
            found.append((centre, share))
    if sum(share for _, share in found) < TOGETHER_MIN:
        found = []
    return GrooveDirections(lays=tuple(sorted(found, key=lambda lay: -lay[1])), rose=rose)


def _edges(footprint: np.ndarray, assessed: np.ndarray, pixel_size_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the direction of the line at each pixel of the reduced footprint, degrees, and how much of an edge it is."""
    reduction = max(max(footprint.shape) / LONGEST_SIDE_PX, FINEST_PIXEL_UM / pixel_size_um, 1.0)
    size = tuple(max(8, round(side / reduction)) for side in footprint.shape[::-1])
    image = cv2.resize(footprint.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    known = cv2.resize(assessed.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    pixel_size_um *= reduction
    image = cv2.GaussianBlur(image, (0, 0), max(1.0, EDGE_UM / pixel_size_um))
    right, down = (cv2.Sobel(image, cv2.CV_32F, *axis, ksize=3) for axis in ((1, 0), (0, 1)))
    window = max(2.0, WINDOW_UM / pixel_size_um)
    xx, yy, xy = (cv2.GaussianBlur(part, (0, 0), window) for part in (right * right, down * down, right * down))
    apart = np.hypot(xx - yy, 2 * xy)
    coherence = (apart / np.maximum(xx + yy, 1e-9)) ** 4
    # Rows grow downwards on the screen, and the line runs across the gradient.
    direction = (90.0 - np.rad2deg(0.5 * np.arctan2(2 * xy, xx - yy))) % 180.0
    # The edge of what was assessed is no edge of a groove.
    inner = cv2.erode(cv2.copyMakeBorder(known, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0), np.ones((7, 7), np.uint8))[1:-1, 1:-1]
    return direction, np.hypot(right, down) * coherence * inner


def _counted(direction: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Return the weight by direction, 180 × BINS_PER_DEGREE values, in multiples of their mean; zeros if there is none."""
    bins = 180 * BINS_PER_DEGREE
    rose = np.bincount((direction * BINS_PER_DEGREE).astype(int).ravel() % bins, weights=weight.ravel(), minlength=bins)
    rose = smoothed(rose, SMOOTH_DEG)
    return rose / rose.mean() if rose.sum() > 0 else np.zeros(bins)


def _centroid(rose: np.ndarray, index: int) -> float:
    """Return how far the centroid of a peak lies from its highest entry, in entries."""
    offsets = np.arange(-round(2.5 * BINS_PER_DEGREE), round(2.5 * BINS_PER_DEGREE) + 1)
    heights = rose[(index + offsets) % rose.size]
    return float((heights * offsets).sum() / heights.sum())


def _is_widespread(direction: np.ndarray, weight: np.ndarray, lay_deg: float) -> bool:
    """Tell whether the edges along a lay are seen in enough quarters of the field: one piece of a groove is no lay."""
    own = np.where(np.abs(direction_difference(direction, lay_deg)) <= NEAR_DEG, weight, 0.0)
    return sum(own[part].sum() >= PART_SHARE * own.sum() for part in quarters(own.shape)) >= PARTS_MIN
