"""The secondary-electron picture of a surface.

Yield grows as sec of the tilt (exponent about 1, from memory), but shallow walls give little of it; the rest comes from the
detector's side, bright edges (electrons leave a rim from two faces), starved escape from deep ground, the floor's
matter, and the tone of skins. Shot noise is Poisson in the electrons of a pixel.
"""

import cv2
import numpy as np

from . import matter
from .frames import ramp, smooth, spread
from .surface import Surface

NOT_ASSESSED = 255


def slope(height: np.ndarray, pixel_um: float) -> tuple[np.ndarray, np.ndarray]:
    kernel = np.array([[-0.5, 0, 0.5]], np.float32) / pixel_um
    return cv2.filter2D(height, -1, kernel), cv2.filter2D(height, -1, kernel.T)


def yield_map(rng: np.random.Generator, surface: Surface, pixel_um: float) -> np.ndarray:
    shape = surface.codes.shape
    pit = matter.pits(rng, shape, pixel_um)
    flakes = matter.graphite(rng, shape, pixel_um) * (1 - surface.cover) * (surface.codes != 3)
    grain = 0.012 * pixel_um**0.5 * rng.uniform(0.3, 2.0) * smooth(rng, shape, 1.5, 1.5)
    height = (surface.relief + grain - surface.depth - 0.6 * pit - 0.25 * flakes).astype(np.float32)
    gx, gy = slope(height, pixel_um)
    steep = np.sqrt(gx * gx + gy * gy)
    side, aim = rng.choice((0.0, rng.uniform(0.1, 0.5)), p=(0.3, 0.7)), rng.uniform(0, 2 * np.pi)
    lit = np.tanh(1.5 * (gx * np.cos(aim) + gy * np.sin(aim)))
    grey = 1 + side * lit + rng.uniform(0.1, 0.5) * np.tanh(0.7 * steep * steep)
    sunk = np.maximum(surface.depth, 0)
    deep = sunk**1.6 / (sunk**1.6 + 0.33)
    style = str(rng.choice(("dark", "rimmed", "bright"), p=(0.55, 0.3, 0.15)))
    floor = {"dark": -rng.uniform(0.15, 0.5), "rimmed": -rng.uniform(0.05, 0.25), "bright": rng.uniform(0.12, 0.35)}
    grey = grey + floor[style] * deep * (1 + 0.35 * smooth(rng, shape, 3, 3) * (surface.codes == 1) * rng.random())
    near = cv2.blur(deep, (5, 5))
    far = cv2.blur(near, (13, 13))
    rim = rng.uniform(0.1, 0.3) if style == "dark" else rng.uniform(0.3, 0.8)
    grey = grey + rim * (np.maximum(near - deep, 0) + 0.5 * np.maximum(far - deep, 0))
    grey = grey + surface.tone + bodies_shown(rng, surface)
    grey = grey - rng.uniform(0.25, 0.6) * flakes - rng.uniform(0.2, 0.6) * pit
    grey = grey + rng.uniform(0, 0.4) * np.maximum(cv2.blur(pit, (5, 5)) - pit, 0) + matter.stains(rng, shape)
    return grey.astype(np.float32)


def bodies_shown(rng: np.random.Generator, surface: Surface) -> np.ndarray:
    """Fronts that glow and shade the ground before them, outlines, seams, and the buried groove's broken outline."""
    x, y = surface.downstream
    gx, gy = slope(surface.cover, 1.0)
    front = np.maximum(-(gx * x + gy * y), 0)
    was = ramp(surface.original, 0.3, 0.7)
    patchy = 0.25 + 0.75 * ramp(smooth(rng, was.shape, 7, 7), -0.8, 0.9)
    glow = patchy * rng.uniform(0.15, 0.6) * (0.3 + np.minimum(surface.strength, 1)) * front * was
    reach = rng.uniform(1.5, 4)
    ahead = np.array([[1, 0, reach * x], [0, 1, reach * y]])
    shade = cv2.warpAffine(front, ahead, front.shape[::-1]) * (1 - surface.cover) * was * rng.uniform(0.2, 0.7)
    outline = np.sqrt(gx * gx + gy * gy) - front
    rims = cv2.morphologyEx((was > 0.5).astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    line = cv2.GaussianBlur(rims.astype(np.float32), (0, 0), rng.uniform(0.5, 1.5))
    broken = ramp(smooth(rng, was.shape, 8, 8), rng.uniform(-1.5, 0.8), 1.2)
    buried = 0.35 * line * surface.cover * (0.2 + 0.8 * broken)
    sign = float(rng.choice((-1, 1), p=(0.65, 0.35)))
    return (
        glow
        - shade
        + rng.uniform(-0.15, 0.3) * outline * was
        + sign * rng.uniform(0.3, 0.9) * (0.45 + 0.5 * surface.strength) * buried
        - rng.uniform(0.25, 0.7) * surface.seam * (0.4 + 0.6 * broken) * was
    )


def expose(rng: np.random.Generator, grey: np.ndarray, codes: np.ndarray) -> np.ndarray:
    """Debris, charging, beam, gain and noise; marks in codes what they hide."""
    shape = codes.shape
    lump = matter.debris(rng, shape)
    if lump.any():
        bump = cv2.GaussianBlur(lump, (0, 0), 2.0)
        texture = 1.15 + 0.2 * smooth(rng, shape, 3, 3) + 0.5 * (lump - bump)
        grey = grey - 0.3 * cv2.blur(np.roll(lump, (2, 3), (0, 1)), (5, 5)) * (1 - lump)
        grey = grey * (1 - lump) + lump * texture
        codes[lump > 0.5] = NOT_ASSESSED
    ramp_x, ramp_y = np.linspace(-1, 1, shape[1]), np.linspace(-1, 1, shape[0])[:, None]
    grey = grey + rng.normal(0, 0.025) * ramp_x + rng.normal(0, 0.025) * ramp_y
    beam = spread(rng, 0.4, 1.5) if rng.random() < 0.88 else rng.uniform(1.5, 2.2)
    grey = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), beam)
    if rng.random() < 0.12:
        grid_x, grid_y = np.meshgrid(np.arange(shape[1], dtype=np.float32), np.arange(shape[0], dtype=np.float32))
        jitter = rng.normal(0, rng.uniform(0.2, 0.7), (shape[0], 1)).astype(np.float32)
        grey = cv2.remap(grey, grid_x + jitter, grid_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    low, middle, high = np.percentile(grey[::4, ::4], (1, 50, 99))
    gain = min(rng.uniform(0.25, 0.85) / max(high - low, 0.08), rng.uniform(0.7, 1.8))
    grey = (grey - middle) * gain + rng.uniform(0.33, 0.6)
    grey = np.clip(grey, 0.004, 2) ** spread(rng, 0.75, 1.35)
    electrons = spread(rng, 110, 6000)
    grey = grey + np.sqrt(np.maximum(grey, 0.02) / electrons) * rng.standard_normal(shape, dtype=np.float32)
    if rng.random() < 0.15:
        grey = grey + rng.normal(0, rng.uniform(0.003, 0.012), (shape[0], 1))
    glow = matter.charging(rng, shape)
    codes[glow > 0.45] = NOT_ASSESSED
    return np.clip(np.round((grey + glow) * 255), 0, 255).astype(np.uint8)
