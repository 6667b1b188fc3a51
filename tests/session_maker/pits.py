"""Ragged round spots: pits where something broke out, and particles that lie on the surface."""

import cv2
import numpy as np

from tests.session_maker.noise import blur, smooth_noise
from tests.session_maker.relief import Relief
from tests.session_maker.specimen import Iron

PIT_RADII_UM, DEBRIS_RADII_UM = (2, 12), (1, 4)
"""Log-uniform: common practice, no source."""

RADII_PX = (2, 45)
"""Smaller spots wouldn't show, larger ones would fill the field: own choice."""

CORNERS = 22
HARMONICS = np.arange(2, 8)[:, None]
"""Points of an outline, and the waves around it that make it ragged."""

COVERED = 0.35
"""A particle's height, of 1, from which it hides what lies under it: own choice."""


def draw_spots(
    rng: np.random.Generator, shape: tuple[int, int], pixel_size_um: float, many: int, radii_um: tuple[float, float]
) -> np.ndarray:
    """Return ``many`` spots scattered at random, (rows, cols) float32: 0 at the outline, 1 from a little within."""
    rows, cols = shape
    drawn = np.zeros(shape, np.float32)
    for _ in range(many):
        radius = np.exp(rng.uniform(np.log(radii_um[0]), np.log(radii_um[1]))) / pixel_size_um
        radius = np.clip(radius, *RADII_PX)
        x, y = rng.uniform(0, cols), rng.uniform(0, rows)
        spot = np.zeros(shape, np.uint8)
        cv2.fillPoly(spot, [np.round(_outline(rng, x, y, radius) * 8).astype(np.int32)], 255, cv2.LINE_AA, 3)
        left, right = int(max(0, x - 3 * radius)), int(min(cols, x + 3 * radius))
        top, bottom = int(max(0, y - 3 * radius)), int(min(rows, y + 3 * radius))
        if right > left and bottom > top:
            there = np.s_[top:bottom, left:right]
            drawn[there] = np.maximum(drawn[there], spot[there].astype(np.float32) / 255)
    inwards = cv2.distanceTransform((drawn > 0.5).astype(np.uint8), cv2.DIST_L2, 3)
    slope_px = np.clip(0.5 * radii_um[1] / pixel_size_um, 2, 9)
    return blur(np.sqrt(np.clip(inwards / slope_px, 0, 1)), 0.8)


def _outline(rng: np.random.Generator, x: float, y: float, radius: float) -> np.ndarray:
    """Return a spot's corners, (CORNERS, 2) px."""
    around = np.linspace(0, 2 * np.pi, CORNERS, endpoint=False)
    heights = rng.normal(0, 0.26, (6, 1)) / HARMONICS**0.9
    waves = heights * np.cos(HARMONICS * around[None] + rng.uniform(0, 6.28, (6, 1)))
    radii = radius * np.exp(waves.sum(0))
    flat = rng.uniform(0.45, 1)
    turn = rng.uniform(0, np.pi)
    px, py = radii * np.cos(around), radii * np.sin(around) * flat
    return np.stack([x + px * np.cos(turn) - py * np.sin(turn), y + px * np.sin(turn) + py * np.cos(turn)], 1)


def add_pits(rng: np.random.Generator, relief: Relief, pixel_size_um: float, iron: Iron) -> None:
    """Break pits out of the surface; they count as what they lie in."""
    shape = relief.codes.shape
    drawn = draw_spots(rng, shape, pixel_size_um, rng.poisson(iron.pits), PIT_RADII_UM)
    relief.heights -= drawn * iron.pit_um * (1 + 0.12 * smooth_noise(rng, shape, 6, 6))
    relief.brightness *= 1 - iron.pit_dark * drawn


def add_debris(rng: np.random.Generator, relief: Relief, pixel_size_um: float, iron: Iron) -> None:
    """Scatter particles over the surface; here what they hide counts as plateau."""
    shape = relief.codes.shape
    drawn = draw_spots(rng, shape, pixel_size_um, rng.poisson(iron.debris), DEBRIS_RADII_UM)
    height_um = np.clip(2.5 * pixel_size_um, 0.5, 2.5)
    relief.heights += drawn * height_um * (1 + 0.15 * smooth_noise(rng, shape, 5, 5))
    relief.brightness *= 1 + drawn * iron.debris_brightness
    relief.codes[drawn > COVERED] = 0
