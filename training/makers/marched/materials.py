"""What lies on and in the metal without being a valley: graphite, stains, debris; and the metal's own fine texture."""

from dataclasses import dataclass

import numpy as np

from .frame import Frame
from .noise import Textures, smoothstep


def graphite(rng: np.random.Generator, frame: Frame, textures: Textures) -> np.ndarray:
    """Cover 0–1 of curved flakes some 10–100 µm long and a few µm wide, as the zero lines of warped noise."""
    size = np.exp(rng.uniform(np.log(12), np.log(60)))
    turn = rng.uniform(0, 180)
    u, v = frame.turned(turn)
    warp = textures.noise(u / size + 17, v / size) * 0.5
    line = np.abs(textures.smooth_noise(u / size + warp, v / size + 7)) * size * 0.5
    thick = np.float32(rng.uniform(0.4, 2.0)) * (1 + 0.5 * textures.noise(u / 5, v / 5))
    present = smoothstep(textures.noise(u / (0.7 * size) + 31, v / (0.7 * size) + 3) - np.float32(rng.uniform(0.3, 1.2)), 0, 0.3)
    return smoothstep(thick * present - line, 0, 0.4 + 0.7 * frame.pixel_um)


def stains(rng: np.random.Generator, frame: Frame, textures: Textures) -> np.ndarray:
    """Cover 0–1 of oil or film patches with soft or sharp shores."""
    size = frame.span_um * rng.uniform(0.08, 0.4)
    blob = textures.noise(frame.x / size + 9, frame.y / size) + 0.35 * textures.noise(frame.x / size * 4, frame.y / size * 4)
    low = rng.uniform(0.5, 1.3)
    return smoothstep(blob, low, low + np.exp(rng.uniform(np.log(0.05), np.log(1.0))))


def debris(rng: np.random.Generator, frame: Frame, textures: Textures, count: int) -> np.ndarray:
    """Signed distance to angular particles, µm, negative inside."""
    distance = np.full(frame.x.shape, 99.0, np.float32)
    high, wide = (np.ptp(c) / 2 for c in (frame.y, frame.x))
    for _ in range(count):
        x, y = rng.uniform(-wide, wide), rng.uniform(-high, high)
        radius = np.clip(np.exp(rng.uniform(np.log(0.8), np.log(12))), 4 * frame.pixel_um, 0.05 * frame.span_um)
        dx, dy = frame.x - np.float32(x), frame.y - np.float32(y)
        turn, long = rng.uniform(0, np.pi), rng.uniform(1, 2)
        a, b = dx * np.cos(turn) + dy * np.sin(turn), (dy * np.cos(turn) - dx * np.sin(turn)) * long
        round_ = np.hypot(a, b)
        square = np.maximum(np.abs(a), np.abs(b))
        mix = rng.uniform(0, 1)
        distance = np.minimum(distance, (mix * round_ + (1 - mix) * square - radius).astype(np.float32))
    return distance + 0.5 * textures.noise(frame.x / 2.5 + 13, frame.y / 2.5)


@dataclass(frozen=True)
class Torn:
    """cover: True where adhesion tore the metal; relief: µm, added there; bright: 0–1, its ridges."""

    cover: np.ndarray
    relief: np.ndarray
    bright: np.ndarray


def scuffing(rng: np.random.Generator, frame: Frame, textures: Textures, share: float) -> Torn:
    """Streaks along the stroke, torn across it: ploughed ridges, and scales of metal turned up."""
    slide, aside = frame.stroke
    wide = max(np.exp(rng.uniform(np.log(3), np.log(40))), 6 * frame.pixel_um)
    wide = min(wide, 0.15 * frame.span_um)
    long = wide * np.exp(rng.uniform(np.log(6), np.log(25)))
    shift = rng.uniform(0, 40, 2)
    streak = textures.noise(slide / long + shift[0], aside / wide + shift[1])
    streak += 0.25 * textures.noise(slide / (0.3 * wide), aside / (0.15 * wide))
    cover = streak > np.sqrt(2) * (1 - 2 * share)
    fine = max(np.exp(rng.uniform(np.log(0.6), np.log(2.5))), 2.2 * frame.pixel_um)
    ridges = 1 - np.abs(textures.smooth_noise(slide / (fine * rng.uniform(4, 12)), aside / fine))
    warp = 0.6 * textures.noise(slide / (3 * fine), aside / (3 * fine) + 21)
    border, number = textures.cells(slide / (fine * rng.uniform(1.5, 5)) + warp, aside / (1.5 * fine) + warp)
    scale = number - smoothstep(0.35 - border, 0, 0.35)
    rough = textures.noise(frame.x / (0.6 * fine), frame.y / (0.6 * fine))
    mix = rng.uniform(0.2, 0.8)
    relief = (mix * ridges + (1 - mix) * 1.5 * scale + 0.25 * rough).astype(np.float32)
    return Torn(cover, relief * np.float32(fine * rng.uniform(0.25, 0.6)), smoothstep(relief, 0.5, 1.4))
