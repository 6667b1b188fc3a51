"""The secondary-electron picture of a surface.

Yield grows as sec θ (from memory), yet honed walls slope so little that this gives a few per cent; most contrast comes from
the detector's side, bright edges, rough or carbon-filled floors and starved escape from deep grooves. Graphite is dark
(backscatter 0.06 against iron's 0.28, after Reuter). Shot noise goes as the root of the grey.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from .stages import Surface


@dataclass(frozen=True)
class Setting:
    """One sitting at the microscope: what it does to every field alike."""

    side: float
    towards: float
    edge: float
    starved: float
    floor_rough: float
    metal_grey: float
    noise: float
    blur_px: float

    @classmethod
    def draw(cls, rng: np.random.Generator) -> "Setting":
        starved = rng.uniform(0.5, 1.5) if rng.random() < 0.75 else -rng.uniform(0.35, 0.9)
        return cls(
            side=rng.uniform(0.3, 1.0) * (rng.random() < 0.75),
            towards=rng.uniform(0, 2 * np.pi),
            edge=rng.uniform(0.1, 0.9),
            starved=starved,
            floor_rough=rng.uniform(0.1, 0.8),
            metal_grey=np.sign(starved) * (rng.uniform(0.12, 0.7) if rng.random() < 0.85 else -rng.uniform(0.05, 0.25)),
            noise=10 ** rng.uniform(-1.6, -0.35),
            blur_px=rng.uniform(0.5, 1.3) if rng.random() < 0.85 else rng.uniform(1.3, 2.2),
        )


def noise(rng: np.random.Generator, shape: tuple[int, int], length_px: float) -> np.ndarray:
    """Isotropic noise of unit spread."""
    cells = rng.standard_normal((int(shape[0] / length_px) + 4, int(shape[1] / length_px) + 4), dtype=np.float32)
    drawn = cv2.resize(cells, shape[::-1], interpolation=cv2.INTER_CUBIC)
    return drawn / (drawn.std() + 1e-6)


def picture(rng: np.random.Generator, surface: Surface, films: np.ndarray, setting: Setting) -> np.ndarray:
    """Grey values of a surface under its films (grey differences of what lies on or in it)."""
    frame = surface.liner.frame
    shape, px = frame.shape, frame.pixel_size_um
    grain, grit = noise(rng, shape, 1.2), noise(rng, shape, 3.5)
    valley = np.clip((surface.now - 0.15) / 0.6, 0, 1)
    scuff = cv2.GaussianBlur(surface.scuff, (0, 0), rng.uniform(0.8, 2.5))
    smear = cv2.GaussianBlur((surface.codes == 2) * surface.cover, (0, 0), 0.8)
    calm = (1 - scuff) * (1 - 0.8 * valley)
    height = -surface.now * (0.3 + 0.7 * np.clip(surface.now / 0.6, 0, 1)) + 0.25 * np.minimum(px, 0.6) * smear * (
        1 + 0.5 * grit
    )
    height += px * (0.13 * surface.marks * calm * (1 + smear) + _between_grooves(rng, surface) * calm)
    height += px * 0.22 * smear * frame.streaks(rng, frame.stroke, long_px=30, wide_px=2) * calm
    height += px * 0.5 * setting.floor_rough * valley * (0.35 * grain + 0.4 * grit)
    height += px * _burrs(rng, surface, valley) * (1 - scuff)
    if surface.torn:
        height += px * surface.torn * scuff * _torn(rng, surface)
    height = height.astype(np.float32)
    slope_x, slope_y = (
        np.clip(cv2.Sobel(height, cv2.CV_32F, *order, scale=0.125) / px, -1.2, 1.2) for order in ((1, 0), (0, 1))
    )
    lit = setting.side * (slope_x * np.cos(setting.towards) + slope_y * np.sin(setting.towards))
    tilted = np.sqrt(1 + slope_x**2 + slope_y**2) - 1
    proud = height - cv2.GaussianBlur(height, (0, 0), 1.8)
    deep = cv2.GaussianBlur(surface.now, (0, 0), 0.7)
    grey = 0.9 * lit + 0.7 * tilted + setting.edge * np.clip(proud / max(0.5, px), -0.5, 0.8)
    grey -= 0.55 * setting.starved * deep**3 / (deep**3 + 0.25)
    rim = np.abs(cv2.Laplacian(smear, cv2.CV_32F, ksize=3))
    grey += 0.25 * setting.metal_grey * smear + 0.06 * (0.3 + smear) * calm * surface.marks - 0.035 * np.minimum(rim, 3)
    grey -= 0.45 * surface.crack * np.sign(setting.starved) * (1 - scuff)
    grey += rng.uniform(-0.15, 0.15) * scuff
    grey += surface.shine * 0.03 * noise(rng, shape, 60) + films
    return _recorded(rng, grey, setting)


def _between_grooves(rng: np.random.Generator, surface: Surface) -> np.ndarray:
    """What the stones left on the plateau: peaks along the lays and fainter finishing scratches, as slopes."""
    frame, finish = surface.liner.frame, surface.liner.finish
    dense = rng.uniform(*finish.scratches)
    left = np.zeros(frame.shape, np.float32)
    for lay in surface.liner.lays:
        peaks = frame.streaks(rng, lay, long_px=70, wide_px=2.2) + frame.streaks(rng, lay, long_px=120, wide_px=7)
        scratches = np.maximum(frame.streaks(rng, lay, long_px=300, wide_px=1.8) - (1.6 - dense), 0)
        left += finish.peaks * peaks * surface.peaks - 0.22 * dense * scratches * (0.4 + 0.6 * surface.peaks)
    return left


def _burrs(rng: np.random.Generator, surface: Surface, valley: np.ndarray) -> np.ndarray:
    """Metal that the grits pushed up and tore along the rims, as heights in pixels; running-in takes it."""
    beside = np.clip(cv2.GaussianBlur(valley, (0, 0), 1.6) - valley, 0, 0.4)
    return 12 * surface.liner.finish.peaks * surface.peaks * beside * np.maximum(noise(rng, beside.shape, 3) + 0.3, 0)


def _torn(rng: np.random.Generator, surface: Surface) -> np.ndarray:
    """Ploughed ridges, tears and picked-up lumps, as heights in pixels."""
    frame = surface.liner.frame
    stroke = frame.stroke + rng.normal(0, 0.03, 2)
    ridges = frame.streaks(rng, stroke[0], long_px=rng.uniform(60, 200), wide_px=rng.uniform(1.6, 4))
    ridges += 0.7 * frame.streaks(rng, stroke[1], long_px=rng.uniform(30, 90), wide_px=rng.uniform(4, 8))
    scale = rng.uniform(1.6, 3.5)
    tears = np.abs(frame.streaks(rng, stroke[0] + 0.12, long_px=4 * scale, wide_px=1.3 * scale))
    tears += np.abs(frame.streaks(rng, stroke[1] - 0.18, long_px=6 * scale, wide_px=2 * scale))
    lumps = np.maximum(noise(rng, frame.shape, rng.uniform(4, 9)) + 0.4 * noise(rng, frame.shape, 2) - 0.9, 0)
    parts = rng.dirichlet((1.8, 1.2, 0.7)) * 2.0
    strength = np.clip(1 + 0.4 * frame.streaks(rng, stroke[1], long_px=90, wide_px=12), 0.35, 2)
    return strength * (0.7 * parts[0] * ridges + 1.1 * parts[1] * tears + 1.8 * parts[2] * lumps)


def _recorded(rng: np.random.Generator, grey: np.ndarray, setting: Setting) -> np.ndarray:
    """Beam, shading, noise and the amplifier's setting."""
    grey = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), setting.blur_px)
    if rng.random() < 0.15:
        jitter = np.cumsum(rng.normal(0, 0.12, len(grey))) * 0.4 + rng.normal(0, 0.25, len(grey))
        cols = np.arange(grey.shape[1], dtype=np.float32)[None] + jitter.astype(np.float32)[:, None]
        rows = np.broadcast_to(np.arange(len(grey), dtype=np.float32)[:, None], grey.shape).copy()
        grey = cv2.remap(grey, cols, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    spread = float(grey.std())
    grey = (grey - grey.mean()) / (spread + 0.03)
    grey += rng.uniform(0, 0.35) * cv2.resize(rng.standard_normal((2, 2)).astype(np.float32), grey.shape[::-1])
    if rng.random() < 0.08:
        grey += (0.35 * np.convolve(rng.normal(0, 1, len(grey)), np.ones(7) / 3, "same"))[:, None]
    level, gain = rng.uniform(75, 165), rng.uniform(14, 40)
    relative = np.sqrt(np.clip(1 + 0.25 * grey, 0.2, 3))
    grey += 1.6 * setting.noise * relative * rng.standard_normal(grey.shape, dtype=np.float32)
    grey = level / 255 + gain / 255 * np.clip(grey, -6, 6)
    grey = np.where(grey > 0.85, 0.85 + 0.15 * np.tanh((grey - 0.85) / 0.15), grey)
    grey = np.where(grey < 0.1, 0.1 + 0.1 * np.tanh((grey - 0.1) / 0.1), grey)
    return np.clip(255 * grey ** rng.uniform(0.85, 1.2) + 0.5, 0, 255).astype(np.uint8)
