"""The secondary-electron picture of a height map.

Yield grows as sec of the slope; a detector at one side adds a cosine-like shading; edges within the primary range shine
(Kanaya, Okayama 1972: 0.16–1.6 µm in iron at 5–20 kV); deep ground starves or, carbon-free and rough, shines; carbon
yields little. Shot noise follows the root of the electrons counted.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from makers.moulded.noise import Shape, blurred, chance, grain, log_uniform


@dataclass(frozen=True, kw_only=True)
class Beam:
    """One sitting's settings, the same all over a field."""

    detector_deg: float
    sided: float
    slope_gain: float
    edge_gain: float
    range_um: float
    floor_tone: float
    floor_rough: float
    skin_tone: float
    carbon_tone: float
    tilt_deg: float


def beam(rng: np.random.Generator) -> Beam:
    floor = rng.choice(["dark", "edged", "bright"], p=[0.58, 0.24, 0.18])
    floor_tone = float(rng.uniform(*{"dark": (-0.55, -0.15), "edged": (-0.2, -0.05), "bright": (0.12, 0.4)}[floor]))
    skin_tone = float(rng.uniform(0.04, 0.18) if chance(rng, 0.6) else rng.uniform(-0.12, -0.04))
    if chance(rng, 0.15):
        skin_tone *= 0.2  # a closure that hardly shows
    if skin_tone * floor_tone > 0:  # no skin passes for an open floor
        skin_tone = float(np.sign(skin_tone) * min(abs(skin_tone), 0.35 * abs(floor_tone)))
    return Beam(
        detector_deg=rng.uniform(0, 360),
        sided=rng.uniform(0.15, 0.9) if chance(rng, 0.65) else 0.05,
        slope_gain=rng.uniform(0.2, 1.0),
        edge_gain=rng.uniform(0.08, 0.35) * (1.7 if floor == "edged" else 1.0),
        range_um=rng.choice([0.16, 0.5, 0.99, 1.6]),
        floor_tone=floor_tone,
        floor_rough=rng.uniform(0.01, 0.09),
        skin_tone=skin_tone,
        carbon_tone=rng.uniform(-0.6, -0.25),
        tilt_deg=rng.uniform(5, 30) if chance(rng, 0.35) else 0.0,
    )


def emission(
    rng: np.random.Generator,
    settings: Beam,
    height_um: np.ndarray,
    depth_um: np.ndarray,
    tones: np.ndarray,
    pixel_size_um: float,
) -> np.ndarray:
    """Electrons from each pixel, about 1 on flat land; tones (rows, cols) adds what material does."""
    smooth = cv2.GaussianBlur(height_um, (0, 0), 0.6)
    slope_col = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=1 / (8 * pixel_size_um))
    slope_row = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=1 / (8 * pixel_size_um))
    turn = np.radians(settings.detector_deg)
    towards = slope_col * np.cos(turn) + slope_row * np.sin(turn)
    tilted = np.tan(np.radians(settings.tilt_deg))
    secant = np.sqrt(1 + slope_col**2 + slope_row**2 + 2 * tilted * towards + tilted**2) / np.sqrt(1 + tilted**2)
    signal = 1 + settings.slope_gain * np.clip(secant - 1, -0.4, 0.8) - settings.sided * 0.5 * np.tanh(1.6 * towards)
    edge = height_um - blurred(height_um, np.clip(1.6 * settings.range_um / pixel_size_um, 1.2, 9.0))
    signal += settings.edge_gain * 0.45 * np.tanh(edge / 0.45)
    deep = 1 - np.exp(-np.maximum(depth_um - 0.15, 0) / 0.8)
    rough = grain(rng, depth_um.shape, 2, 2) + grain(rng, depth_um.shape, 5, 5)
    return np.maximum(signal + deep * (settings.floor_tone + settings.floor_rough * rough) + tones, 0.04)


def recorded(rng: np.random.Generator, signal: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Grey picture (uint8) and the ground that charging hides (bool), in the screen's frame."""
    shape: Shape = signal.shape
    hidden = np.zeros(shape, bool)
    if chance(rng, 0.2):  # contamination and tribofilm stains
        signal = signal * (
            1 - rng.uniform(0.03, 0.13) * np.clip(grain(rng, shape, 60, 90) + 0.4 * grain(rng, shape, 9, 9) - 0.3, 0, 1)
        )
    signal = signal * (1 + rng.uniform(0, 0.06) * grain(rng, shape, shape[0] / 2, shape[1] / 2))
    if chance(rng, 0.06):
        cloud = blurred(grain(rng, shape, 45, 90), 8)
        hidden = cloud > 2.5 * float(cloud.std())
        glow = blurred(hidden.astype(np.float32), 7)
        hidden = glow > 0.4
        signal = signal + rng.uniform(0.7, 1.2) * glow + rng.uniform(0, 0.04) * grain(rng, shape, 1.5, 300)
    if chance(rng, 0.12):
        rows, cols = np.indices(shape, dtype=np.float32)
        jitter = rng.normal(0, rng.uniform(0.2, 0.8), (shape[0], 1)).astype(np.float32)
        signal = cv2.remap(
            signal.astype(np.float32), cols + jitter, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
        )
    signal = blurred(signal.astype(np.float32), rng.uniform(1.3, 2.2) if chance(rng, 0.12) else rng.uniform(0.3, 1.0))
    low, _, high = np.percentile(signal[::3, ::3][~hidden[::3, ::3]], [1, 50, 99])
    electrons = max(log_uniform(rng, 90, 5000), (0.16 * (high - low)) ** -2)  # nobody keeps a picture all noise
    shot = rng.standard_normal(shape, dtype=np.float32)
    signal = signal + np.sqrt(np.maximum(signal, 0.05) / electrons) * (
        shot if chance(rng, 0.7) else blurred(shot, 0.6) * 1.6
    )
    low, middle, high = np.percentile(signal[::3, ::3][~hidden[::3, ::3]], [1, 50, 99])
    span = rng.uniform(110, 225) / max(high - low, 0.15)
    grey = np.clip(((signal - middle) * span + rng.uniform(85, 155)) / 255, 0, 1)
    return (255 * grey ** rng.uniform(0.8, 1.25) + 0.5).astype(np.uint8), hidden
