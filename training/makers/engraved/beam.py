"""The secondary-electron picture of the surface: the settings of a session, the beam, its noise and its troubles.

Walls slope too little for tilt alone to show a groove; starved escape from deep grooves, bright rims and the detector's
side do (escape depth of secondaries in metals: 1–5 nm; yield grows as sec of the tilt, from memory). Shot noise follows
Poisson's law: its spread grows as the root of the signal.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter1d


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What holds for the whole field: contrast of dark floors, rims and walls, grey level, noise, blur."""

    dark: float
    rim: float
    side: float
    grey: float
    noise: float
    blur_px: float
    gamma: float
    tilt_deg: float


def setting(rng: np.random.Generator) -> Setting:
    look = rng.choice(("dark", "rimmed", "bright"), p=(0.66, 0.24, 0.1))
    dark = {"dark": rng.uniform(35, 85), "rimmed": rng.uniform(18, 40), "bright": rng.uniform(-55, -25)}[look]
    rim = {"dark": rng.uniform(0, 25), "rimmed": rng.uniform(30, 60), "bright": rng.uniform(0, 15)}[look]
    return Setting(
        dark=dark,
        rim=rim,
        side=rng.uniform(15, 60) if rng.random() < 0.5 else 0.0,
        grey=rng.uniform(85, 165),
        noise=float(np.exp(rng.uniform(np.log(2), np.log(17)))),
        blur_px=rng.uniform(1.2, 1.7) if rng.random() < 0.12 else rng.uniform(0.35, 0.9),
        gamma=rng.uniform(0.75, 1.3),
        tilt_deg=rng.uniform(5, 30) if rng.random() < 0.3 else 0.0,
    )


def specks(rng: np.random.Generator, shape: tuple[int, int], size_px: float, count: int, stretch: float) -> np.ndarray:
    """Ragged patches (mask uint8), as flakes or particles are."""
    canvas = np.zeros(shape, np.uint8)
    for _ in range(count):
        turns = np.linspace(0, 2 * np.pi, 11)[:-1]
        radii = size_px * rng.lognormal(0, 0.4) * rng.uniform(0.6, 1.2, 10)
        points = np.stack([radii * np.cos(turns) * rng.uniform(1, stretch), radii * np.sin(turns)], 1)
        turn = rng.uniform(0, np.pi)
        points = points @ np.array(((np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))))
        points += rng.uniform(0, 1, 2) * shape[::-1]
        cv2.fillPoly(canvas, [np.round(points * 8).astype(np.int32)], 1, cv2.LINE_8, 3)
    return canvas


def wormlike(
    rng: np.random.Generator, shape: tuple[int, int], length_px: float, width_px: float, count: int
) -> np.ndarray:
    """Graphite flakes in section: short curved dark lines (mask uint8)."""
    canvas = np.zeros(shape, np.uint8)
    for _ in range(count):
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.35, 8))
        steps = length_px / 8 * rng.lognormal(0, 0.4) * np.stack([np.cos(heading), np.sin(heading)], 1)
        points = rng.uniform(0, 1, 2) * shape[::-1] + np.cumsum(steps, 0)
        width = max(1, int(round(width_px * rng.lognormal(0, 0.3))))
        cv2.polylines(canvas, [np.round(points * 8).astype(np.int32)], False, 1, width, cv2.LINE_8, 3)
    return canvas


def expose(rng: np.random.Generator, signal: np.ndarray, seen: Setting) -> np.ndarray:
    """Beam blur, shading, charging, line jitter, noise and the tone curve: the finished picture."""
    shape = signal.shape
    picture = cv2.GaussianBlur(signal.astype(np.float32), (0, 0), seen.blur_px)
    coarse = rng.normal(size=(3, 3)).astype(np.float32)
    picture += cv2.resize(coarse, shape[::-1], interpolation=cv2.INTER_CUBIC) * rng.uniform(0, 9)
    if rng.random() < 0.12:
        lines = gaussian_filter1d(rng.normal(size=shape[0]), 1.5) * rng.uniform(4, 12)
        picture += lines[:, None].astype(np.float32)
    if rng.random() < 0.1:
        shift = np.round(gaussian_filter1d(rng.normal(size=shape[0]), 1.0) * rng.uniform(0.4, 1.2)).astype(int)
        picture = picture[np.arange(shape[0])[:, None], np.clip(np.arange(shape[1]) + shift[:, None], 0, shape[1] - 1)]
    shot = rng.standard_normal(shape, np.float32) * seen.noise * np.sqrt(np.clip(picture, 15, None) / 120)
    picture += cv2.GaussianBlur(shot, (0, 0), 0.6) * 1.9 if rng.random() < 0.3 else shot
    low, high = np.percentile(picture[::3, ::3], (0.7, 99.3))
    dim, lit = min(low, rng.uniform(8, 40)), max(high, rng.uniform(190, 245))
    scaled = np.clip((picture - dim) / (lit - dim), 0, 1) ** seen.gamma
    return np.round(6 + scaled * 240).astype(np.uint8)
