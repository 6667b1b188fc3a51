"""Both bands of hone grooves: how many, how deep and wide, in groups or alone, with ends that fade."""

import numpy as np

from .closing import Habit, cover_along
from .lay import Plan
from .ribbon import OPEN_UM, Ribbon, drawn_line
from .texture import line_noise, loguniform


def drawn_ribbons(
    rng: np.random.Generator, plan: Plan, habit: Habit | None, pixel_size_um: float, shape: tuple[int, int]
) -> list[Ribbon]:
    """Ribbons of both lays until their open footprints would cover a drawn share of the picture."""
    rows, cols = shape
    field_um = pixel_size_um * min(shape)
    share = rng.uniform(0.06, 0.42)
    # a groove narrower than two pixels is not seen as one, and a field is chosen to show several grooves
    low = max(2.0, 2.2 * pixel_size_um)
    high = max(min(60.0, 0.3 * field_um), 1.6 * low, 7.0)
    typical_um = loguniform(rng, low * 1.15, high * 0.7)
    spread = rng.uniform(0.15, 0.6)
    # most grooves of a hone are valleys: a narrow one is then steep, as far as walls go
    slope_deg = rng.uniform(min(max(6.0, np.rad2deg(np.arctan(2 * rng.uniform(0.5, 1.2) / typical_um))), 26.0), 27)
    typical_um = max(typical_um, loguniform(rng, 1.2, 2.4) / np.tan(np.deg2rad(slope_deg)))
    floor_share = rng.choice([0.0, rng.uniform(0.05, 0.5)])
    wave_px = loguniform(rng, 0.05, 3)
    grouped = rng.uniform() < 0.4
    ends = rng.uniform() ** 2 * 0.6
    ribbons, area, seed_point = [], 0.0, None
    while (area < share * rows * cols or len(ribbons) < 3) and len(ribbons) < 140:
        lay_deg = plan.lays_deg[int(rng.uniform() < plan.balance / (1 + plan.balance))] + rng.normal(0, 0.8)
        width_um = float(np.clip(typical_um * np.exp(rng.normal(0, spread)), low, high))
        tan_slope = float(np.tan(np.deg2rad(np.clip(slope_deg * np.exp(rng.normal(0, 0.2)), 5, 30))))
        floor_um = width_um / 2 * floor_share * rng.uniform(0.5, 1.2)
        depth = (width_um / 2 - floor_um) * tan_slope
        # a cut that ran out of grain height is flat at the bottom, whatever its width
        depth = float(np.clip(depth, 0.2, 10.0))
        floor_um = max(width_um / 2 - depth / tan_slope, 0.0)
        if grouped and seed_point is not None and rng.uniform() < 0.6:
            through = tuple(place + rng.normal(0, 2.5 * width_um / pixel_size_um + 2) for place in seed_point)
        else:
            through = (rng.uniform(0, cols), rng.uniform(0, rows))
        seed_point = through
        along_x, centre, stretch, normal = drawn_line(rng, shape, lay_deg, through, wave_px)
        count = centre.size
        depth_um = depth * np.clip(1 + rng.uniform(0, 0.16) * line_noise(rng, count, count * rng.uniform(0.08, 0.6)), 0.3, 1.5)
        depth_um = np.minimum(depth_um * _ended(rng, count, ends), 10.0)
        cover, side = cover_along(rng, habit, centre, along_x, stretch, depth, width_um / pixel_size_um, plan.stroke_deg, shape)
        ribbons.append(Ribbon(along_x, centre, stretch, depth_um, floor_um, tan_slope, normal, cover, side))
        open_um = max(width_um - 2 * OPEN_UM / tan_slope, 0.15 * width_um) if depth > OPEN_UM else 0.1 * width_um
        inside = (centre > 0) & (centre < (rows if along_x else cols)) & (depth_um > 0.3 * depth)
        area += inside.sum() * open_um / pixel_size_um / stretch
    return ribbons


def _ended(rng: np.random.Generator, count: int, chance: float) -> np.ndarray:
    """1 along a groove that runs on, fading to 0 beyond a drawn end or within a short break."""
    at = np.arange(count)
    keep = np.ones(count)
    for toward in (-1, 1):
        if rng.uniform() < chance:
            end = rng.uniform(0.15, 0.85) * count
            part = np.clip(0.5 + toward * (at - end) / (loguniform(rng, 0.03, 0.4) * count), 0, 1)
            keep *= part * part * (3 - 2 * part)
    return keep
