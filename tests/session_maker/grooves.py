"""One lay of hone grooves: depths, burrs at the rims, finishing marks between them."""

from dataclasses import dataclass

import numpy as np
from scipy.special import erfinv

from tests.session_maker.canvas import Canvas
from tests.session_maker.noise import smooth_noise, wander
from tests.session_maker.specimen import Hone, Specimen

WALL_SLOPES_DEG = (9, 24)
"""Walls of hone grooves slope by 6 to 27° [D, tests/SOURCES.md]."""

DEPTHS_UM = (0.25, 8.5)
"""Grooves are 1 to 10 µm deep [M, tests/SOURCES.md]; shallower ones are finishing marks that stand out: own choice."""

LEAST_WIDTH_PX = 2.4
"""Narrower grooves couldn't be drawn: own choice."""

NARROWEST, WIDEST = -1.3, 1.15
"""Logarithm of a groove's width over the median, at most: own choice."""


@dataclass(frozen=True, kw_only=True)
class Lay:
    """(rows, cols) float32 on the picture: depth, rim and marks in µm, all 0 or more; fibres: unit noise along the lay."""

    depth: np.ndarray
    rim: np.ndarray
    marks: np.ndarray
    fibres: np.ndarray


def draw_lay(
    rng: np.random.Generator, shape: tuple[int, int], direction_deg: float, specimen: Specimen, balance: float
) -> Lay:
    """Draw the grooves of one lay along ``direction_deg``; ``balance``: of 1, more or fewer of them."""
    canvas = Canvas(shape, direction_deg)
    side = canvas.side_px
    hone = specimen.hone
    depth, rim = np.zeros(canvas.shape, np.float32), np.zeros(canvas.shape, np.float32)
    places, log_widths = _places(rng, specimen, balance, side)
    for place, log_width in zip(places, log_widths, strict=True):
        drawn = _groove(rng, hone, specimen.pixel_size_um, side, place, log_width)
        if drawn is not None:
            rows, section, burr = drawn
            depth[rows] = np.maximum(depth[rows], section)
            rim[rows] = np.maximum(rim[rows], burr)
    marks = smooth_noise(rng, canvas.shape, 260, 1.4) * 0.6 + smooth_noise(rng, canvas.shape, 420, 4) * 0.6
    marks = np.maximum(marks, 0) * (hone.marks_um * balance)
    fibres = smooth_noise(rng, canvas.shape, 30, 1.3)
    return Lay(
        depth=canvas.to_picture(depth), rim=canvas.to_picture(rim), marks=canvas.to_picture(marks),
        fibres=canvas.to_picture(fibres),
    )  # fmt: skip


def _places(
    rng: np.random.Generator, specimen: Specimen, balance: float, side_px: int
) -> tuple[list[float], np.ndarray]:  # fmt: skip
    """Return where grooves lie across the lay (px) and the logarithms of their widths over the median, (n,) each.

    The stone's strokes are loosely spaced, some in bundles; widths are spread evenly over the field, so that wide grooves
    never pile up at one side.
    """
    hone = specimen.hone
    many = int(round(hone.grooves * balance * side_px / specimen.shape[1] * rng.uniform(0.92, 1.08)))
    strokes = max(2, int(round(many / (1 + hone.bundled))))
    places = list((np.arange(strokes) + rng.uniform(-0.45, 1.45, strokes)) / strokes * side_px)
    while len(places) < many:
        beside = places[int(rng.integers(strokes))]
        places.append(beside + rng.normal(0, 2.2) * hone.width_um / specimen.pixel_size_um)
    many = len(places)
    quantiles = (np.arange(many) + 0.5) / many * 2 - 1
    quantiles = np.sqrt(2) * erfinv(quantiles) * hone.width_spread - 0.12
    log_widths = np.empty(many)
    mixed = np.concatenate([rng.permutation(quantiles[start::4]) for start in range(4)])
    log_widths[np.argsort(np.asarray(places))] = np.clip(mixed, NARROWEST, WIDEST)
    return places, log_widths


def _groove(
    rng: np.random.Generator, hone: Hone, pixel_size_um: float, side_px: int, place: float, log_width: float
) -> tuple[slice, np.ndarray, np.ndarray] | None:
    """Return one groove's rows on the canvas, and there its depth and its burrs in µm, (n, side_px) each; None off the canvas."""
    width = max(hone.width_um * np.exp(log_width), LEAST_WIDTH_PX * pixel_size_um)
    slope = np.deg2rad(rng.uniform(*WALL_SLOPES_DEG))
    deepest = 0.62 * width * np.tan(slope) * np.exp(rng.normal(0, 0.3))
    deepest = float(np.clip(deepest, *DEPTHS_UM))
    width_px = width / pixel_size_um
    path = place + wander(rng, side_px, side_px / 3) * 0.18 * width_px
    half = 0.5 * width_px * np.clip(1 + 0.16 * wander(rng, side_px, 120), 0.5, 1.5)
    first_rim, second_rim = (_ragged_rim(rng, hone.ragged, side_px) for _ in range(2))
    depth = deepest * np.clip(1 + 0.2 * wander(rng, side_px, 150) + 0.08 * wander(rng, side_px, 14), 0.2, 1.7)
    if rng.random() < hone.ending:
        end, length = rng.uniform(0, side_px), rng.uniform(15, 90)
        taper = np.clip((np.arange(side_px, dtype=np.float32) - end) / length * rng.choice([-1, 1]), 0, 1)
        depth = depth * taper
        half = half * (0.35 + 0.65 * taper)
    reach = int(width_px * 1.25) + 4
    low = max(int(np.floor(path.min() - reach)), 0)
    high = min(int(np.ceil(path.max() + reach)) + 1, side_px)
    if high - low < 3:
        return None
    # Place across the groove, -1 to 1 between smooth rims; then between ragged ones, leaning.
    smooth = (np.arange(low, high, dtype=np.float32)[:, None] - path[None]) / half[None]
    across = np.where(smooth < 0, smooth / first_rim[None], smooth / second_rim[None])
    lean = rng.uniform(-0.35, 0.35)
    across = np.abs(across + lean * (1 - np.minimum(across * across, 1)))
    form = rng.uniform(1.4, 4.5)
    floor = 1 + hone.striated * _striae(rng, smooth, width_px)
    section = depth[None] * np.clip(1 - across**form, 0, 1) * np.clip(floor, 0.45, 1.5)
    height = hone.rim_um * rng.uniform(0.2, 1)
    burr = height * np.clip(wander(rng, side_px, 18) + 0.5, 0, 2.2)[None] * np.exp(-(((across - 1.12) / 0.16) ** 2))
    return slice(low, high), section, burr


def _ragged_rim(rng: np.random.Generator, ragged: float, side_px: int) -> np.ndarray:
    """Return a rim's distance in half widths, (side_px,), with bites out of it."""
    coarse, fine = wander(rng, side_px, 30), wander(rng, side_px, 7)
    bites = np.minimum(wander(rng, side_px, 16) + 1.3, 0)
    return np.clip(1 + ragged * (0.7 * coarse + 0.5 * fine + bites), 0.6, 1.5)


def _striae(rng: np.random.Generator, across: np.ndarray, width_px: float) -> np.ndarray:
    """Return unit noise that varies across a groove only, in the shape of ``across`` (place in half widths)."""
    knots = max(6, int(width_px / 1.8) + 3)
    drawn = np.interp(across.ravel(), np.linspace(-1.1, 1.1, knots), rng.standard_normal(knots))
    return drawn.reshape(across.shape).astype(np.float32)
