"""One band of hone grooves: depth of the cut, its torn rims and its rough floor, drawn in the frame of its lay."""

from dataclasses import dataclass

import numpy as np

from .noise import Frame, curve, field, log_uniform

ROUND = 1.2
"""Exponent of the sharpest profile: nearly a V."""


@dataclass
class Groove:
    """One groove on the canvas: left (first canvas column, px), across (rows, cols) position −1…1 between its rims,
    depth (rows, cols) µm, width px."""

    left: int
    across: np.ndarray
    depth: np.ndarray
    width: float


@dataclass
class Band:
    """A family of grooves; depth and rim are canvases in µm."""

    frame: Frame
    depth: np.ndarray
    rim: np.ndarray
    grooves: list[Groove]


def _places(rng: np.random.Generator, size: int, gap: float) -> np.ndarray:
    """Centres of grooves (px) along the canvas' columns, from even to grouped, with mean distance `gap` px."""
    evenness = log_uniform(rng, 0.6, 8.0)
    steps = rng.gamma(evenness, gap / evenness, size=max(4, int(1.6 * size / gap) + 2))
    if rng.random() < 0.35:
        steps *= np.where(rng.random(steps.size) < 0.25, rng.uniform(2, 4), 0.6)
    places = np.cumsum(steps) - rng.uniform(0, gap)
    return places[(places > -gap) & (places < size + gap)][:180]


def flat_floor(depth_um: float, width_um: float, wall: float, wanted: float) -> tuple[float, float]:
    """Depth (µm) and exponent of the profile 1 - |x|^exponent, as near to those wanted as walls of slope `wall` allow."""
    half_um = 0.5 * width_um
    deepest = min(depth_um, wall * half_um / ROUND)
    return deepest, float(np.clip(wall * half_um / deepest, ROUND, wanted))


def cut_band(
    rng: np.random.Generator, frame: Frame, pixel_um: float, *, depth_um: float, width_um: float, gap: float
) -> Band:
    """Cut a band of grooves of typical `depth_um` and `width_um`, `gap` px apart."""
    size = frame.size
    depth = np.zeros((size, size), np.float32)
    rim = np.zeros_like(depth)
    grooves = []
    spread_depth, spread_width = rng.uniform(0.15, 0.7), rng.uniform(0.1, 0.6)
    wander, tilt = log_uniform(rng, 0.3, 5.0), rng.uniform(0.0, 0.025)
    flatness = log_uniform(rng, ROUND, 9.0)
    # An abrasive grain is blunt: it cuts no steeper (common practice, no source).
    wall = np.tan(np.deg2rad(rng.uniform(10, 20)))
    rim_height = rng.uniform(0.0, 0.25) * (rng.random() < 0.7)
    ends = rng.uniform(0.0, 0.4)
    rows = np.arange(size, dtype=np.float32)
    rag = field(rng, (size, size), 3.0, 3.0)
    for place in _places(rng, size, gap):
        width = float(np.clip(width_um * np.exp(spread_width * rng.standard_normal()), 2.0, 60.0)) / pixel_um
        width = float(np.clip(width, 2.6, 0.45 * size))
        deepest = float(np.clip(depth_um * np.exp(spread_depth * rng.standard_normal()), 0.2, 10.0))
        deepest, power = flat_floor(deepest, width * pixel_um, wall, flatness)
        bend = rng.uniform(60, 300)
        # A hone runs straight: its path turns by about a degree, never by ten.
        middle = (
            place
            + min(wander, 0.012 * bend) * curve(rng, size, bend)
            + tilt * rng.standard_normal() * (rows - size / 2)
        )
        half = 0.5 * width * np.clip(1 + 0.1 * curve(rng, size, rng.uniform(15, 120)), 0.5, 1.6)
        low = max(0, int(np.floor(middle.min() - 1.6 * half.max())))
        high = min(size, int(np.ceil(middle.max() + 1.6 * half.max())) + 1)
        if high - low < 2:
            continue
        columns = np.arange(low, high, dtype=np.float32)
        torn = rag[:, low:high] * (0.4 + 0.05 * width) / (half[:, None] + 1)
        across = ((columns[None, :] - middle[:, None]) / half[:, None] + 0.35 * torn).astype(np.float32)
        away = np.abs(across)
        strength = np.clip(1 + 0.2 * curve(rng, size, rng.uniform(30, 200)), 0.3, 1.7)
        if rng.random() < ends:
            stop, fade = rng.uniform(0, size), log_uniform(rng, 4, 90)
            strength = strength / (1 + np.exp(np.clip(rng.choice([-1, 1]) * (rows - stop) / fade, -30, 30)))
        lean = 1 + rng.uniform(-0.3, 0.3) * across
        profile = np.clip(1 - away**power, 0, 1) * lean * (deepest * strength).astype(np.float32)[:, None]
        depth[:, low:high] = np.maximum(depth[:, low:high], profile)
        if rim_height:
            ridge = np.exp(-(((away - 1.15) / 0.16) ** 2)) * (rim_height * min(deepest, 3) * strength)[:, None]
            rim[:, low:high] = np.maximum(rim[:, low:high], ridge * np.clip(0.6 + 0.6 * rag[:, low:high], 0, 2))
        grooves.append(Groove(low, across, profile, width))
    return Band(frame, depth, rim, grooves)


def scratches(rng: np.random.Generator, frame: Frame, count: int, depth_um: float) -> np.ndarray:
    """Fine parallel scratches on a canvas, at most `depth_um` µm deep (finishing marks, running-in marks)."""
    size = frame.size
    lines = np.zeros((size, size), np.float32)
    for _ in range(count):
        column = int(rng.integers(1, size - 2))
        start, length = int(rng.uniform(-0.3, 0.9) * size), int(log_uniform(rng, 0.08, 1.3) * size)
        rows = slice(max(0, start), max(0, start + length))
        deep = depth_um * rng.uniform(0.1, 1.0)
        lines[rows, column] = np.maximum(lines[rows, column], deep)
        if rng.random() < 0.4:
            lines[rows, column + 1] = np.maximum(lines[rows, column + 1], 0.7 * deep)
    return lines
