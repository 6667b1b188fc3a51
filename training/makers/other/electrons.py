"""The electron picture of a ground: what leaves each spot, what of it the detector gets, and what the electronics make of it.

Emission: yield (1 + slope²)^(n/2), the secant law written in slopes, n near 1 (from memory). Bright edges: where the beam's
range R (Kanaya, Okayama 1972: R = 0.0276·A·E^1.67 / (Z^0.89·ρ) µm, for iron) reaches a nearby wall or rim, electrons leave there
too. Collection: a detector on one side sees slopes turned to it better, and deep places starve, in proportion to how far
the surroundings stand above them. Carbon backscatters about 0.06 against iron's 0.28. Counting: Poisson, by its normal limit.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .ground import Ground, cloud
from .specimen import Specimen


@dataclass(frozen=True, kw_only=True)
class Setting:
    """How the session's pictures are taken: kept for all fields of a specimen."""

    side_deg: float
    side: float
    power: float
    starve: float
    edge: float
    floor_carbon: float
    smear_bright: float
    seam: float
    spread: float
    mean_grey: float
    gamma: float
    counts: float
    blur_px: float
    shading: float
    film: float


def draw_setting(specimen: Specimen, rng: np.random.Generator) -> Setting:
    """Draw the session's setting; a hard one is noisy, blurred and flat."""
    hard = specimen.hard
    return Setting(
        side_deg=float(rng.uniform(0, 360)),
        side=float(rng.uniform(0.1, 0.5) if specimen.detector == "SE" else rng.uniform(0.3, 0.7)),
        power=float(rng.uniform(0.8, 1.4)),
        starve=float(rng.uniform(0.06, 0.3)),
        edge=float(rng.uniform(0.1, 0.7)),
        floor_carbon=float(rng.choice([rng.uniform(0.1, 0.55), rng.uniform(0.0, 0.1)], p=(0.75, 0.25))),
        smear_bright=float(rng.uniform(0.02, 0.11) * rng.choice([1, -1], p=(0.75, 0.25))),
        seam=float(rng.uniform(0.05, 0.25)),
        spread=float(rng.uniform(10, 18) if hard else rng.uniform(22, 46)),
        mean_grey=float(rng.uniform(85, 160)),
        gamma=float(rng.uniform(0.8, 1.25)),
        counts=float(np.exp(rng.uniform(np.log(60), np.log(150)) if hard else rng.uniform(np.log(200), np.log(4000)))),
        blur_px=float(rng.uniform(1.2, 1.9) if hard else rng.uniform(0.45, 1.05)),
        shading=float(rng.uniform(0.0, 0.18)),
        film=float(rng.uniform(0.01, 0.07)),
    )


def iron_range_um(kv: float) -> float:
    """Kanaya and Okayama's range in iron (A = 55.85, Z = 26, 7.87 g/cm³), µm.

    >>> round(iron_range_um(10), 2)
    0.5
    """
    return 0.0276 * 55.85 * kv**1.67 / (26**0.89 * 7.87)


def electron_signal(ground: Ground, specimen: Specimen, setting: Setting, rng: np.random.Generator) -> np.ndarray:
    """Return the signal before the electronics, (rows, cols) float32, 1 on flat clean iron."""
    pixel = specimen.pixel_size_um
    height = ground.height_um
    slope_down = cv2.Sobel(height, cv2.CV_32F, 0, 1, ksize=3) / (8 * pixel)
    slope_right = cv2.Sobel(height, cv2.CV_32F, 1, 0, ksize=3) / (8 * pixel)
    steep = np.minimum(slope_down**2 + slope_right**2, 6.0)
    side = np.deg2rad(setting.side_deg)
    facing = (slope_down * np.sin(side) - slope_right * np.cos(side)) / np.sqrt(1 + steep)
    back = specimen.detector == "BSE"
    signal = np.ones_like(height) if back else (1 + steep) ** (setting.power / 2)
    signal *= 1 + setting.side * facing
    for reach_um, weight in ((2.5, 0.5), (9.0, 0.5)):
        around = _blur(height, reach_um / pixel)
        signal *= np.exp(-setting.starve * weight * np.clip(around - height, 0, 4))
    if not back:
        reach = max(iron_range_um(specimen.kv), 0.35)
        proud = np.clip(height - _blur(height, max(reach / pixel, 1.0)), 0, 0.8) / reach
        signal += setting.edge * np.minimum(proud, 1.2)
    below = np.clip((ground.depth_um - 0.2) / 0.5, 0, 1)
    carbon = np.maximum(
        ground.flake * 0.9, below * setting.floor_carbon * (1 + 0.35 * cloud(height.shape, 4.0 / pixel, rng))
    )
    signal *= 1 - (0.75 if back else 0.6) * np.clip(carbon, 0, 1)
    signal *= 1 + setting.film * ground.film * (1 - below)
    if ground.worn:
        patchy = np.clip(1 + 0.6 * cloud(height.shape, 12.0 / pixel, rng), 0, 2)
        signal += setting.smear_bright * patchy * (ground.moved > 0) + 0.05 * ground.torn * (0 if back else 1)
        signal -= setting.seam * _seams(ground) * np.clip(0.8 + cloud(height.shape, 7.0 / pixel, rng), 0, 1.5)
    signal += ground.grain * rng.uniform(-0.15, 0.5) * (0 if back else 1) - 0.3 * ground.grain * back
    signal[ground.void] = 0.03
    return np.maximum(signal, 0.03)


def expose(signal: np.ndarray, setting: Setting, specimen: Specimen, rng: np.random.Generator) -> np.ndarray:
    """Return the picture as the electronics put it out, (rows, cols) float32 from 0 to 1, not yet rounded."""
    rows, cols = signal.shape
    astigmatic = rng.uniform(0.9, 1.15)
    blur = setting.blur_px * rng.uniform(0.9, 1.15)
    signal = cv2.GaussianBlur(signal, (0, 0), blur * astigmatic, sigmaY=blur / astigmatic)
    down, right = np.linspace(-1, 1, rows, dtype=np.float32)[:, None], np.linspace(-1, 1, cols, dtype=np.float32)
    turn = rng.uniform(0, 2 * np.pi)
    signal = signal * (
        1 + setting.shading * (0.5 * (np.cos(turn) * right + np.sin(turn) * down) - 0.3 * (right**2 + down**2))
    )
    signal = signal + np.sqrt(signal / setting.counts) * rng.standard_normal(signal.shape, dtype=np.float32)
    signal += (rng.standard_normal(rows) * rng.uniform(0, 0.012)).astype(np.float32)[:, None]
    if rng.random() < 0.12:
        row, high = rng.integers(rows), rng.uniform(4, 30)
        signal += (rng.uniform(-0.1, 0.12) * np.exp(-(((np.arange(rows) - row) / high) ** 2))).astype(np.float32)[
            :, None
        ]
    sample = signal[::5, ::5]
    sample = sample[sample > 0.3] if np.any(sample > 0.3) else sample
    low, middle, high = np.percentile(sample, (5, 50, 95))
    grey = setting.mean_grey + (signal - middle) * setting.spread * 3.0 / max(high - low, 0.05)
    grey = np.clip(grey / 255, 0, 1)
    return grey ** np.float32(setting.gamma)


def _seams(ground: Ground) -> np.ndarray:
    """The cracks where closed metal meets the land along a former rim, (rows, cols) float32 0..1, two to three pixels wide."""
    closed = cv2.dilate((ground.codes == 2).astype(np.uint8), np.ones((3, 3), np.uint8))
    land = cv2.dilate((ground.codes == 0).astype(np.uint8), np.ones((3, 3), np.uint8))
    return cv2.GaussianBlur((closed & land).astype(np.float32), (0, 0), 0.6)


def _blur(image: np.ndarray, sigma_px: float) -> np.ndarray:
    """Gaussian blur; wide ones on a reduced picture, for speed."""
    if sigma_px < 5:
        return cv2.GaussianBlur(image, (0, 0), max(sigma_px, 0.6))
    step = int(sigma_px // 2.5)
    small = cv2.resize(
        image, (max(image.shape[1] // step, 4), max(image.shape[0] // step, 4)), interpolation=cv2.INTER_AREA
    )
    small = cv2.GaussianBlur(small, (0, 0), sigma_px / step)
    return cv2.resize(small, image.shape[::-1], interpolation=cv2.INTER_LINEAR)
