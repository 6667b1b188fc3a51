"""What hides the surface: loose debris, with its shadow, and charging about it. Both are not assessed."""

import cv2
import numpy as np

from .randomness import Rng, mottle, wander
from .specimen import Specimen
from .surface import Surface

SHIFT = 4


def add_debris(surface: Surface, specimen: Specimen, rng: Rng) -> np.ndarray:
    """Lay particles on the surface, hide what is under them, and return the charge they take on (0 for most fields)."""
    charge = np.zeros(surface.shape, np.float32)
    count = int(rng.poisson(rng.choice([0.3, 3.0, 12.0], p=[0.5, 0.35, 0.15])))
    azimuth = np.radians(specimen.setting.azimuth_deg)
    lumps = mottle(rng, surface.shape, max(0.9 / surface.pixel_um, 1.5), max(0.9 / surface.pixel_um, 1.5))
    for _ in range(count):
        radius = float(np.clip(np.exp(rng.normal(0.8, 0.7)) / surface.pixel_um, 2.5, 45))
        centre = rng.uniform([0, 0], surface.shape)
        body = np.zeros(surface.shape, np.uint8)
        _particle(rng, body, centre, radius)
        mask = body > 0
        shadow = cv2.GaussianBlur(body, (0, 0), radius * 0.6).astype(np.float32) / 255
        away = np.float32([[1, 0, -np.cos(azimuth) * radius * 0.6], [0, 1, np.sin(azimuth) * radius * 0.6]])
        shadow = cv2.warpAffine(shadow, away, surface.shape[::-1])
        surface.gather *= 1 - 0.45 * shadow * ~mask
        surface.tone[mask] = 1.05 + 0.18 * lumps[mask]
        surface.gather[mask] = 1
        inner = cv2.GaussianBlur(body, (0, 0), max(radius * 0.3, 1)).astype(np.float32) / 255
        surface.slope_row[mask] = 1.5 * np.gradient(-inner, axis=0)[mask] * radius * 0.4
        surface.slope_col[mask] = 1.5 * np.gradient(-inner, axis=1)[mask] * radius * 0.4
        surface.edge[mask] = 0.8 * (1 - inner[mask]) + 0.1
        surface.crack[mask] = 0
        surface.covered[mask] = False
        surface.inner[mask] = 0
        surface.hidden |= mask
        if rng.random() < 0.2 and radius > 4:
            _charge(rng, charge, centre, radius)
    return charge


def _particle(rng: Rng, body: np.ndarray, centre: np.ndarray, radius: float) -> None:
    turn = np.linspace(0, 2 * np.pi, 22, endpoint=False)
    size = (
        radius * (1 + 0.22 * wander(rng, 22, 2.0)) * (1 + 0.4 * np.cos(2 * (turn - rng.uniform(0, 3))) * rng.random())
    )
    ring = centre[None, :] + np.stack([np.sin(turn), np.cos(turn)], axis=1) * np.clip(size, 1, None)[:, None]
    cv2.fillPoly(body, [np.round(ring[:, ::-1] * (1 << SHIFT)).astype(np.int32)], 255, shift=SHIFT)


def _charge(rng: Rng, charge: np.ndarray, centre: np.ndarray, radius: float) -> None:
    """Add the glow about a charged particle and the trail it leaves along its scan lines."""
    row = np.arange(charge.shape[0], dtype=np.float32)[:, None] - centre[0]
    col = np.arange(charge.shape[1], dtype=np.float32)[None, :] - centre[1]
    glow = np.exp(-np.hypot(row, col) / (radius * 1.5)) * rng.uniform(0.8, 2.2)
    lines = np.exp(-((row / (radius * 1.1)) ** 2)) * (0.7 + 0.5 * wander(rng, charge.shape[0], 1.5)[:, None])
    trail = np.where(col > 0, np.exp(-np.maximum(col, 0) / (radius * rng.uniform(6, 30))), 0) * rng.uniform(-0.5, 0.8)
    charge += glow + lines * trail
