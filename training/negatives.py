"""Pictures that show no liner surface, so that the network learns to say so.

Most are drawn here from scratch (cells, stones, fibres and mats of them, pores, particles, powders, fracture faces,
lamellae, scratches in all directions, branching vessels, text, plain noise, smooth clouds). Some are pieces of photographs
that scikit-image ships; its other pictures are left for an honest check. And some are liner surfaces that no liner can show:
bent, shuffled, scrambled.
"""

import contextlib

import cv2
import numpy as np


def negative(rng: np.random.Generator, side: int) -> np.ndarray:
    """Return one picture (side, side) uint8 that is no liner surface."""
    kinds = (
        _cells, _fibres, _pores, _particles, _clouds, _text, _checks, _network_of_cracks, _shapes, _stones, _powder,
        _fracture, _lamellae, _scratches_everywhere, _page, _handwriting, _mat, _vessels,
    )  # fmt: skip
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


def _uneven_light(rng: np.random.Generator, side: int, blur_px: float) -> np.ndarray:
    """Smooth field (side, side) float32 of at most 1 either way."""
    light = cv2.GaussianBlur(_clouds(rng, side).astype(np.float32), (0, 0), blur_px)
    return light / (np.abs(light).max() + 1e-6)


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
        headings = np.cumsum(rng.normal(0, rng.uniform(0.03, 0.4), 30)) + heading
        shade = rng.uniform(0.2, 1)
        cv2.polylines(picture, [_curve(start, headings, side)], False, shade, int(rng.integers(1, 6)), cv2.LINE_AA)
    return picture


def _curve(start: np.ndarray, headings: np.ndarray, side: int) -> np.ndarray:
    """Points (steps, 2) int32 of a line from a place on that takes a step of a 25th of the picture's side in each heading."""
    steps = np.stack([np.cos(headings), np.sin(headings)], 1)
    return (start + np.cumsum(steps, 0) * side / 25).astype(np.int32)


def _mat(rng: np.random.Generator, side: int) -> np.ndarray:
    """A mat of thin fibres in layers: the deeper they lie, the darker and the less sharp."""
    picture = np.zeros((side, side), np.float32)
    bend, width = rng.uniform(0.02, 0.25), int(rng.integers(1, 4))
    for height in np.linspace(0.15, 1, int(rng.integers(3, 7))):
        layer = np.zeros((side, side), np.float32)
        for _ in range(int(rng.integers(40, 300))):
            headings = np.cumsum(rng.normal(0, bend, 20)) + rng.uniform(0, 2 * np.pi)
            line = _curve(rng.uniform(-0.2, 1.2, 2) * side, headings, side)
            shade = height * rng.uniform(0.6, 1)
            cv2.polylines(layer, [line], False, shade, int(rng.integers(1, width + 1)), cv2.LINE_AA)
        picture = np.maximum(picture * rng.uniform(0.6, 1), cv2.GaussianBlur(layer, (0, 0), 0.3 + 1.5 * (1 - height)))
    return picture


def _vessels(rng: np.random.Generator, side: int) -> np.ndarray:
    """Trunks that branch into ever thinner lines on smooth ground, dark or bright."""
    ink = np.zeros((side, side), np.float32)
    growing = [
        (rng.uniform(0, side, 2), rng.uniform(0, 2 * np.pi), rng.uniform(2, 9)) for _ in range(int(rng.integers(2, 8)))
    ]
    while growing:
        place, heading, width = growing.pop()
        for _ in range(int(rng.integers(10, 40))):
            heading += rng.normal(0, 0.2)
            onward = place + side / 60 * np.array([np.cos(heading), np.sin(heading)])
            ends = [tuple(int(value) for value in point) for point in (place, onward)]
            cv2.line(ink, *ends, rng.uniform(0.7, 1), max(1, round(width)), cv2.LINE_AA)
            place = onward
            if width > 1 and rng.random() < 0.08:
                growing.append((place, heading + rng.choice([-1, 1]) * rng.uniform(0.3, 1.2), 0.7 * width))
    ground = _uneven_light(rng, side, side / 15)
    return rng.choice([-1, 1]) * rng.uniform(0.2, 1) * cv2.GaussianBlur(ink, (0, 0), rng.uniform(0.5, 2)) + 0.5 * ground


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


def _lit(heights: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A height map as a secondary-electron picture shows it: slopes and edges bright, one side brighter."""
    down, right = np.gradient(heights)
    side = rng.uniform(0, 2 * np.pi)
    slope = np.hypot(down, right)
    slope = slope / (np.percentile(slope, 95) + 1e-6)
    lean = (np.cos(side) * right + np.sin(side) * down) / (np.percentile(np.hypot(down, right), 95) + 1e-6)
    return np.clip(slope, 0, 2) + rng.uniform(0, 1) * np.clip(lean, -2, 2)


def _stones(rng: np.random.Generator, side: int) -> np.ndarray:
    """Gravel: rounded bodies packed side by side, each with its own grey and lit from one side."""
    distance, labels = cv2.distanceTransformWithLabels(
        1 - _cell_walls(rng, side), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_CCOMP
    )
    heights = np.sqrt(np.maximum(distance, 0)) + 0.1 * _clouds(rng, side)
    return rng.uniform(0, 1.5, labels.max() + 1)[labels] + rng.uniform(0.2, 1) * _lit(heights, rng)


def _cell_walls(rng: np.random.Generator, side: int) -> np.ndarray:
    _, labels = cv2.distanceTransformWithLabels(_seeds(rng, side), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
    walls = cv2.morphologyEx(labels.astype(np.float32), cv2.MORPH_GRADIENT, np.ones((3, 3))) > 0
    return walls.astype(np.uint8)


def _powder(rng: np.random.Generator, side: int) -> np.ndarray:
    """Balls and lumps heaped on each other."""
    row, col = np.mgrid[:side, :side].astype(np.float32)
    heights = np.zeros((side, side), np.float32)
    size = side * np.exp(rng.uniform(np.log(0.01), np.log(0.15)))
    for _ in range(int(np.clip(1.5 * (side / size) ** 2, 20, 250))):
        radius = size * np.exp(rng.normal(0, 0.35))
        centre = rng.uniform(0, side, 2)
        top, left = (int(max(0, value - radius)) for value in centre)
        window = np.s_[top : int(centre[0] + radius) + 1, left : int(centre[1] + radius) + 1]
        inside = radius**2 - (row[window] - centre[0]) ** 2 - (col[window] - centre[1]) ** 2
        body = np.sqrt(np.maximum(inside, 0)) + rng.uniform(0, radius)
        heights[window] = np.where(inside > 0, np.maximum(heights[window], body), heights[window])
    return _lit(heights, rng)


def _fracture(rng: np.random.Generator, side: int) -> np.ndarray:
    """Broken metal or ceramic: ridges and dimples."""
    heights = np.abs(_clouds(rng, side)) if rng.random() < 0.6 else _cells(rng, side).astype(np.float32)
    return _lit(cv2.GaussianBlur(heights.astype(np.float32), (0, 0), rng.uniform(1, 5)), rng)


def _lamellae(rng: np.random.Generator, side: int) -> np.ndarray:
    """Grains of parallel lamellae, each grain with its own direction."""
    _, labels = cv2.distanceTransformWithLabels(_seeds(rng, side), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
    row, col = np.mgrid[:side, :side]
    direction = rng.uniform(0, np.pi, labels.max() + 1)[labels]
    period = rng.uniform(6, 24) * np.exp(rng.normal(0, 0.3, labels.max() + 1))[labels]
    return np.sin(2 * np.pi * (row * np.cos(direction) + col * np.sin(direction)) / period) + 0.2 * _clouds(rng, side)


def _scratches_everywhere(rng: np.random.Generator, side: int) -> np.ndarray:
    """A surface rubbed in all directions: straight scratches without a lay."""
    picture = np.zeros((side, side), np.float32)
    for _ in range(int(rng.integers(60, 500))):
        centre, heading = rng.uniform(0, side, 2), rng.uniform(0, np.pi)
        half = side * rng.uniform(0.05, 0.8) * np.array([np.cos(heading), np.sin(heading)])
        ends = [tuple(int(v) for v in centre + sign * half) for sign in (-1, 1)]
        cv2.line(picture, *ends, rng.uniform(-1, 1), int(rng.integers(1, 7)), cv2.LINE_AA)
    return picture + 0.2 * _clouds(rng, side)


def _page(rng: np.random.Generator, side: int) -> np.ndarray:
    """A printed page: even lines of words, dark on light, sharp or as a poor scan shows it, straight or askew."""
    page = np.zeros((side, side), np.uint8)
    size = rng.uniform(0.25, 1.2)
    face, step = int(rng.integers(0, 8)), int(30 * size * rng.uniform(0.9, 1.8)) + 6
    for row in range(int(rng.integers(5, 60)), side, step):
        col = int(rng.integers(0, 30))
        while col < side:
            word = "".join(chr(rng.integers(97, 123)) for _ in range(int(rng.integers(2, 10))))
            cv2.putText(page, word, (col, row), face, size, 255, 1 + int(rng.integers(0, 2)), cv2.LINE_AA)
            col += cv2.getTextSize(word, face, size, 1)[0][0] + int(12 * size)
    ink = page.astype(np.float32) / 255
    if rng.random() < 0.6:
        turn = cv2.getRotationMatrix2D((side / 2, side / 2), rng.normal(0, 6), 1.1)
        ink = cv2.warpAffine(ink, turn, (side, side), flags=cv2.INTER_LINEAR)
        ink = cv2.GaussianBlur(ink, (0, 0), rng.uniform(0.5, 2.5)) * rng.uniform(0.2, 1)
    return 1 - ink + _uneven_light(rng, side, side / 10) * rng.uniform(0, 0.4)


def _handwriting(rng: np.random.Generator, side: int) -> np.ndarray:
    """A handwritten page: joined loops and stems along lines, with or without ruling, unevenly lit."""
    ink = np.zeros((side, side), np.float32)
    size = side * np.exp(rng.uniform(np.log(0.015), np.log(0.09)))
    slant, width = rng.normal(0.25, 0.25), max(1, round(size * rng.uniform(0.04, 0.2)))
    ruled = rng.uniform(0.1, 0.6) * (rng.random() < 0.5)
    for row in np.arange(rng.uniform(0.5, 2) * size, side, size * rng.uniform(1.8, 4)):
        if ruled:
            cv2.line(ink, (0, round(row)), (side, round(row)), ruled, 1, cv2.LINE_AA)
        col = rng.uniform(0, 0.2) * side
        while col < side:
            letters = int(rng.integers(1, 12))
            turn = np.linspace(0, 2 * np.pi * letters, 16 * letters)
            tall = np.repeat(rng.choice([0.5, 0.5, 1.1, -1.1], letters), 16)
            up = (
                tall * np.sin(turn) ** 2
                + 0.3 * np.sin(turn * rng.uniform(0.8, 1.2))
                + 0.05 * rng.standard_normal(turn.size)
            )
            along = turn / (2 * np.pi) * rng.uniform(0.5, 0.8) + rng.uniform(0.1, 0.3) * np.cos(turn) + slant * up
            points = np.stack([col + size * along, row - size * up], 1).astype(np.int32)
            cv2.polylines(ink, [points], False, rng.uniform(0.6, 1), width, cv2.LINE_AA)
            col += size * (0.75 * letters + rng.uniform(0.4, 1.5))
    light = _uneven_light(rng, side, side / 10)
    return 1 - cv2.GaussianBlur(ink, (0, 0), rng.uniform(0.4, 2)) + rng.uniform(0, 0.6) * light


def spoilt(rng: np.random.Generator, pixels: np.ndarray) -> np.ndarray:
    """Return a picture (rows, cols) uint8 made of a liner surface's, that no liner can show."""
    return (_bent, _shuffled, _scrambled)[rng.integers(3)](rng, pixels)


def _bent(rng: np.random.Generator, pixels: np.ndarray) -> np.ndarray:
    """Grooves drawn into curls: shifted by a smooth random field of several groove widths."""
    rows, cols = pixels.shape
    row, col = np.mgrid[:rows, :cols].astype(np.float32)
    sigma = min(pixels.shape) * rng.uniform(0.06, 0.12)
    shifts = [cv2.GaussianBlur(rng.normal(size=pixels.shape).astype(np.float32), (0, 0), sigma) for _ in range(2)]
    reach = sigma * rng.uniform(0.8, 1.6)
    row, col = (grid + shift * (reach / shift.std()) for grid, shift in zip((row, col), shifts, strict=True))
    return cv2.remap(pixels, col, row, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)


def _shuffled(rng: np.random.Generator, pixels: np.ndarray) -> np.ndarray:
    """Square pieces in another order, each turned."""
    size = int(min(pixels.shape) / rng.integers(5, 16))
    rows, cols = (length // size for length in pixels.shape)
    blocks = pixels[: rows * size, : cols * size].reshape(rows, size, cols, size).swapaxes(1, 2).reshape(-1, size, size)
    blocks = np.stack([np.rot90(block, int(rng.integers(4))) for block in blocks[rng.permutation(len(blocks))]])
    whole = blocks.reshape(rows, cols, size, size).swapaxes(1, 2).reshape(rows * size, cols * size)
    return cv2.resize(whole, pixels.shape[::-1], interpolation=cv2.INTER_LINEAR)


def _scrambled(rng: np.random.Generator, pixels: np.ndarray) -> np.ndarray:
    """The power at each spatial frequency kept in the mean over all directions, phases random."""
    spectrum = np.abs(np.fft.rfft2(pixels - pixels.mean()))
    frequency = np.hypot(np.fft.fftfreq(pixels.shape[0])[:, None], np.fft.rfftfreq(pixels.shape[1])[None])
    ring = np.minimum((frequency * 200).astype(int), 140)
    mean = np.bincount(ring.ravel(), spectrum.ravel()) / np.maximum(np.bincount(ring.ravel()), 1)
    noise = np.fft.rfft2(rng.normal(size=pixels.shape))
    picture = np.fft.irfft2(mean[ring] * noise / (np.abs(noise) + 1e-6), pixels.shape)
    picture = (picture - picture.mean()) / (picture.std() + 1e-6) * pixels.std() + pixels.mean()
    return np.clip(picture, 0, 255).astype(np.uint8)
