"""Hone grooves as a marked line process.

A honed bore is two bands of grooves placed at random at two angles (Puente León, CIRP Annals 51 (2002) 503). Here each lay
is a one-dimensional point process of line centres across the lay: Poisson, clustered (Neyman–Scott) or regular (gamma
renewal); see Chiu, Stoyan, Kendall, Mecke, Stochastic Geometry and its Applications (from memory). Marks are width, depth,
ends, slope and bend. The share of area under lines of intensity L and mean width w is 1 − exp(−L·w).
"""

from dataclasses import dataclass

import cv2
import numpy as np


def smooth_noise(rng: np.random.Generator, shape: tuple[int, int], down: float, along: float) -> np.ndarray:
    """Gaussian noise of about unit spread with the given correlation lengths (px) down the rows and along them."""
    coarse = (max(2, round(shape[0] / max(down, 1))) + 1, max(2, round(shape[1] / max(along, 1))) + 1)
    noise = rng.standard_normal(coarse, dtype=np.float32)
    return 1.15 * cv2.resize(noise, shape[::-1], interpolation=cv2.INTER_CUBIC)


@dataclass(frozen=True, kw_only=True)
class Population:
    """The grooves of one lay; lengths in px, depths in µm, intensity in lines per px across the lay."""

    process: str
    intensity: float
    width: float
    width_spread: float
    depth: float
    depth_spread: float
    correlation: float
    ended: float
    doubled: float
    slope_spread: float
    bend: float
    wave: float
    power: float
    ragged: float
    pixel_size_um: float


@dataclass(frozen=True, kw_only=True)
class Line:
    centre: float
    slope: float
    bend: float
    width: float
    depth: float
    start: float
    end: float


@dataclass(frozen=True)
class Trace:
    """A line laid on the lay's own grid: its box, and across it the place s (−1 and 1 at the rims)."""

    line: Line
    top: int
    left: int
    s: np.ndarray
    middle: np.ndarray
    half: np.ndarray


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(max(high, low * 1.001)))))


def draw_population(rng: np.random.Generator, pixel_size_um: float, across: int, share: float) -> Population:
    """Wide draws. Widths of 5–50 µm and depths of 1–10 µm are usual (from memory); the tails here reach further."""
    narrowest = max(3.2, 1.8 / pixel_size_um)
    width = log_uniform(rng, narrowest, max(narrowest * 1.3, min(across / rng.uniform(6, 25), 60 / pixel_size_um)))
    spread = rng.choice([rng.uniform(0.02, 0.15), rng.uniform(0.2, 0.5), rng.uniform(0.6, 0.85)])
    mean = width * np.exp(spread**2 / 2)
    return Population(
        process=str(rng.choice(["poisson", "clustered", "regular"], p=[0.45, 0.35, 0.2])),
        intensity=float(min(-np.log(1 - share) / mean, 0.25)),
        width=width,
        width_spread=float(spread),
        depth=log_uniform(rng, 0.8, 6.0),
        depth_spread=float(rng.uniform(0.1, 0.8)),
        correlation=float(rng.uniform(0, 1)),
        ended=float(rng.choice([0, rng.uniform(0, 0.3), rng.uniform(0.3, 1)])),
        doubled=float(rng.choice([0, 0, rng.uniform(0, 0.4)])),
        slope_spread=log_uniform(rng, 0.001, 0.04),
        bend=float(rng.choice([0, rng.normal(0, 0.02)])),
        wave=float(rng.choice([0, log_uniform(rng, 0.2, 3)])),
        power=log_uniform(rng, 1.0, 8.0),
        ragged=log_uniform(rng, 0.015, 0.12),
        pixel_size_um=pixel_size_um,
    )


def draw_centres(rng: np.random.Generator, process: str, intensity: float, length: float) -> np.ndarray:
    """Points of a stationary process on [0, length) with the given intensity."""
    if process == "regular":
        mean, order = 1 / intensity, 8
        gaps = rng.gamma(order, mean / order, int(1.6 * length * intensity) + 12)
        points = np.cumsum(gaps) - mean * rng.uniform(1, 2)
    elif process == "clustered":
        family, reach = 4.0, 1.2 / intensity
        parents = rng.uniform(-4 * reach, length + 4 * reach, rng.poisson((length + 8 * reach) * intensity / family))
        points = np.repeat(parents, rng.poisson(family, len(parents)))
        points = points + rng.normal(0, reach, len(points))
    else:
        points = rng.uniform(0, length, rng.poisson(length * intensity))
    return points[(points >= 0) & (points < length)]


def draw_lines(rng: np.random.Generator, pop: Population, length: int) -> list[Line]:
    lines = []
    for centre in draw_centres(rng, pop.process, pop.intensity, length):
        size, own = rng.standard_normal(2)
        width = max(2.5, pop.width * np.exp(pop.width_spread * size))
        mark = pop.correlation * size + np.sqrt(1 - pop.correlation**2) * own
        depth = min(pop.depth * np.exp(pop.depth_spread * mark), 12.0, 0.45 * width * pop.pixel_size_um)
        start, end = -1.0, float(length + 1)
        if rng.uniform() < pop.ended:
            middle, reach = rng.uniform(0, length), length * rng.uniform(0.1, 0.6)
            start, end = middle - reach, middle + reach
        slope = rng.normal(0, pop.slope_spread)
        line = {"bend": pop.bend + rng.normal(0, 0.003), "width": width, "depth": depth, "start": start, "end": end}
        lines.append(Line(centre=centre, slope=slope, **line))
        if rng.uniform() < pop.doubled:  # a near-parallel doublet, or a fork where the two meet
            beside, turn = centre + width * rng.uniform(-1.8, 1.8), slope + rng.normal(0, 0.03)
            lines.append(Line(centre=beside, slope=turn, **line | {"depth": depth * rng.uniform(0.3, 1)}))
            if rng.uniform() < 0.3:
                break_at = rng.uniform(0.1, 0.9) * length
                lines[-1] = Line(centre=beside, slope=turn, **line | {"start": break_at, "end": end})
    return lines


def trace(rng: np.random.Generator, line: Line, pop: Population, length: int) -> Trace | None:
    left, right = max(0, int(line.start)), min(length, int(line.end))
    if right - left < 4:
        return None
    u = np.arange(left, right, dtype=np.float32) - length / 2
    middle = line.centre + line.slope * u + line.bend * length * (2 * u / length) ** 2
    middle = middle + pop.wave * smooth_noise(rng, (2, len(u)), 2, 60 + 2 * line.width)[0]
    half = (
        line.width / 2 * (1 + pop.ragged * np.clip(smooth_noise(rng, (2, len(u)), 2, max(8, 3 * line.width)), -2, 2)[0])
    )
    half = half + 0.6 * smooth_noise(rng, (2, len(u)), 2, 3)[0] * min(1, 12 * pop.ragged)
    half = np.maximum(half, 0.8)
    if line.start > 0 or line.end < length:
        far = np.minimum(u + length / 2 - line.start, line.end - u - length / 2)
        half = half * np.clip(far / (4 * line.width), 0.05, 1) ** 0.5
    top, bottom = int(max(0, (middle - half).min())), int(min(length, (middle + half).max() + 2))
    if bottom - top < 2:
        return None
    v = np.arange(top, bottom, dtype=np.float32)[:, None]
    return Trace(line, top, left, ((v - middle) / half).astype(np.float32), middle, half)


def dig(rng: np.random.Generator, traces: list[Trace], pop: Population, length: int, cut: float) -> np.ndarray:
    """Depth in µm below the plateau on the lay's own grid (rows across the lay, columns along it)."""
    depth = np.zeros((length, length), np.float32)
    for t in traces:
        rows, columns = t.s.shape
        lean = rng.uniform(-0.3, 0.3)
        place = np.abs(np.clip(t.s + lean * (1 - np.clip(t.s * t.s, 0, 1)), -1, 1))
        pixel = np.minimum(0.5 / t.half, 0.4).astype(np.float32)  # the deepest line fills at least its own pixel
        profile = 1 - np.clip((place - pixel) / (1 - pixel), 0, 1) ** np.float32(pop.power)
        along = 1 + 0.15 * np.clip(smooth_noise(rng, (2, columns), 2, max(50, 6 * t.line.width))[0], -2, 2)
        if t.line.start > 0 or t.line.end < length:  # grits leave gently
            u = np.arange(t.left, t.left + columns)
            along *= np.clip(np.minimum(u - t.line.start, t.line.end - u) / (6 * t.line.width), 0.1, 1) ** 0.7
        box = depth[t.top : t.top + rows, t.left : t.left + columns]
        np.maximum(box, profile * (t.line.depth * along), out=box)
    # every groove is cut by many grit edges: striae along its floor, below what counts as valley
    striae = smooth_noise(rng, depth.shape, rng.uniform(1, 4), log_uniform(rng, 60, 600))
    return depth + np.clip(depth - cut - 0.55, 0, None) * np.clip(log_uniform(rng, 0.04, 0.5) * striae, -0.8, 0.8)
