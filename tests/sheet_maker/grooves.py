"""Hone grooves as a Poisson process of lines in each lay (honed bore = two bands of grooves placed at random at two
angles: Puente León, CIRP Annals 51 (2002) 503), each with a cross-section that changes slowly along it.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.special import ndtri

from tests.sheet_maker.noise import Rng, blotches, curve, frame_matrix, from_frame
from tests.sheet_maker.profiles import REACH, STEPS, profile_library
from tests.sheet_maker.setting import DEPTH_UM, SLOPE_DEG, WIDTH_UM, Specimen

STEP_PX = 6.0
"""Distance of the points along a groove at which its cross-section is worked out."""


@dataclass(frozen=True, kw_only=True)
class Groove:
    """One groove: centre line (n, 2) as x, y in px, half-width and depth there, and the unit vector across it."""

    centre: np.ndarray
    half_px: np.ndarray
    depth_um: np.ndarray
    across: np.ndarray
    width_um: float
    lay: int


def cut_lay(
    rng: Rng, shape: tuple[int, int], lay_deg: float, lines: list[tuple[float, float, float]], *, spread_deg: float,
    ends: float, lay: int = 0, lined: float = 0.0,
) -> tuple[np.ndarray, np.ndarray, list[Groove]]:  # fmt: skip
    """Cut one lay's lines (offset px, width px, depth µm): depth and ridges in µm on the picture's grid, and the grooves.

    spread_deg: scatter of the lines' directions; ends: chance that a line begins or ends inside the picture; lined: strength of
    the fine lines that the grit leaves along a groove.
    """
    matrix, frame_shape, half = frame_matrix(shape, lay_deg, STEP_PX)
    depth, ridge = np.zeros(frame_shape, np.float32), np.zeros(frame_shape, np.float32)
    depths, ridges = profile_library(rng)
    n = frame_shape[1]
    along = np.arange(n) * STEP_PX - half
    back = np.linalg.inv(np.vstack([matrix, [0, 0, 1]]))[:2]
    grooves = []
    lines_along = cv2.GaussianBlur(rng.standard_normal(frame_shape, dtype=np.float32), (0, 0), sigmaX=9, sigmaY=0.8)
    lines_along /= lines_along.std()
    for offset, width_px, depth_um in lines:
        centre = offset + half + along * np.tan(np.deg2rad(rng.normal(0, spread_deg)))
        centre = centre + curve(rng, n, 30) * min(0.06 * width_px, 0.8)
        half_px = width_px / 2 * np.clip(1 + 0.1 * curve(rng, n, 18) + 0.02 * curve(rng, n, 5), 0.5, 1.5)
        here = depth_um * np.clip(1 + 0.16 * curve(rng, n, 25), 0.4, 1.5)
        if rng.random() < ends:
            stop, way = rng.uniform(-0.7 * half, 0.7 * half), rng.choice((-1, 1))
            taper = np.clip(way * (along - stop) / (rng.uniform(4, 12) * width_px + 20), 0, 1)
            here, half_px = here * taper**0.7, half_px * np.clip(taper**0.6, 0.12, 1)
        first, second = rng.integers(0, len(depths), 2)
        mix = np.clip(0.5 + 0.5 * curve(rng, n, 40), 0, 1)
        reach = int(np.ceil(REACH * half_px.max()))
        low, high = int(max(0, centre.min() - reach)), int(min(frame_shape[0], centre.max() + reach + 1))
        if low >= high:
            continue
        u = (np.arange(low, high)[:, None] - centre) / half_px
        cut = np.interp(u, STEPS, depths[first]) * mix + np.interp(u, STEPS, depths[second]) * (1 - mix)
        cut = cut * np.clip(1 + lined * min(1, 1.0 / depth_um) * lines_along[low:high], 0.4, 1.6)
        side = np.interp(u, STEPS, ridges[first])
        np.maximum(depth[low:high], (cut * here).astype(np.float32), out=depth[low:high])
        np.maximum(ridge[low:high], (side * here).astype(np.float32), out=ridge[low:high])
        frame_points = np.stack([np.arange(n), centre, np.ones(n)])
        grooves.append(
            Groove(
                centre=(back @ frame_points).T,
                half_px=half_px,
                depth_um=here,
                across=matrix[1, :2],
                width_um=width_px,
                lay=lay,
            )  # fmt: skip
        )
    return from_frame(depth, matrix, shape), from_frame(ridge, matrix, shape), grooves


def random_lines(
    rng: Rng, half_px: float, covered: float, width: float, spread: float, limits: tuple[float, float]
) -> list[tuple[float, float]]:
    """Return offsets and widths (px) of random lines that cover a share of the area.

    A Poisson process whose count is held at its mean and whose lines each fall near their turn, with widths spread evenly
    over their population: fields of one specimen differ less than pure chance would have them.
    """
    mean = width * np.exp(spread**2 / 2)
    n = round(-np.log(1 - covered) / mean * 2 * half_px + rng.uniform(-0.5, 0.5))
    shares = np.clip((rng.permutation(n) + rng.uniform(0, 1, n)) / max(n, 1), 0.005, 0.995)
    widths = np.clip(width * np.exp(spread * ndtri(shares)), *limits)
    offsets = half_px * (2 * (np.arange(n) + rng.uniform(-0.2, 1.2, n)) / max(n, 1) - 1)
    return list(zip(offsets, widths, strict=True))


def ragged(rng: Rng, depth: np.ndarray, pixel_size_um: float) -> np.ndarray:
    """Return the depth with its edges made ragged, by shifts of under a micrometre on two scales."""
    rows, cols = depth.shape
    x, y = np.meshgrid(np.arange(cols, dtype=np.float32), np.arange(rows, dtype=np.float32))
    for scale, size in ((1.6, 0.2), (7.0, 0.22)):
        size_px = min(size / pixel_size_um, 2.0)
        x += size_px * blotches(rng, depth.shape, max(scale / pixel_size_um, 1.8))
        y += size_px * blotches(rng, depth.shape, max(scale / pixel_size_um, 1.8))
    return cv2.remap(depth, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def hone(rng: Rng, specimen: Specimen) -> tuple[np.ndarray, np.ndarray, np.ndarray, list[Groove]]:
    """Return depth of the hone grooves, of the second tool's scratches, and ridges (µm), and the list of grooves."""
    shape, pixel, finish = specimen.shape, specimen.pixel_size_um, specimen.finish
    half = float(np.hypot(*shape) / 2)
    depth, fine, ridge = (np.zeros(shape, np.float32) for _ in range(3))
    grooves: list[Groove] = []
    limits = (max(WIDTH_UM[0], 4 * pixel), min(WIDTH_UM[1], max(110 * pixel, 12)))
    for number, (lay_deg, share) in enumerate(zip(specimen.lays_deg, specimen.lay_shares, strict=True)):
        here = 1 - (1 - specimen.covered) ** share
        lines = []
        for offset, width in random_lines(rng, half, here, specimen.width_um / pixel, finish.spread,
                                          (limits[0] / pixel, limits[1] / pixel)):  # fmt: skip
            slope = np.clip(specimen.slope_deg * np.exp(rng.normal(0, 0.2)), *SLOPE_DEG)
            lines.append((offset, width, np.clip(width * pixel / 2 * np.tan(np.deg2rad(slope)), *DEPTH_UM)))
        cut, side, found = cut_lay(
            rng, shape, lay_deg, lines, spread_deg=0.5, ends=0.15, lay=number, lined=specimen.lined
        )
        depth, ridge = np.maximum(depth, cut), np.maximum(ridge, side)
        grooves += found
        width = max(1.2 / pixel, 1.5)
        thin = [
            (offset, w, finish.fine_depth_um * min(float(rng.lognormal(-0.3, 0.6)), 0.45 / finish.fine_depth_um))
            for offset, w in random_lines(
                rng, half, 1 - np.exp(-finish.fine_covered * share), width, 0.4, (1.3, 4 / pixel + 1.5)
            )
        ]
        cut, side, _ = cut_lay(rng, shape, lay_deg + rng.normal(0, 1), thin, spread_deg=1.5, ends=0.5)
        fine = np.maximum(fine, np.minimum(cut, 0.45))
    depth = ragged(rng, depth, pixel)
    return depth, fine, ridge * finish.ridges * (depth < 0.2), grooves
