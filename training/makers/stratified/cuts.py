"""The valley process: a shot noise of straight or gently curved cuts, each computed in a strip about its own line."""

from dataclasses import dataclass

import numpy as np

from .chance import log_uniform, wander
from .process import Process

MOST_CUTS = 44


@dataclass(frozen=True, kw_only=True)
class Cut:
    """A strip of pixels: flat indices, depth below the rims in um (negative: rim metal), along in um, side -1 to 1 across."""

    at: np.ndarray
    depth_um: np.ndarray
    along_um: np.ndarray
    side: np.ndarray
    lay_rad: float
    width_um: float
    deepest_um: float


def profile(
    inside: np.ndarray, half_width_um: float, wall_rad: float, deepest_um: float, roundness: float
) -> np.ndarray:
    """Depth in um; inside is 0 at the rim and 1 in the middle. Walls start at wall_rad and bend over into the floor."""
    ratio = np.maximum(inside, 0) * half_width_um * np.tan(wall_rad) / deepest_um
    return deepest_um * ratio / (1 + ratio**roundness) ** (1 / roundness)


def places(rng: np.random.Generator, count: int, span_px: float, grouped: bool) -> np.ndarray:
    """Offsets of the cuts across their lay in px: a Poisson process, or one of parents with children."""
    if not grouped:
        return rng.uniform(-span_px / 2, span_px / 2, count)
    parents = rng.uniform(-span_px / 2, span_px / 2, max(1, count // 4))
    return rng.choice(parents, count) + rng.normal(0, span_px * log_uniform(rng, 0.01, 0.06), count)


def cut(
    rng: np.random.Generator, process: Process, lay_rad: float, offset_px: float, pixel_size_um: float, shape
) -> Cut | None:
    lay = lay_rad + rng.normal(0, np.radians(1.2))
    cos, sin = np.cos(lay), np.sin(lay)
    flat = abs(cos) >= abs(sin)
    length, height = (shape[1], shape[0]) if flat else shape
    lead, tilt = (cos, sin) if flat else (sin, cos)
    steps = np.arange(length, dtype=np.float32)
    normal_x, normal_y = -sin * offset_px + shape[1] / 2, cos * offset_px + shape[0] / 2
    start, level = (normal_x, normal_y) if flat else (normal_y, normal_x)
    width = float(np.clip(process.width_um * np.exp(rng.normal(0, process.width_spread)), 1.5, 60))
    most = 0.5 * width * np.tan(process.wall_rad) + 0.3
    deepest = float(np.clip(min(process.depth_um * np.exp(rng.normal(0, process.depth_spread)), most), 0.2, 10))
    bow = (steps - start) / length
    centre = level + (steps - start) * tilt / lead + process.bent * length * rng.normal() * bow**2
    centre = centre + wander(rng, length, length * rng.uniform(0.2, 0.8)) * 0.15 * process.bent * length
    half = width / 2 / pixel_size_um
    reach = int(1.6 * half / abs(lead)) + 3
    if (centre + reach).max() < 0 or (centre - reach).min() > height:
        return None
    base = np.round(centre).astype(np.int64)
    rows = base[:, None] + np.arange(-reach, reach + 1)
    away = ((rows - centre[:, None]) * abs(lead) / half).astype(np.float32)
    skew = rng.uniform(-0.4, 0.4)
    ragged = process.ragged * (np.abs(wander(rng, length, rng.uniform(3, 30)))[:, None] + 0.3)
    side = away - skew * np.maximum(1 - np.abs(away), 0) * 0.6
    torn = np.where(side < 0, ragged, process.ragged * np.abs(wander(rng, length, rng.uniform(3, 30)))[:, None])
    inside = 1 - np.abs(side) * (1 + torn)
    # walls keep their own steepness in the fading ends; only the floor comes up
    fade = np.ones(length)
    if rng.random() < 0.35:
        end, way = rng.uniform(0, length), rng.choice([-1, 1])
        fade = np.clip(way * (steps - end) / (length * log_uniform(rng, 0.1, 0.5)), 0, 1)
    fade = np.clip(fade * (1 + 0.12 * wander(rng, length, length * 0.1)), 0, 1.3)
    depth = profile(inside, width / 2, process.wall_rad, deepest, log_uniform(rng, 1.4, 8)) * fade[:, None]
    if rng.random() < 0.3:
        depth = depth * (1 - rng.uniform(0.1, 0.45) * np.exp(-(((side - rng.uniform(-0.4, 0.4)) / 0.15) ** 2)))
    # grits leave lines along the floor
    lines = wander(rng, 64, log_uniform(rng, 2, 10)) * log_uniform(rng, 0.01, 0.12)
    depth = depth * (1 + lines[np.clip((side + 1) * 32, 0, 63).astype(np.int64)] * np.clip(3 * inside, 0, 1))
    rim = (
        process.rim_um
        * fade[:, None]
        * np.exp(-(((inside + 0.12) / 0.12) ** 2))
        * (0.3 + np.abs(wander(rng, length, 12))[:, None])
    )
    depth = depth - np.where(inside < 0, rim, 0)
    kept = (rows >= 0) & (rows < height)
    step, row = np.broadcast_to(np.arange(length)[:, None], rows.shape)[kept], rows[kept]
    at = row * shape[1] + step if flat else step * shape[1] + row
    along_um = (step / abs(lead) * pixel_size_um).astype(np.float32)
    return Cut(
        at=at,
        depth_um=depth[kept].astype(np.float32),
        along_um=along_um,
        side=side[kept],
        lay_rad=lay,
        width_um=width,
        deepest_um=deepest,
    )


def cuts(rng: np.random.Generator, process: Process, pixel_size_um: float, shape: tuple[int, int]) -> list[Cut]:
    span = float(np.hypot(*shape))
    made = []
    for lay, share in zip(process.lays_rad, (1.0, process.weaker), strict=True):
        mean = -np.log1p(-process.cover) * share / (1 + process.weaker) * span * pixel_size_um / process.width_um
        count = int(min(max(rng.poisson(mean), share == 1.0), MOST_CUTS))
        offsets = places(rng, count, span, process.grouped)
        if count and share == 1.0:
            offsets[0] = rng.uniform(-0.25, 0.25) * min(shape)
        made += [cut(rng, process, lay, offset, pixel_size_um, shape) for offset in offsets]
    return [one for one in made if one is not None]
