"""Running-in: a smooth counterface sinks in small steps, and what it displaces is laid over the next groove.

At each step the counterface stands at one bearing plane (it conforms to the plateau, so the plane follows the local level).
Metal above the plane is displaced, not removed: a share of it travels with the sliding surface, thins out over a carry
length where it meets lands (it welds back on), and at the rim of the next groove feeds a sheet that grows over the groove
as long as the metal lasts. The section of the sheet, length × thickness, uses up the section carried, so that in each row
along the stroke no more is laid down than was displaced; what is too little for a sheet falls to the ground and is let go.
A sheet that dies out is a lip; one that reaches the other rim is a cap and may end in a fold, a crack along the far rim (a
weaker one marks where it left the near rim); one that lies level is burnished by the following steps. Sweeps alternate,
since the stroke does. Peaks go first, then the core, valleys last. (Folds over grooves in honed liners: Dimkovski, Ohlsson,
Rosén, Wear 271 (2011) 548.)
"""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.reserve_maker.finish import Wear
from tests.reserve_maker.random_fields import fractal_noise, ramp, smooth_noise
from tests.reserve_maker.states import plateau_level

STEPS = 5
RIM_UM = 0.5
"""A sheet forms only where the ground lies at least so far below the counterface."""


@dataclass(frozen=True, kw_only=True)
class Run:
    """Heights after running, µm: with moved metal and without; covered 0/1; crack: depth of folds, µm, at least 0."""

    height_um: np.ndarray
    bare_um: np.ndarray
    covered: np.ndarray
    crack_um: np.ndarray


def run_in(height: np.ndarray, wear: Wear, pixel: float, rng: np.random.Generator) -> Run:
    """Return the run surface; height is (rows, cols) µm in the stroke frame, columns along the stroke."""
    rows, cols = height.shape
    level = plateau_level(height, pixel) + 0.04 * smooth_noise(height.shape, (200 / pixel, 400 / pixel), rng)
    peak = float(np.clip(np.quantile((height - level)[::3, ::3], 0.98), 0.05, 0.8))
    supply = wear.moved * _propensity(height.shape, pixel, rng)
    thick = wear.sheet_um * np.exp(0.35 * fractal_noise(height.shape, 6 / pixel, rng, octaves=3, stretch=0.6))
    mood = smooth_noise(height.shape, (40 / pixel, 60 / pixel), rng)
    sag = 0.04 + (0.22 - 0.16 * wear.flush) * np.exp(0.6 * mood)
    fields = [np.ascontiguousarray(field.T) for field in (height, level, supply, thick, sag)]
    surface, plane, supply, thick, sag = fields
    covered = np.zeros((cols, rows), bool)
    ends = np.zeros((cols, rows), np.float32)
    bare = surface.copy()
    for step in range(STEPS):
        sink = peak + (-wear.depth_um - peak) * (step + 1) / STEPS
        bearing = plane + np.float32(sink)
        excess = np.maximum(surface - bearing, 0)
        np.minimum(surface, bearing, out=surface)
        np.minimum(bare, bearing, out=bare)
        excess = cv2.GaussianBlur(excess * supply, (0, 0), max(0.5, 1.0 / pixel)) * np.float32(0.5)
        for order in (range(cols), range(cols - 1, -1, -1)):
            _sweep(order, surface, bearing, excess, thick, sag, covered, ends, wear, pixel)
    surface, bare, covered, ends = (np.ascontiguousarray(field.T) for field in (surface, bare, covered, ends))
    lying = covered.astype(np.float32)
    sigma = max(0.5, 1.2 / pixel)  # the steps' borders are burnished out
    even = cv2.GaussianBlur(surface * lying, (0, 0), sigma) / np.maximum(cv2.GaussianBlur(lying, (0, 0), sigma), 1e-3)
    return Run(
        height_um=np.where(covered, np.maximum(even, bare), bare),
        bare_um=bare,
        covered=covered,
        crack_um=_cracks(ends, wear, pixel, rng),
    )


def _propensity(shape: tuple[int, int], pixel: float, rng: np.random.Generator) -> np.ndarray:
    """Return how readily metal flows from place to place, about 1 in the mean, 0 in parts."""
    slow = smooth_noise(shape, (90 / pixel, 150 / pixel), rng)
    quick = smooth_noise(shape, (14 / pixel, 60 / pixel), rng)
    return np.clip(0.8 + 0.8 * slow + 0.7 * quick, 0, 3).astype(np.float32)


def _sweep(order, surface, bearing, excess, thick, sag, covered, ends, wear: Wear, pixel: float) -> None:
    """Carry metal along the stroke, one column after the other (arrays are transposed: a row is one column)."""
    carried = np.zeros(surface.shape[1], np.float32)
    attached = np.zeros(surface.shape[1], bool)
    span = np.zeros(surface.shape[1], np.float32)
    last_grew = np.zeros(surface.shape[1], bool)
    stay = np.float32(np.exp(-pixel / wear.carry_um))
    bend = np.float32(pixel / 4.0)
    before = -1
    for here in order:
        carried += excess[here] * pixel
        is_open = surface[here] < bearing[here] - RIM_UM
        price = thick[here] * pixel
        grows = is_open & attached & (carried >= price)
        span = np.where(grows, span + bend, 0)
        carried = np.where(is_open, np.where(grows, carried - price, 0), carried * stay)
        cap = bearing[here] - sag[here] * (1 - np.exp(-span))
        np.copyto(surface[here], cap, where=grows)
        if before >= 0:
            ends[here] += last_grew & ~is_open
            ends[before] += 0.5 * (grows & ~last_grew & ~covered[before])
        covered[here] |= grows
        attached = ~is_open | grows
        last_grew, before = grows, here


def _cracks(ends: np.ndarray, wear: Wear, pixel: float, rng: np.random.Generator) -> np.ndarray:
    """Return the depth of fold cracks where sheets met the far rim: broken lines about half a µm wide."""
    present = ramp(
        smooth_noise(ends.shape, (25 / pixel, 25 / pixel), rng), 0.8 - 1.7 * wear.fold, 1.6 - 1.7 * wear.fold
    )
    ragged = fractal_noise(ends.shape, 6 / pixel, rng, octaves=3)
    line = cv2.dilate(np.minimum(ends, 1), np.ones((3, 1), np.uint8))
    width = max(0.55, 0.25 / pixel)
    soft = np.minimum(cv2.GaussianBlur(line, (0, 0), width) * width * 2.5, 1)
    return (0.55 * wear.fold * soft * present * np.clip(1 + 0.5 * ragged, 0.1, 2)).astype(np.float32)


def stroke_marks(shape: tuple[int, int], wear: Wear, pixel: float, rng: np.random.Generator) -> np.ndarray:
    """Return fine scratches along the stroke, µm, at most 0: broken lines, few of them deep."""
    marks = np.zeros(shape, np.float32)
    for width_um, weight in ((0.4, 0.7), (1.0, 1.0), (2.5, 1.0)):
        if width_um < 0.45 * pixel:
            continue
        lines = smooth_noise(shape, (width_um / pixel, rng.uniform(80, 300) / pixel), rng)
        marks -= np.float32(weight * wear.marks_um) * np.clip(lines - 0.8, 0, 2.5)
    rare = smooth_noise(shape, (max(1.0, 1.2 / pixel), 250 / pixel), rng)
    return marks - np.float32(3 * wear.marks_um) * np.clip(rare - 2.6, 0, 1)
