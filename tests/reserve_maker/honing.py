"""Honing by single grains: each grain of a stone ploughs its helical path, and grooves are the union of many such tracks.

Over one field a helix is a straight line at half the hone angle from the circumference; up and down strokes of the head
give the two lays and cut through each other in turn. A grain protrudes from the stone by a random height (a skewed
distribution above the bond, as in the stochastic models of grinding after Tönshoff et al., CIRP Annals 41 (1992) 677, from
memory) and carries several cutting points. Each point cuts a rounded wedge and pushes part of the cut section up into
ridges on both sides (after Hokkirigawa and Kato, Tribol. Int. 21 (1988) 51, from memory). A finishing stone then sinks
until its bearing area carries the load, and leaves fine marks on the lands.
"""

from dataclasses import dataclass

import numpy as np

from tests.reserve_maker.finish import Finish
from tests.reserve_maker.frames import ALONG_STEP_PX, StrokeFrame
from tests.reserve_maker.random_fields import line_noise, smooth_noise
from tests.reserve_maker.states import VALLEY_DEPTH_UM, plateau_level

FREE_UM = 6.0
"""Height of a pass above the surface where no grain cuts."""


@dataclass(frozen=True, kw_only=True)
class Grain:
    """One grain of a stone. across_um: its path; start and end: share of the lay frame over which it cuts."""

    across_um: float
    depth_um: float
    slope: float
    start: float
    end: float


def draw_grains(finish: Finish, extent_um: float, rng: np.random.Generator) -> list[Grain]:
    """Return the grains of one stone over a strip of extent_um across the lay."""
    count = rng.poisson(extent_um / finish.spacing_um)
    grains = []
    for across in rng.uniform(-extent_um / 2, extent_um / 2, count):
        depth = finish.depth_um * np.clip(0.35 + rng.gamma(2.0, 0.33), 0.35, 3.0)
        whole = rng.random() > finish.broken_share
        start = -0.1 if whole or rng.random() < 0.5 else rng.uniform(0.1, 0.8)
        end = 1.1 if whole or start > 0 else rng.uniform(0.2, 0.9)
        slope = np.tan(np.deg2rad(np.clip(rng.normal(finish.wall_deg, 4), 6, 27)))
        grains.append(Grain(across_um=across, depth_um=float(depth), slope=float(slope), start=start, end=end))
    return grains


def _plough(ceiling: np.ndarray, ridge: np.ndarray, grain: Grain, finish: Finish, pixel: float, rng) -> None:
    """Cut one point of a grain into the lay frame: lower the ceiling, raise the ridges."""
    rows, cols = ceiling.shape
    along = np.linspace(0, 1, cols, dtype=np.float32)
    step_um = pixel * ALONG_STEP_PX
    entry = np.clip((along - grain.start) * cols * step_um / 60, 0, 1) * np.clip(
        (grain.end - along) * cols * step_um / 60, 0, 1
    )
    ride = 1 + finish.ride * line_noise(cols, 160 / step_um, rng) + 0.02 * line_noise(cols, 12 / step_um, rng)
    depth = grain.depth_um * np.clip(ride, 0.2, 2) * np.sqrt(entry)
    wander = 0.4 * line_noise(cols, 150 / step_um, rng) + 0.08 * line_noise(cols, 25 / step_um, rng)
    centre = rows / 2 + (grain.across_um + wander) / pixel
    reach = 1.8 * 2.0 * grain.depth_um / grain.slope / pixel + 3
    low, high = int(centre.min() - reach), int(centre.max() + reach) + 1
    low, high = max(0, low), min(rows, high)
    if high - low < 2 or depth.max() <= 0:
        return
    across = (np.arange(low, high, dtype=np.float32)[:, None] - centre) * np.float32(pixel)
    skew = np.float32(rng.uniform(0.75, 1.33))
    distance = np.where(across < 0, -across * skew, across / skew)
    tip = np.float32(rng.uniform(0.1, 0.8) * grain.depth_um / grain.slope)
    wedge = grain.slope * (np.sqrt(distance**2 + tip**2) - tip) - depth
    if rng.random() < finish.flat_share:
        wedge = np.maximum(wedge, -rng.uniform(0.6, 0.9) * depth)
    np.minimum(ceiling[low:high], wedge, out=ceiling[low:high])
    half = depth / grain.slope + tip * 0.6 + 1e-3
    height = (
        depth
        * np.float32(finish.pile_up * rng.uniform(0.4, 1.6))
        * np.clip(1 + 0.5 * line_noise(cols, 30 / step_um, rng), 0, 2)
    )
    pushed = height * np.exp(-(((distance - half * 1.1) / (0.3 * half + pixel)) ** 2))
    np.maximum(ridge[low:high], pushed, out=ridge[low:high])


def plough_pass(frame: StrokeFrame, lay_deg: float, finish: Finish, pixel: float, share: float, rng) -> tuple:
    """Return ceiling, ridges and fine striation of one stroke of the head on the stroke frame, and its groove length.

    share: how much of the stone's grains cut on this stroke.
    """
    shape = frame.lay_shape
    ceiling = np.full(shape, FREE_UM, np.float32)
    ridge = np.zeros(shape, np.float32)
    length = 0.0
    for grain in draw_grains(finish, shape[0] * pixel, rng):
        if rng.random() > share:
            continue
        length += min(grain.end, 1) - max(grain.start, 0)
        for _ in range(1 + rng.poisson(finish.points)):
            offset = 0.35 * grain.depth_um / grain.slope * rng.normal()
            point = Grain(
                across_um=grain.across_um + offset,
                depth_um=grain.depth_um * rng.uniform(0.45, 1.0),
                slope=grain.slope * rng.uniform(0.8, 1.3),
                start=grain.start,
                end=grain.end,
            )
            _plough(ceiling, ridge, point, finish, pixel, rng)
    long = 120 / pixel / ALONG_STEP_PX
    striae = smooth_noise(shape, (max(1.0, 0.5 / pixel), long), rng) + smooth_noise(
        shape, (max(1.0, 1.4 / pixel), long), rng
    )
    ceiling += np.float32(finish.striae_um * 0.7) * striae * (ceiling < FREE_UM - 0.5)
    return frame.from_lay(ceiling, lay_deg), frame.from_lay(ridge, lay_deg), length


def fine_marks(frame: StrokeFrame, lays_deg: tuple[float, ...], finish: Finish, pixel: float, rng) -> np.ndarray:
    """Return the marks of the finishing stone, µm, at most 0: many fine grains, each a line along its lay."""
    marks = np.zeros(frame.shape, np.float32)
    for lay_deg in lays_deg:
        lines = np.zeros(frame.lay_shape, np.float32)
        for width_um in (0.5, 1.2, 3.0):
            if width_um < 0.5 * pixel:
                continue
            lines += smooth_noise(
                frame.lay_shape, (width_um / pixel, rng.uniform(60, 250) / pixel / ALONG_STEP_PX), rng
            )
        marks = np.minimum(marks, -finish.marks_um * np.clip(frame.from_lay(lines, lay_deg) - 0.6, 0, 3))
    return marks


def honed_surface(frame: StrokeFrame, lays_deg: tuple[float, ...], finish: Finish, pixel: float, rng) -> tuple:
    """Return heights of the honed surface on the stroke frame, (rows, cols) float32 µm, and groove length by lay."""
    height = 0.04 * smooth_noise(frame.shape, (150 / pixel, 150 / pixel), rng)
    lengths = dict.fromkeys(lays_deg, 0.0)
    for stroke_of_head in range(2):
        for number, lay_deg in enumerate(lays_deg):
            share = finish.balance if number else 1.0
            share *= 1.0 if stroke_of_head == 0 else 0.6
            ceiling, ridge, length = plough_pass(frame, lay_deg, finish, pixel, share, rng)
            height = np.minimum(height + ridge, ceiling)
            lengths[lay_deg] += length
    share = float(np.clip(finish.valley_share * np.exp(rng.normal(0, 0.06)), 0.03, 0.45))
    if finish.plateaued:
        level = float(np.quantile(height[::3, ::3], share)) + VALLEY_DEPTH_UM
        form = 0.05 * smooth_noise(frame.shape, (90 / pixel, 90 / pixel), rng)
        land = level + form + fine_marks(frame, lays_deg, finish, pixel, rng)
        sharp = np.minimum(height, land)
        return (sharp - np.float32(level)), lengths
    depth = plateau_level(height, pixel) - height
    scale = VALLEY_DEPTH_UM / max(0.05, float(np.quantile(depth[::3, ::3], 1 - share)))
    height = height * np.float32(np.clip(scale, 0.4, 2.0))
    return height + 0.5 * fine_marks(frame, lays_deg, finish, pixel, rng), lengths
