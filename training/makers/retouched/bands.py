"""Two families of hone grooves as bands with ragged outlines of their own; lengths in µm until drawn, angles in radians."""

from dataclasses import dataclass

import cv2
import numpy as np

from .textures import loguniform, wave

FINE = 2  # masks are cut on a sheet this many times finer than the picture, for soft outlines
LIMIT_UM = 0.5


@dataclass
class Band:
    """One groove: centre line (n, 2) in pixels, across its unit normal, half width left and right (n,) in pixels, depth (n,)
    in µm after wear, wall the share of the half width taken by a wall, worn (n,) 0 or 1, angle of the lay, turn a number of its own."""

    centre: np.ndarray
    across: np.ndarray
    left: np.ndarray
    right: np.ndarray
    depth: np.ndarray
    wall: float
    worn: np.ndarray
    angle: float
    turn: float

    def at(self, u: float | np.ndarray) -> np.ndarray:
        """Points (n, 2) at the place u across the band, -1 the left rim, 1 the right one."""
        u = np.broadcast_to(u, self.left.shape)
        return self.centre + (u * np.where(u < 0, self.left, self.right))[:, None] * self.across

    @property
    def inner(self) -> np.ndarray:
        """Share of the half width (n,) where the ground lies 0.5 µm deep or deeper, 0 where none does."""
        return np.where(self.depth >= LIMIT_UM, 1 - self.wall * LIMIT_UM / np.maximum(self.depth, LIMIT_UM), 0)


def fill(sheet: np.ndarray, one: np.ndarray, two: np.ndarray, value: float) -> None:
    """Fill between two lines (n, 2), given in pixels of the picture, on a finer sheet."""
    ring = np.concatenate([one, two[::-1]]) * FINE
    cv2.fillPoly(sheet, [np.round((ring + 0.5 * (1 - 1 / FINE)) * 8).astype(np.int32)], value, cv2.LINE_8, 3)


def runs(flag: np.ndarray, least: int = 2) -> list[slice]:
    """Stretches where flag is set, at least least samples long."""
    edge = np.flatnonzero(np.diff(np.concatenate([[0], flag.astype(np.int8), [0]])))
    return [slice(a, b) for a, b in edge.reshape(-1, 2) if b - a >= least]


def _places(rng: np.random.Generator, span: float, pitch: float) -> np.ndarray:
    """Offsets of the grooves of one family over span: scattered, in groups, or nearly even."""
    style = rng.choice(3, p=[0.5, 0.3, 0.2])
    count = int(np.clip(rng.poisson(span / pitch), 1, 90))
    if style == 0:
        return rng.uniform(-span / 2, span / 2, count)
    if style == 1:
        heads = rng.uniform(-span / 2, span / 2, max(count // 4, 1))
        return rng.choice(heads, count) + rng.standard_normal(count) * pitch * rng.uniform(0.3, 1.2)
    return (np.arange(count) - count / 2 + rng.normal(0, 0.2, count)) * span / count


def family(rng: np.random.Generator, shape: tuple[int, int], pixel: float, angle: float, share: float,
           worn: np.ndarray, truncation: float, depth: float, width: float) -> list[Band]:
    """The grooves of one lay: share 0-1 thins them out; depth and width are the middle of their spread and truncation what wear
    took off, all in µm; pixel in µm; worn is the map of where."""
    rows, cols = shape
    span = float(np.hypot(rows, cols)) * 1.05
    way, normal = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
    pitch = min(max(width * loguniform(rng, 1.8, 9) / share, 3 * pixel), span * pixel / 3)
    restless, rag, ends = loguniform(rng, 0.01, 0.3), loguniform(rng, 0.02, 0.35), rng.uniform(0, 0.7)
    spread = rng.uniform(0.2, 0.9)
    out = []
    for place in _places(rng, span, pitch / pixel):
        peak = float(np.clip(depth * np.exp(spread * rng.standard_normal()), 0.15, 12))
        wide = float(np.clip(width * np.exp(0.45 * rng.standard_normal()), max(1.5, 1.3 * pixel), 70))
        long = span * (1.0 if rng.random() > ends else loguniform(rng, 0.12, 0.8))
        step = float(np.clip(wide / pixel / 3, 1.5, 6))
        count = int(long / step) + 4
        s = np.linspace(-long / 2, long / 2, count) + (0 if long == span else rng.uniform(-0.4, 0.4) * span)
        half = wide / pixel / 2
        drift = wave(rng, count, 120 / step) * restless * half * 2 + wave(rng, count, 25 / step) * restless * half * 0.4
        centre = np.array([cols / 2, rows / 2]) + s[:, None] * way + (place + drift)[:, None] * normal
        swell = np.clip(1 + rng.uniform(0.05, 0.4) * wave(rng, count, 90 / step), 0.15, 2)
        fade = np.clip(np.minimum(np.arange(count), np.arange(count)[::-1]) / max(loguniform(rng, 0.02, 0.4) * count, 1), 0, 1)
        fade = np.ones(count) if long == span else np.sqrt(fade)
        ix = np.clip(centre.astype(int), 0, [cols - 1, rows - 1])
        on = worn[ix[:, 1], ix[:, 0]].astype(float)
        wall = rng.uniform(0.1, 1.0)
        # truncation takes the top off: the groove loses depth everywhere and width in proportion to its walls
        left_over = np.clip(peak * swell * fade - truncation * on, 0.02, None)
        narrow = 1 - wall * np.clip(truncation * on / np.maximum(peak * swell, 0.05), 0, 0.95)
        torn = [rag * (0.8 * wave(rng, count, rng.uniform(2, 9)) + 0.4 * rng.standard_normal(count)) for _ in range(2)]
        rim = [half * np.clip(fade, 0.1, 1) * narrow * np.clip(1 + t, 0.35, 1.8) for t in torn]
        out.append(Band(centre, normal, *rim, left_over, wall, on, angle, float(rng.uniform())))
    return sorted(out, key=lambda band: float(band.depth.max()))


def cut(bands: list[Band], shape: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """Soft footprints (0-1) of the whole bands and of their parts at least 0.5 µm deep."""
    foot, deep = np.zeros((2, shape[0] * FINE, shape[1] * FINE), np.uint8)
    for band in bands:
        fill(foot, band.at(-1.0), band.at(1.0), 255)
        inner = band.inner
        for run in runs(inner > 0.02):
            fill(deep, band.at(-inner)[run], band.at(inner)[run], 255)
    return tuple(cv2.resize(m, shape[::-1], interpolation=cv2.INTER_AREA).astype(np.float32) / 255 for m in (foot, deep))
