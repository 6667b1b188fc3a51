"""Ribbons painted straight in grey: the deeper of two that cross wins, and carries its label with it."""

from dataclasses import dataclass

import cv2
import numpy as np

from .ribbon import OPEN_UM, Ribbon, Strip, closed_of, labelled, strip_of
from .texture import clouds, line_noise, loguniform, streaks
from .tone import Look, tilt_gain


@dataclass
class Canvas:
    """grey: in units of the plateau's; ground_um: depth of the deepest ribbon so far; codes: mask codes."""

    grey: np.ndarray
    ground_um: np.ndarray
    codes: np.ndarray


def paint_ribbons(
    rng: np.random.Generator, canvas: Canvas, ribbons: list[Ribbon], look: Look, worn: np.ndarray, lost_um: float,
    stroke_deg: float, pixel_size_um: float,
) -> None:  # fmt: skip
    """Every ribbon with its walls, floor and rims, then the edges of what has closed."""
    shape = worn.shape
    rough = clouds(rng, shape, np.clip(loguniform(rng, 0.4, 3) / pixel_size_um, 1, 12))
    rough = np.sign(rough) * np.abs(rough) ** rng.uniform(1, 1.6)
    carbon = np.clip(clouds(rng, shape, np.clip(loguniform(rng, 3, 20) / pixel_size_um, 3, 60)) - 1 + 2 * look.filled, 0, 1)
    striae = streaks(rng, shape, loguniform(rng, 20, 200) / pixel_size_um, np.clip(1 / pixel_size_um, 1.2, 6), stroke_deg)
    plain = canvas.grey.copy()
    for ribbon in ribbons:
        strip = strip_of(ribbon, worn, lost_um, pixel_size_um, 3 * look.rim_um)
        if strip is not None and strip.row.size:
            _paint(rng, canvas, ribbon, strip, look, worn, pixel_size_um, rough, carbon, striae, plain)
    _edges(rng, canvas, look)


def _paint(rng, canvas, ribbon: Ribbon, strip: Strip, look: Look, worn, pixel_size_um, rough, carbon, striae, plain) -> None:
    at = (strip.row, strip.col)
    depth_um = np.maximum(strip.depth_um, 0)
    # a scratch is fainter than a groove: what is shallower than a valley may not look like one
    strength = (1 - np.exp(-depth_um / look.depth_scale_um)) * np.minimum(depth_um / OPEN_UM, 1) ** 1.5
    inside = (strip.ground_um > 0.02) & (strip.ground_um > canvas.ground_um[at])
    free = ~inside & (canvas.ground_um[at] <= 0.02)
    closed = closed_of(ribbon, strip, worn)
    tone = _open_tone(rng, ribbon, strip, look, rough[at], carbon[at]) * strength
    rims = _rim_tone(rng, ribbon, strip, look, pixel_size_um) * strength
    tone += rims
    v = strip.cross_um / np.maximum(strip.half_um, 1e-3)
    film = _film_tone(rng, ribbon, strip.place, v, look, striae[at]) + look.sunk * tone
    tone = np.where(closed, film, tone)
    rims = np.where(closed, 0.3 * rims, rims)
    # burnished metal is smooth: the plateau's own texture doesn't go on over a closure, nor down a groove
    keep = np.where(closed, 0.35, 0.5)
    base = 1 + keep * (plain[at] - 1)
    row, col = strip.row[inside], strip.col[inside]
    canvas.grey[row, col] = (base + tone)[inside]
    canvas.ground_um[row, col] = strip.ground_um[inside]
    canvas.codes[row, col] = labelled(strip.ground_um, closed)[inside]
    canvas.grey[strip.row[free], strip.col[free]] += rims[free]


def _open_tone(rng, ribbon: Ribbon, strip: Strip, look: Look, rough, carbon) -> np.ndarray:
    down = np.clip(strip.ground_um / np.maximum(strip.depth_um, 1e-3), 0, 1)
    lit = ribbon.normal[0] * look.detector[0] + ribbon.normal[1] * look.detector[1]
    slope_deg = np.rad2deg(np.arctan(ribbon.tan_slope))
    flat = ribbon.floor_um / max(ribbon.floor_um + ribbon.depth_um.max() / ribbon.tan_slope, 1e-3)
    v = np.clip(strip.cross_um / np.maximum(strip.half_um, 1e-3), -1, 1)
    wall = np.tanh(6 * np.sign(v) * np.maximum(np.abs(v) - 0.7 * flat, 0))
    # a wall that falls away from the side of the detector faces it: ground beyond the line slopes up to larger v
    tone = -look.wall * np.sin(np.deg2rad(slope_deg)) * lit * wall + look.tilt * tilt_gain(slope_deg) * np.abs(wall)
    tone = tone + look.floor * rng.uniform(0.7, 1.2) * down ** rng.uniform(0.5, 1.5)
    knots = rng.integers(6, 30)
    lines = np.interp(v, np.linspace(-1, 1, knots), rng.standard_normal(knots))
    return tone + (look.lines * lines + look.rough * rough - (0.25 + 0.2 * look.filled) * carbon * (look.filled > 0)) * down**0.5


def _rim_tone(rng, ribbon: Ribbon, strip: Strip, look: Look, pixel_size_um: float) -> np.ndarray:
    count = ribbon.centre.size
    lit = ribbon.normal[0] * look.detector[0] + ribbon.normal[1] * look.detector[1]
    glow = np.exp(-(((np.abs(strip.cross_um) - strip.half_um) / look.rim_um) ** 2))
    size = max(loguniform(rng, 1, 15) / pixel_size_um, 1.5)
    torn = np.clip(1 + look.torn_rim * np.stack([line_noise(rng, count, size) for _ in range(2)]), 0, 2.5)
    upper = strip.cross_um > 0
    return look.rim * glow * torn[upper.astype(int), strip.place] * np.where(upper, 1 + 0.5 * lit, 1 - 0.5 * lit)


def _film_tone(rng, ribbon: Ribbon, place, v, look: Look, striae) -> np.ndarray:
    count = ribbon.centre.size
    tone = look.film + rng.normal(0, 0.03) + look.striae * striae
    for _ in range(int(rng.integers(0, 3))):
        way = np.clip(rng.uniform(-0.7, 0.7) + 0.3 * line_noise(rng, count, count * rng.uniform(0.05, 0.3)), -0.95, 0.95)
        seen = np.clip(0.7 + line_noise(rng, count, rng.uniform(6, 50)), 0, 1.3)
        wide = max(rng.uniform(0.05, 0.2), 1e-3)
        tone = tone + look.seam * seen[place] * np.exp(-(((v - way[place]) / wide) ** 2))
    return tone


def _edges(rng: np.random.Generator, canvas: Canvas, look: Look) -> None:
    """Lips where a closure meets open ground, faint broken seams where it meets the plateau."""
    film = (canvas.codes == 2).astype(np.uint8)
    if not film.any():
        return
    ring = cv2.morphologyEx(film, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
    by_open = cv2.dilate((canvas.codes == 1).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    broken = np.clip(0.6 + clouds(rng, film.shape, rng.uniform(4, 25)), 0, 1.6)
    line = look.lip * (ring & by_open) + look.seam * rng.uniform(0.2, 0.9) * (ring & ~by_open)
    canvas.grey += broken * cv2.GaussianBlur(line.astype(np.float32), (0, 0), rng.uniform(0.5, 1.1))
