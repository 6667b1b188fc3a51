"""One band of hone grooves as ground below the plateau, in the frame whose rows run along the lay."""

import math
from dataclasses import dataclass

import numpy as np

from .relief import log_uniform, noise, smooth_line

DEPTHS_UM = (0.2, 10.0)
WIDTHS_UM = (2.0, 60.0)
SLOPES_DEG = (6.0, 27.0)


@dataclass(frozen=True)
class Groove:
    """One groove along the columns of its frame: centre and half width in pixels, depth in µm, each (columns,);
    lines are factors of the depth from rim to rim, the scratches of single grains that a groove is made of."""

    centre_px: np.ndarray
    half_px: np.ndarray
    depth_um: np.ndarray
    wall: float
    skew: float
    power: float
    lines: np.ndarray

    def rows(self, size: int, beyond: float = 1.3) -> slice:
        low = int(np.floor((self.centre_px - beyond * self.half_px).min())) - 2
        high = int(np.ceil((self.centre_px + beyond * self.half_px).max())) + 3
        return slice(min(max(low, 0), size), min(max(high, 0), size))

    def across(self, rows: slice, columns: slice = slice(None)) -> np.ndarray:
        """Place across the groove, −1 and 1 at its rims."""
        v = np.arange(rows.start, rows.stop, dtype=np.float32)[:, None]
        return (v - self.centre_px[None, columns]) / self.half_px[None, columns]


def profile(across: np.ndarray, wall: float, skew: float = 0.0, power: float = 1.0) -> np.ndarray:
    """Depth over greatest depth: walls that take the share `wall` of each half width, then a flat floor; the bottom
    lies at `skew`. Wall 1 is a V, a power of 2 a rounded rim, 0.6 a rounded floor."""
    from_rim = np.where(across < skew, (across + 1) / (1 + skew), (1 - across) / (1 - skew))
    return np.clip(from_rim / wall, 0, 1) ** power


def half_width_um(depth_um: float, slope_deg: float, wall: float) -> float:
    return depth_um / math.tan(math.radians(slope_deg)) / wall


def one_groove(rng, size: int, pixel_size_um: float, depth_um: float, slope_deg: float, position_px: float, habit) -> Groove:
    wall = float(rng.uniform(*habit["wall"]))
    half = half_width_um(depth_um, slope_deg, wall)
    field_um = size * pixel_size_um
    held = float(np.clip(half, max(WIDTHS_UM[0] / 2, pixel_size_um), min(WIDTHS_UM[1] / 2, 0.09 * field_um)))
    # A width out of range takes the depth with it, so that the slope of the wall stays what was drawn.
    depth_um = float(np.clip(depth_um * held / half, *DEPTHS_UM))
    u = np.arange(size, dtype=np.float32)
    swell = 1 + habit["swell"] * smooth_line(rng, size, rng.uniform(0.1, 0.8) * size)
    envelope = np.ones(size, np.float32)
    if rng.random() < habit["ends"]:
        end, fade = rng.uniform(0.1, 0.9) * size, log_uniform(rng, 0.03, 0.5) * size
        side = 1 if rng.random() < 0.5 else -1
        envelope = np.clip(0.5 + side * (u - end) / fade, 0, 1)
    if rng.random() < habit["fades"]:
        envelope = envelope * np.clip(0.7 + 0.5 * smooth_line(rng, size, rng.uniform(0.1, 0.4) * size), 0, 1)
    wander = habit["wander_px"] * smooth_line(rng, size, 0.5 * size) + habit["shake"] * smooth_line(rng, size, 12)
    slant = math.tan(math.radians(habit["spread_deg"] * rng.standard_normal()))
    return Groove(
        centre_px=(position_px + wander + slant * (u - size / 2)).astype(np.float32),
        half_px=np.maximum(held / pixel_size_um * np.clip(swell, 0.4, 1.6) * (0.3 + 0.7 * envelope), 0.8).astype(np.float32),
        depth_um=(depth_um * np.clip(swell, 0.3, 1.7) * envelope).astype(np.float32),
        wall=wall,
        skew=float(rng.uniform(-habit["skew"], habit["skew"])),
        power=float(rng.choice([1.0, 1.0, 0.7, 1.4])),
        lines=1 + habit["lines"] * rng.uniform(-1, 0.3, int(rng.integers(5, 6 + max(int(3 * held), 1)))).astype(np.float32),
    )


def band(rng: np.random.Generator, size: int, pixel_size_um: float, coverage: float, depth_um: float) -> list[Groove]:
    """Grooves of one lay until their widths cover the share `coverage` of the frame; depth_um is their median."""
    habit = {
        "wall": (0.45, 1.0) if rng.random() < 0.6 else (0.3, 0.6),
        "swell": rng.uniform(0, 0.16),
        "ends": rng.uniform(0, 0.4),
        "fades": rng.uniform(0, 0.4),
        "wander_px": log_uniform(rng, 0.3, 6),
        "shake": log_uniform(rng, 0.05, 0.4),
        "spread_deg": log_uniform(rng, 0.1, 2.5),
        "skew": rng.uniform(0, 0.7),
        "lines": rng.uniform(0, 0.4),
    }
    scatter, slope = rng.uniform(0.2, 0.8), rng.uniform(9, 22)
    groups = rng.uniform(0, size, rng.integers(2, 7))
    grouped, spread = rng.uniform(0, 0.7), rng.uniform(0.02, 0.1) * size
    grooves, covered = [], 0.0
    while covered < coverage * size and len(grooves) < 60:
        depth = float(np.clip(depth_um * math.exp(scatter * rng.standard_normal()), *DEPTHS_UM))
        angle = float(np.clip(slope + 4 * rng.standard_normal(), *SLOPES_DEG))
        at = rng.choice(groups) + spread * rng.standard_normal() if rng.random() < grouped else rng.uniform(0, size)
        grooves.append(one_groove(rng, size, pixel_size_um, depth, angle, float(at), habit))
        covered += 2 * float(grooves[-1].half_px.mean())
    return grooves


def ground(grooves: list[Groove], size: int) -> np.ndarray:
    """Height in µm of the grooves' ground, 0 on the plateau; where two meet, the deeper one stays."""
    height = np.zeros((size, size), np.float32)
    for groove in grooves:
        rows = groove.rows(size, 1.0)
        across = groove.across(rows)
        cut = -groove.depth_um[None] * profile(across, groove.wall, groove.skew, groove.power)
        cut *= np.interp(across, np.linspace(-1, 1, len(groove.lines)), groove.lines).astype(np.float32)
        np.minimum(height[rows], cut, out=height[rows])
    return height


def rims(rng: np.random.Generator, grooves: list[Groove], size: int, pixel_size_um: float, height_um: float) -> np.ndarray:
    """Burrs in µm that the grains of the stone threw up beside the grooves, torn along their length."""
    raised = np.zeros((size, size), np.float32)
    torn = np.clip(0.6 + noise(rng, (size, size), 2, log_uniform(rng, 2, 12) / pixel_size_um), 0, 2.5)
    breadth_px = max(rng.uniform(0.3, 1.5) / pixel_size_um, 0.7)
    for groove in grooves:
        rows = groove.rows(size, 1.6)
        from_rim = (np.abs(groove.across(rows)) - 1) * groove.half_px[None] / breadth_px
        burr = height_um * np.exp(-((from_rim - 0.7) ** 2)) * np.clip(groove.depth_um[None], 0, 1)
        np.maximum(raised[rows], burr * torn[rows], out=raised[rows])
    return raised
