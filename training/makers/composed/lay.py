"""Sheets of parallel hone grooves: each finish is a draw of angle, density, width and depth."""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from .noise import frame, spectral

LIMIT_UM = 0.5
"""Ground this far below the local plateau is valley (the project's measurands)."""
WALL_DEG = (8.0, 27.0)
"""Steepest slope of a groove's wall: 6 to 27° (tests/SOURCES.md)."""
WIDTH_UM = (3.0, 60.0)
"""Widths of grooves: 5 to 50 µm (tests/SOURCES.md, from memory there), some finer and some wider (common practice, no source)."""
DEPTH_UM = (0.65, 6.5)
"""Depths of grooves: 1 to 10 µm (tests/SOURCES.md, from memory there); mostly 1 to 6 µm and some near the limit (no source)."""
FINISHES = {  # name: share, hone angle (deg), median width (µm), plateau between grooves over median width, share of plateau marks
    "plateau": (0.45, (30, 70), (10, 38), (2.0, 7.0), (0.2, 0.8)),
    "single": (0.3, (30, 75), (6, 22), (1.2, 3.5), (0.6, 1.0)),
    "slide": (0.25, (125, 150), (8, 30), (1.6, 6.0), (0.1, 0.5)),
}
"""Hone angles of 30 to 60° are usual, 140 to 150° for helical slide honing (tests/SOURCES.md, from memory there); the rest is
common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """One lay. Maps (rows, cols): along in µm; place: 0 on a groove's axis, ±1 at its rims; half: half width in µm; groove: its
    number; depth in µm. lay_deg: direction of the grooves; step_um and start_um: the grid along the grooves; count: of grooves."""

    along: np.ndarray
    place: np.ndarray
    half: np.ndarray
    groove: np.ndarray
    depth: np.ndarray
    lay_deg: float
    step_um: float
    start_um: float
    count: int
    bins: int

    def at(self, table: np.ndarray, along: np.ndarray) -> np.ndarray:
        """A table (grooves, bins) read at each pixel's groove and distance along it (rows, cols)."""
        index = np.clip((along - np.float32(self.start_um)) / np.float32(self.step_um), 0, self.bins - 1).astype(np.int32)
        return table.ravel().take(self.groove * self.bins + index)


def waver(rng, count: int, bins: int, smooth: float) -> np.ndarray:
    """Smooth noise (count, bins) of spread near 1 along the bins."""
    made = gaussian_filter1d(rng.standard_normal((count, bins), dtype=np.float32), max(smooth, 0.5), axis=1, mode="wrap")
    return np.clip(made * np.float32(np.sqrt(2 * np.sqrt(np.pi) * max(smooth, 0.5))), -2.5, 2.5)


def sheet(rng, shape, pixel_um: float, lay_deg: float, width_um: float, gap: float, centred: bool) -> Sheet:
    """Grooves of median width width_um, the plateau between them gap times that on average, placed at random (two bands of
    grooves placed at random at two angles: Puente León, tests/SOURCES.md)."""
    along, across = frame(shape, pixel_um, lay_deg)
    reach = np.hypot(*shape) * pixel_um / 2 + 2
    count = int(2 * reach / (width_um * (0.6 + 0.3 * gap))) + 4
    widest = min(WIDTH_UM[1], max(4.0, 0.3 * min(shape) * pixel_um))
    half = np.clip(width_um * rng.lognormal(0, 0.4, count), max(WIDTH_UM[0], 2.5 * pixel_um), widest).astype(np.float32) / 2
    land = (rng.exponential(gap * width_um, count) + 0.15 * width_um).astype(np.float32)
    centre = np.cumsum(land + half) + np.concatenate([[0], np.cumsum(half[:-1])]).astype(np.float32)
    inner = rng.integers(count // 2 + 1) if centred else 0
    centre -= centre[inner] - (rng.uniform(-0.3, 0.3) * min(shape) * pixel_um if centred else -reach - rng.uniform(0, 1) * width_um)
    power = rng.uniform(1.2, 3.2, count).astype(np.float32)
    wall = np.deg2rad(rng.uniform(*WALL_DEG, count))
    depth = np.clip(half * np.tan(wall) / power * rng.uniform(1.0, 1.5), *DEPTH_UM).astype(np.float32)
    depth = np.minimum(depth, half * np.tan(np.deg2rad(WALL_DEG[1])) / power)

    across = across + np.float32(rng.normal(0, 0.008) / reach) * along**2
    grid = np.linspace(-reach * 1.1, reach * 1.1, 4096)
    ties = (centre[:-1] + half[:-1] + centre[1:] - half[1:]) / 2
    nearest = np.searchsorted(ties, grid).astype(np.int32)
    groove = nearest.take(np.clip((across + reach * 1.1) * (4095 / (2.2 * reach)), 0, 4095).astype(np.int32))

    step = max(1.5 * pixel_um, 0.4)
    bins = int(2 * reach / step) + 2
    breadth = 1 + 0.1 * waver(rng, count, bins, 3 * width_um / step)
    sunk = np.clip(1 + 0.12 * waver(rng, count, bins, 4 * width_um / step), 0.75, 1.0)
    here = np.arange(bins) * step - reach
    for number in np.flatnonzero(rng.random(count) < 0.2):  # grooves that run out within the field
        fade = np.clip((here - rng.uniform(-reach, reach)) * rng.choice((-1, 1)) / (5 * half[number]) + 0.5, 0, 1)
        breadth[number] *= np.sqrt(fade) + 1e-3
        sunk[number] *= np.sqrt(fade)
    bin_ = np.clip((along + reach) / step, 0, bins - 1).astype(np.int32)
    halves = (breadth * half[:, None])[groove, bin_]
    ragged = spectral(rng, shape, pixel_um, (0.8 * width_um, 0.7 * width_um), lay_deg, 1.6)
    chips = spectral(rng, shape, pixel_um, (4 + 2 * pixel_um, 2 + 2 * pixel_um), lay_deg, 1.3)
    place = (across - centre[groove] + np.float32(0.2) * chips) / halves + np.float32(0.04) * ragged
    ground = np.clip(1 - np.abs(place) ** power[groove], 0, 1) * (sunk * depth[:, None])[groove, bin_]
    return Sheet(along=along, place=place, half=halves, groove=groove, depth=ground, lay_deg=lay_deg, step_um=step,
                 start_um=-reach, count=count, bins=bins)


def hone(rng, shape, pixel_um: float, stroke_deg: float) -> tuple[list[Sheet], float, str]:
    """The sheets of one finish, its share of marks on the plateau and its name. The lays lie either side of the line across the
    stroke, half the hone angle each (the project's measurands)."""
    names = list(FINISHES)
    name = names[rng.choice(len(names), p=[FINISHES[n][0] for n in names])]
    _, angles, widths, gaps, marks = FINISHES[name]
    half_angle = rng.uniform(*angles) / 2
    reach = min(shape) * pixel_um
    width = max(min(np.exp(rng.uniform(*np.log(widths))), 0.2 * reach), 4.0, 4 * pixel_um)
    gap = rng.uniform(*gaps)
    sides = [(1, 1.0), (-1, rng.uniform(0.6, 1.6))]
    if rng.random() < 0.1:
        sides = sides[:1]
    elif rng.random() < 0.25:
        sides.append((rng.choice((-1, 1)), 0.45))
    sheets = []
    for side, scale in sides:
        lay = stroke_deg + 90 + side * half_angle + rng.normal(0, 1.0)
        sheets.append(sheet(rng, shape, pixel_um, lay, width * scale, gap / scale, not sheets))
    return sheets, rng.uniform(*marks), name
