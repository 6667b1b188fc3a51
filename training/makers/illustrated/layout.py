"""Where the hone grooves run: two crossing bands of paths with their widths and depths along them."""

from dataclasses import dataclass

import numpy as np

STEEPEST = np.tan(np.radians(32))
"""Slope of the walls that a blunt abrasive grain cuts at most (common practice, no source)."""


@dataclass
class Groove:
    """One groove: path (n, 2) and unit normals (n, 2) in pixels, half-width (n,) in pixels, depth (n,) in µm, floor = half-width
    of the flat floor over that of the groove, taste = its own random tones (5,)."""

    path: np.ndarray
    normals: np.ndarray
    half: np.ndarray
    depth: np.ndarray
    floor: float
    taste: np.ndarray

    def worn_by(self, loss: float) -> "Groove":
        """The same groove after the plateau lost `loss` µm: narrower and shallower, its rims moved down the walls."""
        left = np.maximum(1 - (1 - self.floor) * loss / self.depth, 0.05)
        return Groove(
            self.path,
            self.normals,
            self.half * left,
            np.maximum(self.depth - loss, 0.02),
            min(self.floor / float(left.mean()), 0.95),
            self.taste,
        )

    def open_half(self) -> np.ndarray:
        """Half-width (n,) in pixels inside which the ground lies 0.5 µm or more below the plateau; 0 where nowhere."""
        return np.where(self.depth >= 0.5, self.half * (1 - (1 - self.floor) * 0.5 / self.depth), 0)


def loguniform(rng: np.random.Generator, low: float, high: float, size: int | None = None):
    """Draw evenly in the logarithm between low and high."""
    return np.exp(rng.uniform(np.log(low), np.log(high), size))


def wander(rng: np.random.Generator, n: int, knots: int) -> np.ndarray:
    """A smooth random curve of n points through `knots` normal draws."""
    return np.interp(np.linspace(0, 1, n), np.linspace(0, 1, knots), rng.standard_normal(knots))


def offsets(rng: np.random.Generator, n: int, size: float) -> np.ndarray:
    """Distances (n,) in pixels of the grooves of a band from the picture's middle, even, at random or in groups."""
    way = rng.random()
    if way < 0.25:
        return (np.arange(n) + rng.uniform(0, 1) + rng.normal(0, 0.25, n)) / n * size - size / 2
    if way < 0.6:
        return rng.uniform(-0.5, 0.5, n) * size
    homes = rng.uniform(-0.5, 0.5, max(2, n // 3)) * size
    return rng.choice(homes, n) + rng.normal(0, loguniform(rng, 0.02, 0.12), n) * size


def band(
    rng: np.random.Generator,
    lay: float,
    shape: tuple[int, int],
    pixel_size_um: float,
    share: float,
    width_um: float,
    depth_um: float,
) -> list[Groove]:
    """Grooves of one band at angle `lay` (radians from the row) that cover about `share` of the field."""
    size = float(np.hypot(*shape))
    n = int(np.clip(rng.poisson(share * size * pixel_size_um / width_um), 1, 110))
    spread, steep = rng.uniform(0.15, 0.6), rng.uniform(0.05, 0.8)
    turn, wave = loguniform(rng, 0.002, 0.04), loguniform(rng, 0.05, 2.5)
    ends, rag = rng.choice([0.05, 0.25, 0.6]), loguniform(rng, 0.01, 0.15)
    out = []
    for off in offsets(rng, n, size):
        angle = lay + rng.normal(0, turn)
        t, nrm = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
        lo, hi = -0.55 * size, 0.55 * size
        stops = rng.random() < ends
        if stops:
            lo, hi = np.sort(rng.uniform(-0.6, 0.6, 2)) * size
            hi = max(hi, lo + 0.2 * size, lo + 8 * width_um / pixel_size_um)
        m = max(8, int((hi - lo) / 7))
        along = np.linspace(lo, hi, m)
        width = np.clip(width_um * np.exp(spread * rng.standard_normal()), 2, 60) / pixel_size_um
        depth = np.clip(
            depth_um * (width * pixel_size_um / width_um) ** 0.6 * np.exp(0.35 * rng.standard_normal()), 0.2, 10
        )
        depth = min(depth, 0.48 * STEEPEST * width * pixel_size_um)
        flat = 1 - depth / (STEEPEST * width / 2 * pixel_size_um)
        fade = np.exp(0.18 * wander(rng, m, 7))
        if stops:
            fade = fade * np.clip(np.minimum(np.arange(m), np.arange(m)[::-1]) / (m * rng.uniform(0.03, 0.35)), 0.05, 1)
        mid = np.array([shape[1] / 2, shape[0] / 2])
        path = mid + along[:, None] * t + (off + wave * wander(rng, m, max(3, m // 8)))[:, None] * nrm
        half = width / 2 * np.sqrt(fade) * np.exp(rag * rng.standard_normal(m))
        out.append(
            Groove(
                path,
                np.broadcast_to(nrm, (m, 2)),
                half,
                np.clip(depth * fade, 0.05, 10),
                float(np.clip(steep + rng.normal(0, 0.1), 0.02, min(0.85, flat))),
                rng.standard_normal(5),
            )
        )
    return out


def bisected(stroke: float, included: float) -> tuple[float, float]:
    """Directions of the two lays, radians, at `included` radians, bisected by the direction across the stroke."""
    return stroke + np.pi / 2 - included / 2, stroke + np.pi / 2 + included / 2


def lays(rng: np.random.Generator) -> tuple[float, tuple[float, float]]:
    """Stroke and the two lay directions, in radians from the row."""
    stroke = rng.choice([np.pi / 2, 0, rng.uniform(0, np.pi)], p=[0.5, 0.25, 0.25]) + np.radians(rng.normal(0, 4))
    return stroke, bisected(stroke, np.radians(rng.uniform(20, 150)))


def plan(
    rng: np.random.Generator, lay: tuple[float, float], shape: tuple[int, int], pixel_size_um: float
) -> list[Groove]:
    """All grooves of a field in the order they were cut."""
    field_um = min(shape) * pixel_size_um
    width = loguniform(rng, max(2, 2.2 * pixel_size_um), min(45, max(4, 0.3 * field_um)))
    depth = float(np.clip(width * loguniform(rng, 0.06, 0.4), 0.6, 7))
    share = loguniform(rng, 0.08, 0.35)
    weak = rng.choice([1.0, rng.uniform(0.15, 0.8)])
    first = band(rng, lay[0], shape, pixel_size_um, share, width, depth)
    second = band(
        rng,
        lay[1],
        shape,
        pixel_size_um,
        share * weak,
        max(2, width * rng.uniform(0.6, 1.2)),
        depth * rng.uniform(0.6, 1.2),
    )
    cut = first + second
    return [cut[i] for i in rng.permutation(len(cut))] if rng.random() < 0.5 else cut
