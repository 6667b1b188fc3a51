"""Pictures that show no liner surface, so that the network learns to say so.

Most are drawn here from scratch (cells, fibres, pores, particles, grains, text, plain noise, smooth clouds). A few are
pieces of photographs that scikit-image ships; its other pictures are left for an honest check.
"""

import contextlib

import cv2
import numpy as np


def negative(rng: np.random.Generator, side: int) -> np.ndarray:
    """Return one picture (side, side) uint8 that is no liner surface."""
    kinds = (_cells, _fibres, _pores, _particles, _clouds, _text, _checks, _network_of_cracks, _shapes)
    picture = kinds[rng.integers(len(kinds))](rng, side).astype(np.float32)
    picture = (picture - picture.min()) / max(1e-6, float(np.ptp(picture)))
    picture = picture * rng.uniform(0.3, 1) + rng.normal(0, rng.uniform(0, 0.1), picture.shape)
    picture = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), rng.uniform(0.3, 1.5))
    return np.clip(255 * (picture + rng.uniform(0, 0.3)), 0, 255).astype(np.uint8)


PHOTOGRAPHS = ("camera", "page", "rocket", "cell", "horse", "cat", "colorwheel", "retina")
"""Names of scikit-image's pictures that are used; every other one is kept for checks."""


def photograph_piece(rng: np.random.Generator, side: int) -> np.ndarray:
    """Return a piece of a photograph (side, side) uint8, at a random scale, turned and mirrored."""
    from skimage import data

    picture = None
    while picture is None:  # some pictures come only with a download
        with contextlib.suppress(ImportError, OSError):
            picture = np.asarray(getattr(data, PHOTOGRAPHS[rng.integers(len(PHOTOGRAPHS))])(), dtype=np.float32)
    if picture.ndim == 3:
        picture = picture[..., :3].mean(-1)
    picture = picture * (255 / picture.max())
    extent = int(min(picture.shape) * rng.uniform(0.4, 1.0))
    top, left = (int(rng.integers(0, length - extent + 1)) for length in picture.shape)
    piece = cv2.resize(picture[top : top + extent, left : left + extent], (side, side), interpolation=cv2.INTER_AREA)
    piece = np.rot90(piece, int(rng.integers(4)))[:, :: int(rng.choice([-1, 1]))]
    return np.clip(piece, 0, 255).astype(np.uint8)


def _clouds(rng: np.random.Generator, side: int) -> np.ndarray:
    """Random field with a power-law spectrum, from white noise to smooth clouds."""
    frequency = np.hypot(np.fft.fftfreq(side)[:, None] * rng.uniform(0.7, 1.4), np.fft.rfftfreq(side)[None])
    frequency[0, 0] = 1
    spectrum = np.fft.rfft2(rng.normal(size=(side, side))) / frequency ** rng.uniform(0, 2.2)
    field = np.fft.irfft2(spectrum, (side, side))
    return np.abs(field) if rng.random() < 0.3 else field


def _seeds(rng: np.random.Generator, side: int) -> np.ndarray:
    count = int(rng.integers(15, 500))
    seeds = np.ones((side, side), np.uint8)
    seeds[rng.integers(0, side, count), rng.integers(0, side, count)] = 0
    return seeds


def _cells(rng: np.random.Generator, side: int) -> np.ndarray:
    """Cells or grains of a Voronoi mosaic, with walls or with a grey level each."""
    distance, labels = cv2.distanceTransformWithLabels(
        _seeds(rng, side), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    if rng.random() < 0.5:
        return rng.uniform(0, 1, labels.max() + 1)[labels]
    edges = cv2.morphologyEx(labels.astype(np.float32), cv2.MORPH_GRADIENT, np.ones((3, 3))) > 0
    walls = cv2.dilate(edges.astype(np.float32), np.ones((int(rng.integers(1, 9)),) * 2))
    return walls + 0.01 * distance * rng.normal()


def _network_of_cracks(rng: np.random.Generator, side: int) -> np.ndarray:
    cracks = -_cells(rng, side)
    return cracks + 0.6 * _clouds(rng, side) / 3


def _fibres(rng: np.random.Generator, side: int) -> np.ndarray:
    picture = np.zeros((side, side), np.float32)
    for _ in range(int(rng.integers(20, 350))):
        start, heading = rng.uniform(0, side, 2), rng.uniform(0, 2 * np.pi)
        turns = np.cumsum(rng.normal(0, rng.uniform(0.03, 0.4), 30)) + heading
        points = start + np.cumsum(np.stack([np.cos(turns), np.sin(turns)], 1), 0) * side / 25
        shade = rng.uniform(0.2, 1)
        cv2.polylines(picture, [points.astype(np.int32)], False, shade, int(rng.integers(1, 6)), cv2.LINE_AA)
    return picture


def _discs(rng: np.random.Generator, side: int, low: float, high: float) -> np.ndarray:
    picture = np.zeros((side, side), np.float32)
    for _ in range(int(rng.integers(8, 250))):
        centre = tuple(int(value) for value in rng.integers(0, side, 2))
        axes = tuple(int(value) for value in rng.uniform(low, high, 2) * side)
        cv2.ellipse(picture, centre, axes, rng.uniform(0, 180), 0, 360, rng.uniform(0.3, 1), -1, cv2.LINE_AA)
    return picture


def _pores(rng: np.random.Generator, side: int) -> np.ndarray:
    return -_discs(rng, side, 0.004, 0.08) + 0.1 * _clouds(rng, side)


def _particles(rng: np.random.Generator, side: int) -> np.ndarray:
    discs = _discs(rng, side, 0.01, 0.06)
    return cv2.GaussianBlur(discs, (0, 0), side * rng.uniform(0.002, 0.02)) + 0.2 * discs


def _text(rng: np.random.Generator, side: int) -> np.ndarray:
    page = np.zeros((side, side), np.uint8)
    row = 0
    while row < side:
        size = rng.uniform(0.4, 1.6)
        row += int(30 * size)
        words = "".join(chr(rng.integers(33, 122)) if rng.random() < 0.85 else " " for _ in range(60))
        origin = (int(rng.integers(-40, 60)), row)
        cv2.putText(page, words, origin, int(rng.integers(0, 8)), size, 255, 1 + int(size))
    picture = page.astype(np.float32) / 255
    return picture if rng.random() < 0.5 else -picture


def _checks(rng: np.random.Generator, side: int) -> np.ndarray:
    """Bricks, tiles, gratings at right angles."""
    row, col = np.mgrid[:side, :side] / side
    periods = rng.uniform(3, 30, 2)
    shifted = col + 0.5 / periods[0] * (np.floor(row * periods[1]) % 2) * (rng.random() < 0.5)
    gaps = np.minimum(np.abs(np.sin(np.pi * periods[0] * shifted)), np.abs(np.sin(np.pi * periods[1] * row)))
    return (gaps > rng.uniform(0.05, 0.4)) + 0.1 * rng.normal(size=(side, side))


def _shapes(rng: np.random.Generator, side: int) -> np.ndarray:
    """Large lit bodies before a background, as in a photograph."""
    picture = _clouds(rng, side)
    picture = cv2.GaussianBlur(picture, (0, 0), side / 20) if rng.random() < 0.7 else picture
    for _ in range(int(rng.integers(2, 10))):
        corners = rng.uniform(0, side, 2) + rng.normal(0, side * rng.uniform(0.05, 0.3), (int(rng.integers(3, 9)), 2))
        hull = cv2.convexHull(corners.astype(np.int32))
        body = cv2.fillConvexPoly(np.zeros((side, side), np.float32), hull, 1.0)
        picture = picture + rng.normal(0, 1) * cv2.GaussianBlur(body, (0, 0), rng.uniform(0.5, 15))
    return picture
