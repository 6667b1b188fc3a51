"""Scratches along the stroke: plateau by definition, told from grooves by their direction."""

import numpy as np

from tests.session_maker.canvas import Canvas
from tests.session_maker.noise import wander
from tests.session_maker.relief import Relief
from tests.session_maker.running_in import LIMIT_UM
from tests.session_maker.specimen import Iron

WIDTHS_UM, WIDTHS_PX = (0.8, 5), (1, 5)
IN_TRACK, OUT_OF_TRACK = 1.6, 0.35
"""Scratches' half widths, and how many there are of the specimen's number: own choice."""

END_PX = 25.0
"""Over which a scratch runs out: own choice."""


def draw_scratches(
    rng: np.random.Generator, stroke: Canvas, pixel_size_um: float, mean_number: float
) -> np.ndarray:  # fmt: skip
    """Return scratches on the picture, (rows, cols) float32 from 0 to about 1."""
    side = stroke.side_px
    drawn = np.zeros(stroke.shape, np.float32)
    for _ in range(rng.poisson(mean_number)):
        place = rng.uniform(0, side)
        length = rng.uniform(0.15, 1.3) * side
        start = rng.uniform(-0.3 * side, side)
        half = np.clip(rng.uniform(*WIDTHS_UM) / pixel_size_um, *WIDTHS_PX)
        left, right = int(max(0, start)), int(min(side, start + length))
        top, bottom = int(max(0, place - 12)), int(min(side, place + 13))
        many = right - left
        if many < 20 or bottom - top < 5:
            continue
        path = place + wander(rng, many, 300) * 1.2
        section = np.exp(-(((np.arange(top, bottom)[:, None] - path[None]) / half) ** 2))
        section = section * np.clip(1 + 0.4 * wander(rng, many, 60), 0, 2)[None]
        ends = np.clip(np.minimum(np.arange(many), np.arange(many)[::-1]) / END_PX, 0, 1)
        there = np.s_[top:bottom, left:right]
        drawn[there] = np.maximum(drawn[there], (section * ends[None] * rng.uniform(0.2, 1)).astype(np.float32))
    return stroke.to_picture(drawn)


def add_scratches(
    rng: np.random.Generator, relief: Relief, depth: np.ndarray, stroke: Canvas, pixel_size_um: float, iron: Iron,
    in_track: bool,
) -> None:  # fmt: skip
    """Scratch the plateau along the stroke, a track more than the rest; depth: of the grooves, (rows, cols) µm."""
    mean_number = iron.scratches * (IN_TRACK if in_track else OUT_OF_TRACK)
    drawn = draw_scratches(rng, stroke, pixel_size_um, mean_number) * (depth < LIMIT_UM)
    relief.heights -= drawn * iron.scratch_um
    relief.brightness *= 1 - 0.08 * drawn
