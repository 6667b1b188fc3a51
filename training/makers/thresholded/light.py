"""Brightness of a surface in the electron picture, plateau about 0.5 (no unit); heights in µm."""

import cv2
import numpy as np

from .lookalikes import Clutter
from .random_fields import even, log_uniform, smooth_step, stretched
from .wear import Surface


def light(rng: np.random.Generator, surface: Surface, clutter: Clutter, *, pixel_um: float, stroke_deg: float) -> np.ndarray:
    """Gradient towards the detector, bright edges, starved depths, then what each state adds of its own."""
    shape = surface.height_um.shape
    scattered = rng.random() < 0.3
    depth, torn, cap = surface.depth_um, surface.torn, surface.cap
    open_ = smooth_step(depth, 0.3, 1.2)
    grain = max(log_uniform(rng, 0.6, 2.5) / pixel_um, 0.9)
    rough = even(rng, shape, grain)
    coarse = even(rng, shape, 2.5 * grain)
    bare = 1 - 0.85 * cap
    height = surface.height_um - 0.4 * clutter.pit
    relief = log_uniform(rng, 0.004, 0.04) * bare + log_uniform(rng, 0.01, 0.15) * open_ + 0.1 * torn
    height = height + rough * relief * min(grain * pixel_um, 2)
    gx = cv2.Sobel(height.astype(np.float32), cv2.CV_32F, 1, 0, scale=1 / 8) / pixel_um
    gy = cv2.Sobel(height.astype(np.float32), cv2.CV_32F, 0, 1, scale=1 / 8) / pixel_um
    side = rng.uniform(0, 2 * np.pi)
    facing = np.tanh(1.5 * (gx * np.cos(side) + gy * np.sin(side))) / 1.5
    steep = np.sqrt(1 + np.minimum(gx * gx + gy * gy, 4)) - 1
    picture = 0.5 + log_uniform(rng, 0.12, 0.7) * facing + (0.1 if scattered else log_uniform(rng, 0.2, 1.0)) * steep
    # Secondaries leave sharp crests easily and deep ground hardly.
    near = max(log_uniform(rng, 0.6, 2) / pixel_um, 0.8)
    crest = height - cv2.GaussianBlur(height, (0, 0), near)
    picture += (0.05 if scattered else log_uniform(rng, 0.1, 0.6)) * np.clip(crest, -0.4, 0.4)
    sunk = cv2.GaussianBlur(depth, (0, 0), max(0.6 / pixel_um, 0.6))
    look = rng.random()
    hollow = 1 - np.exp(-sunk / log_uniform(rng, 0.8, 4))
    # Mostly dark; bright where floors are rough and clean; else rim and texture alone tell.
    faint = rng.uniform(0.03, 0.08) * rng.choice([-1, 1])
    gain = -log_uniform(rng, 0.12, 0.45) if look < 0.68 else rng.uniform(0.08, 0.3) if look < 0.84 else faint
    picture += gain * hollow
    if rng.random() < 0.35:
        picture -= open_ * rng.uniform(0.05, 0.3) * smooth_step(coarse + 0.5 * even(rng, shape, 8 * grain), 0.2, 1.2)
    picture += open_ * coarse * log_uniform(rng, 0.01, 0.07)
    # Burnished metal: its own tone, smooth, wiped along the stroke, with lips and fold lines.
    wiped = stretched(rng, shape, angle_deg=stroke_deg, long_px=max(30 / pixel_um, 8), short_px=max(1.2 / pixel_um, 1))
    # A cap as dark as the open ground beside it could not be told from it; only beside strong contrast may it take its side.
    apart = 1 if gain < 0 else -1
    tone = rng.uniform(0.03, 0.14) * (-0.7 * apart if abs(gain) > 0.2 and rng.random() < 0.35 else apart)
    picture += cap * (tone + 0.02 * wiped) + rng.uniform(0.12, 0.3) * surface.seam
    picture += torn * (rng.uniform(-0.1, 0.12) + rng.uniform(0.03, 0.09) * coarse + 0.2 * np.clip(crest, 0, 0.8))
    picture += surface.worn * rng.uniform(-0.03, 0.06)
    return _cover(rng, picture, clutter, scattered=scattered, grain=rough)


def _cover(rng: np.random.Generator, picture: np.ndarray, clutter: Clutter, *, scattered: bool, grain: np.ndarray) -> np.ndarray:
    """Lay carbon, films, particles and charging over the metal."""
    carbon = (0.1 if scattered else rng.uniform(0.12, 0.32)) + 0.02 * grain
    picture = picture * (1 - 0.9 * clutter.graphite) + 0.9 * clutter.graphite * carbon - 0.1 * clutter.pit
    film = rng.uniform(-0.22, -0.04) if rng.random() < 0.8 else rng.uniform(0.03, 0.12)
    picture = picture + film * clutter.stain
    picture = picture * (1 - rng.uniform(0.1, 0.5) * clutter.shadow)
    lump = rng.uniform(0.65, 1.0) if rng.random() < 0.7 else rng.uniform(0.1, 0.35)
    picture = picture * (1 - clutter.debris) + clutter.debris * (lump + 0.08 * grain)
    if clutter.charge.any():
        glow = cv2.blur(clutter.charge, (2 * (picture.shape[1] // 6) + 1, 1))
        picture = picture * (1 - clutter.charge) + clutter.charge * 1.05 - 0.3 * glow * (1 - clutter.charge)
    return picture.astype(np.float32)
